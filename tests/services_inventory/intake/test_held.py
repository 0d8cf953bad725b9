"""Held rows go back in the uploaded format and can be taken in again; all files constructed."""

from datetime import date

import openpyxl
import pytest
import xlsxwriter

from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import ColumnMap, guess
from services_inventory.intake.held import alike, disarmed, held_name, reasons_by_row, write_held
from services_inventory.intake.reading import open_table
from tests.services_inventory.intake import files
from tests.services_inventory.intake.checks import check, check_all

AS_OF = date(2031, 1, 15)
BAD_ROWS = [
    ["L-1", "12 N Main St", "41.9001", "-91.6001", "unobtainium", "Cu", "19", "tap card"],
    ["L-2", "14 N Main St", "41.9002", "-91.6002", "COPPER", "GALV", "1971", "tap card"],
    ["L-3", "=1+1", "0", "0", "Pb", "", "", ""],
]


def _problems(table):
    checker = RowChecker(guess(table.header), table.header, as_of=AS_OF)
    return [problem for batch in check_all(checker, table.rows()) for problem in batch.problems]


def _held_again(path, folder, number=0):
    """Check a file and write its held rows; the new file and its table."""
    table = open_table(path)
    target = folder / f"{number}-{held_name(table, path.name)}"
    written = write_held(table, reasons_by_row(_problems(table)), target)
    return target, written


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_goes_back_as_it_came(tmp_path, delimiter, encoding):
    rows = [[*BAD_ROWS[0][:1], "12 Cañon Dr", *BAD_ROWS[0][2:]], *BAD_ROWS[1:]]
    path = files.write_csv(tmp_path / "a.csv", rows, encoding=encoding, delimiter=delimiter)
    target, written = _held_again(path, tmp_path)
    table = open_table(target)
    assert written == 2
    assert target.name == "0-a-held.csv"
    assert (table.delimiter, table.encoding) == (delimiter, encoding)
    assert table.header == [*files.HEADER, "row", "reason"]
    first, second = (cells for _, cells in table.rows())
    assert first[:-2] == rows[0]
    assert (first[-2], second[-2]) == ("2", "4")
    assert "'unobtainium'" in first[-1]
    assert "'19' is not a possible year" in first[-1]


def test_held_rows_are_held_again_for_the_same_reasons(tmp_path):
    path = files.write_csv(tmp_path / "a.csv", BAD_ROWS)
    target, _ = _held_again(path, tmp_path)
    before = [(problem.column, problem.sentence) for problem in _problems(open_table(path))]
    after = [(problem.column, problem.sentence) for problem in _problems(open_table(target))]
    assert before == after


def test_a_second_round_does_not_pile_up_columns(tmp_path):
    path = files.write_csv(tmp_path / "a.csv", BAD_ROWS)
    once, _ = _held_again(path, tmp_path)
    twice, written = _held_again(once, tmp_path, 1)
    assert written == 2
    assert open_table(twice).header == [*files.HEADER, "row", "reason"]
    assert [cells[:-2] for _, cells in open_table(twice).rows()] == [
        cells[:-2] for _, cells in open_table(once).rows()
    ]


def test_corrected_rows_are_taken_in(tmp_path):
    target, _ = _held_again(files.write_csv(tmp_path / "a.csv", BAD_ROWS[:2]), tmp_path)
    text = target.read_text().replace("unobtainium", "Pb").replace(",19,", ",1919,")
    target.write_text(text)
    assert _problems(open_table(target)) == []


def test_columns_of_the_upload_with_our_names_stay(tmp_path):
    header = ["location id", "reason", "year installed"]
    path = files.write_csv(tmp_path / "a.csv", [["L-1", "dug up", "19"]], header)
    target, _ = _held_again(path, tmp_path)
    assert open_table(target).header == [*header, "held row", "held reason"]
    assert next(open_table(target).rows())[1][1] == "dug up"
    again, _ = _held_again(target, tmp_path, 1)
    assert open_table(again).header == [*header, "held row", "held reason"]


def test_rows_of_another_width_go_back_and_stay_held(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "location id,address,city\nL-1,12 Main St\nL-2,14 Main St,a,b\nL-3,16 Main St,c\n"
    )
    target, written = _held_again(path, tmp_path)
    assert written == 2
    assert "L-2,14 Main St,a,b,3," in target.read_text()
    again, written = _held_again(target, tmp_path, 1)
    assert written == 2
    assert "L-2,14 Main St,a,b,3," in again.read_text()


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@SUM(A1)", "\t=1", "\r=1", " =1"])
def test_what_a_spreadsheet_would_run_is_disarmed(tmp_path, text):
    """OWASP, CSV Injection: cells that begin with = + - @, tab or carriage return."""
    assert disarmed(text).startswith("'")
    path = files.write_csv(
        tmp_path / "a.csv", [["L-1", text, "19"]], ["location id", "notes", "year installed"]
    )
    target, _ = _held_again(path, tmp_path)
    for _, cells in open_table(target).rows():
        assert cells[1].startswith("'")
    again, _ = _held_again(target, tmp_path, 1)
    assert [cells[1] for _, cells in open_table(again).rows()] == [f"'{text}"]


@pytest.mark.parametrize("text", ["-91.6001", "+5", "-1e3", "12 Main St", "", "'quoted'"])
def test_numbers_and_plain_text_stay_as_they_are(text):
    assert disarmed(text) == text


def test_a_disarmed_text_means_the_same_when_read_again():
    header = ["location id", "notes"]
    checker = RowChecker(guess(header), header, as_of=AS_OF)
    for text in ("-rear of lot", "+ meter pit", "@ curb"):
        found = check(checker, 2, ["L-1", disarmed(text)])
        assert found.values["notes"] == text


def test_a_workbook_goes_back_as_a_workbook(tmp_path):
    rows = [["L-1", "=1+1", 41.9, -91.6, "unobtainium", None, date(1934, 5, 2), "tap card"]]
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path, {"strings_to_formulas": False}) as workbook:
        page = workbook.add_worksheet("Lines")
        page.write_row(0, 0, files.HEADER)
        page.write_row(1, 0, rows[0][:6])
        page.write_datetime(1, 6, rows[0][6], workbook.add_format({"num_format": "m/d/yyyy"}))
        page.write(1, 7, "tap card")
    target, written = _held_again(path, tmp_path)
    assert (target.suffix, written) == (".xlsx", 1)
    table = open_table(target)
    assert (table.kind, table.sheet) == ("XLSX", "Lines")
    assert table.header == [*files.HEADER, "row", "reason"]
    ((_, cells),) = table.rows()
    assert cells[:8] == [
        "L-1",
        "=1+1",
        41.9,
        -91.6,
        "unobtainium",
        "",
        date(1934, 5, 2),
        "tap card",
    ]
    assert openpyxl.load_workbook(target).active["B2"].data_type == "s"


def test_formulas_without_result_and_errors_are_not_lost(tmp_path):
    path = files.write_xlsx(
        tmp_path / "a.xlsx",
        [["L-1", "=A2&B2", "Pb"], ["#N/A", "14 Main St", "Pb"]],
        ["location id", "address", "system side material"],
    )
    target, written = _held_again(path, tmp_path)
    assert written == 2
    first, second = (cells for _, cells in open_table(target).rows())
    assert first[1] == "=A2&B2"
    assert second[0] == "#N/A"
    assert len(_problems(open_table(target))) == 2


def test_layers_give_text(tmp_path):
    path = files.write_layer(tmp_path / "a.gpkg", "GPKG", rows=BAD_ROWS)
    table = open_table(path)
    said = guess(table.header).to_dict()
    said["columns"]["system_material"] = "sys_mat"
    columns = ColumnMap.from_dict(said)
    checker = RowChecker(columns, table.header, as_of=AS_OF)
    problems = [p for batch in check_all(checker, table.rows()) for p in batch.problems]
    target = tmp_path / held_name(table, "lines.gpkg")
    assert target.name == "lines-held.csv"
    assert write_held(table, reasons_by_row(problems), target) == 2
    assert open_table(target).header[-4:] == [
        "geometry latitude",
        "geometry longitude",
        "row",
        "reason",
    ]


def test_one_reason_is_one_whatever_addresses_words_and_days_it_names():
    near = "{} is not in the record, but {} is. Correct the spelling, or decide whether they are."
    day = "Tap Dt: '{}' is {}, which lies after Jan 15, 2031."
    for one, other in (
        (near.format("1 Aldr St", "1 Alder ST"), near.format("104 Coper Rd", "104 W Cooper RD")),
        (day.format("2/1/2031", "Feb 1, 2031"), day.format("12/24/2062", "Dec 24, 2062")),
        ("1-5 Oak is a range of house numbers, and 1 Oak of it is in the record.",
         "20-26 N Elm Rd is a range of house numbers, and 22 N Elm RD of it is in the record."),
    ):  # fmt: skip
        assert alike(one) == alike(other) != one
    assert alike("Year: '19' is not a year.") != alike("Size: '19' is no size.")
