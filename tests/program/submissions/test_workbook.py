"""The finished workbook, opened as its readers open it."""

from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from program.submissions.layouts import STANDARD, LayoutError, shipped_layouts
from program.submissions.lists import Lists
from program.submissions.tables import SHEETS
from program.submissions.workbook import write_workbook

from .factories import VALUES, facts, line, lists, town


@pytest.fixture
def filed(tmp_path):
    rows = town()
    return write_workbook(tmp_path / "out.xlsx", facts(*rows), lists(*rows))


@pytest.fixture
def book(filed):
    return openpyxl.load_workbook(filed.path)


def summary(book):
    return {row[0].value: row[2].value for row in book["Summary"].iter_rows() if row[0].value}


class TestWhatItHolds:
    def test_the_summary_comes_first_and_the_notes_last(self, book):
        assert book.sheetnames[0] == "Summary"
        assert book.sheetnames[1] == "Recount by hand"
        assert book.sheetnames[-1] == "Notes"

    def test_says_every_total_of_sheet_a_and_every_item_of_sheet_b(self, book):
        said = summary(book)
        assert {f"A{n}" for n in range(1, 12)} <= said.keys()
        items = {code.rstrip("abc") for code in said if str(code).startswith("B")}
        assert items == {f"B{n}" for n in range(1, 16)}

    def test_who_when_and_by_which_day_stand_at_the_top(self, book):
        top = {row[1]: row[2] for row in book["Summary"].iter_rows(max_row=9, values_only=True)}
        # 40 CFR 141.90(e), as known: PWSID, system, population, report date, program year.
        assert top["PWSID"] == "ZZ0000001"
        assert top["Population served"] == 31_000
        assert top["As of"] == datetime(2031, 1, 15)
        assert top["Report date"] == datetime(2031, 1, 20)
        assert top["Program year"] == 3

    def test_a_long_sentence_is_whole_and_wraps_over_the_columns_beside_it(self, tmp_path):
        rows, question = town(), "A long question. " * 30
        path = write_workbook(
            tmp_path / "o.xlsx", facts(*rows, open_questions=(question,)), lists(*rows)
        ).path
        sheet = openpyxl.load_workbook(path)["Summary"]
        (at,) = [cell for row in sheet.iter_rows() for cell in row if cell.value == question]
        assert at.coordinate + f":F{at.row}" in {str(merged) for merged in sheet.merged_cells}
        assert at.alignment.wrap_text and sheet.row_dimensions[at.row].height > 60

    def test_rows_written_are_counted_by_list(self, filed):
        assert filed.rows == {
            "replacements": 20,
            "partials": 3,
            "refusals": 2,
            "changes": 5,
            "notices": 0,
            "non_lead_bases": 0,
            "set_aside": 0,
            "values": 3,
            "lines": 60,
        }

    def test_rates_stand_with_their_exact_fraction(self, book):
        row = next(r for r in book["Summary"].iter_rows(values_only=True) if r[0] == "B10")
        assert row[2] == 0.006666  # cut off: 0.0067 would look like more than was done
        assert (row[3], row[4]) == (1, 150)

    def test_a_value_nobody_has_confirmed_is_named_on_the_first_sheet(self, book):
        cells = [c for row in book["Summary"].iter_rows(values_only=True) for c in row]
        assert "DEADLINE = 2037-12-31 date (memory)" in cells
        assert not any("POOL_BASIS" in str(cell) for cell in cells)
        assert [v.settled for v in VALUES] == [True, False, True]

    def test_says_how_each_total_is_counted(self, book):
        how = {row[0].value: row[5].value for row in book["Summary"].iter_rows()}
        assert how["A1"] == "Rows of 'Service lines' where 'Category' is LEAD."
        assert how["A5"] == "Rows of 'Service lines'."
        assert "'Program year' is 3" in how["A8"]

    def test_a_total_without_a_value_is_refused(self):
        given = facts()
        with pytest.raises(ValueError, match="no value for A7"):
            facts(totals={k: v for k, v in given.totals.items() if k != "A7"})


class TestCells:
    def test_numbers_dates_and_text_have_their_own_types(self, book):
        sheet = book["Service lines"]
        head = [cell.value for cell in sheet[1]]
        row = dict(zip(head, sheet[2], strict=True))
        assert row["Latitude"].value == pytest.approx(40.0001)
        assert row["Latitude"].data_type == "n"
        assert row["Installed"].value == 1954
        assert row["Category since"].value == datetime(2029, 5, 4)
        assert row["Category since"].is_date
        assert row["Location id"].data_type == "s" or row["Location id"].data_type == "inlineStr"
        assert row["Customer side seen on"].value is None

    def test_headings_stay_in_view_and_can_be_filtered(self, book):
        sheet = book["Service lines"]
        assert sheet.freeze_panes == "A2"
        assert sheet.auto_filter.ref == "A1:AC61"
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage

    def test_columns_and_totals_are_named_ranges(self, book):
        names = book.defined_names
        assert names["lines_category"].attr_text == "'Service lines'!$F$2:$F$61"
        sheet, cell = names["total_A1"].attr_text.split("!")
        assert book[sheet][cell.replace("$", "")].value == summary(book)["A1"]

    def test_the_recount_is_a_live_formula_that_claims_nothing_beforehand(self, filed, book):
        assert book["Recount by hand"]["D3"].value == '=COUNTIFS(lines_category,"LEAD")'
        cached = openpyxl.load_workbook(filed.path, data_only=True)
        assert cached["Recount by hand"]["D3"].value in (None, "")
        assert cached["Recount by hand"]["C3"].value == 12


class TestAwkwardText:
    @pytest.mark.parametrize(
        "text",
        [
            '=HYPERLINK("http://example.invalid","x")',
            "+1+1",
            "-2",
            "@SUM(A1)",
            "http://example.invalid/",
            "007",
            "1.0E5",
            "{=1+1}",
            "  spaces kept  ",
            "<b>&amp;</b>",
            "12 Élan Straße, Ω 🚰",
            "x" * 300,
        ],
    )
    def test_is_written_as_the_text_it_is(self, tmp_path, text):
        lines = [line(1, address=text)]
        filed = write_workbook(tmp_path / "out.xlsx", facts(lines), lists(lines))
        cell = openpyxl.load_workbook(filed.path)["Service lines"]["B2"]
        assert cell.value == text
        assert cell.data_type != "f"
        assert cell.hyperlink is None

    def test_control_characters_go_and_a_note_says_where(self, tmp_path):
        lines = [line(1), line(2, address="7\x00 Main\x1b St\ud800"), line(3, address="8 A\r\nB")]
        filed = write_workbook(tmp_path / "out.xlsx", facts(lines), lists(lines))
        book = openpyxl.load_workbook(filed.path)
        assert book["Service lines"]["B3"].value == "7 Main St"
        assert book["Service lines"]["B4"].value == "8 A B"
        said = "Service lines row 3, Address: 3 control characters were left out."
        assert filed.notes[0] == said
        assert book["Notes"]["A2"].value == said

    def test_text_longer_than_a_cell_is_cut_and_noted(self, tmp_path):
        lines = [line(1, reason="y" * 40_000)]
        filed = write_workbook(tmp_path / "out.xlsx", facts(lines), lists(lines))
        cell = openpyxl.load_workbook(filed.path)["Service lines"]["G2"]
        assert len(cell.value) == 32_767
        assert "cut after 32767 of 40000 characters" in filed.notes[0]

    def test_a_system_name_cannot_break_the_page_header(self, tmp_path):
        given = facts(system_name="A&D Water\x07 & Sons" + "z" * 300)
        filed = write_workbook(tmp_path / "out.xlsx", given, lists())
        sheet = openpyxl.load_workbook(filed.path)["Summary"]
        assert sheet["C3"].value.startswith("A&D Water & Sons")
        assert sheet.oddHeader.left.text.startswith("A&&D Water && Sons")


class TestFiling:
    def test_the_same_input_gives_the_same_bytes(self, tmp_path):
        rows = town()
        one = write_workbook(tmp_path / "a" / "out.xlsx", facts(*rows), lists(*rows))
        two = write_workbook(tmp_path / "b" / "out.xlsx", facts(*rows), lists(*rows))
        assert one.sha256 == two.sha256
        assert one.path.read_bytes() == two.path.read_bytes()

    def test_one_changed_cell_gives_another_hash(self, tmp_path):
        rows = town()
        one = write_workbook(tmp_path / "a.xlsx", facts(*rows), lists(*rows))
        rows[0][5] = rows[0][5]._replace(document="D-9")
        assert write_workbook(tmp_path / "b.xlsx", facts(*rows), lists(*rows)).sha256 != one.sha256

    def test_a_list_that_breaks_off_leaves_the_filed_file_and_no_remains(self, tmp_path):
        rows = town()
        one = write_workbook(tmp_path / "out.xlsx", facts(*rows), lists(*rows))

        def breaks():
            yield line(1)
            raise OSError("the database went away")

        with pytest.raises(OSError, match="went away"):
            write_workbook(one.path, facts(*rows), Lists(lines=breaks))
        assert [p.name for p in tmp_path.iterdir()] == ["out.xlsx"]
        assert one.path.stat().st_size == one.size

    def test_progress_ends_at_the_number_of_lines(self, tmp_path):
        heard = []
        lines = [line(n) for n in range(1, 26)]
        write_workbook(
            tmp_path / "out.xlsx",
            facts(lines),
            lists(lines),
            report=lambda done, total: heard.append((done, total)),
            rows_per_sheet=10,
        )
        assert heard == [(10, 25), (20, 25), (25, 25)]

    def test_an_empty_inventory_is_still_a_whole_workbook(self, tmp_path):
        filed = write_workbook(tmp_path / "out.xlsx", facts(), lists())
        assert openpyxl.load_workbook(filed.path)["Service lines"].max_row == 1


class TestLongLists:
    @pytest.mark.parametrize(("count", "sheets"), [(9, 1), (10, 1), (11, 2), (25, 3)])
    def test_are_split_by_sheet_with_headings_on_each(self, tmp_path, count, sheets):
        lines = [line(n, category="LEAD") for n in range(1, count + 1)]
        filed = write_workbook(tmp_path / "out.xlsx", facts(lines), lists(lines), rows_per_sheet=10)
        book = openpyxl.load_workbook(filed.path)
        parts = [book[name] for name in book.sheetnames if name.startswith("Service lines")]
        assert len(parts) == sheets
        ids = [row[0] for part in parts for row in part.iter_rows(min_row=2, values_only=True)]
        assert ids == [row.location_id for row in lines]
        assert {part["A1"].value for part in parts} == {"Location id"}
        formula = book["Recount by hand"]["D3"].value
        assert formula.count("COUNTIFS") == sheets


class TestLayout:
    def test_gives_sheet_name_order_headings_and_words(self, tmp_path):
        layout = next(one for one in shipped_layouts() if one.id == "letter_codes")
        rows = town()
        filed = write_workbook(tmp_path / "out.xlsx", facts(*rows), lists(*rows), layout=layout)
        book = openpyxl.load_workbook(filed.path)
        head = [cell.value for cell in book["INV"][1]]
        assert head[:4] == ["LINE_ID", "CAT", "CONN", "SYS_MAT"]
        assert [c.value for c in book["INV"][2]][:4] == ["L00001", "G", "N", "CU"]
        assert book["Recount by hand"]["D3"].value == '=COUNTIFS(lines_category,"P")'
        how = {row[0].value: row[5].value for row in book["Summary"].iter_rows()}
        assert how["A1"] == "Rows of 'INV' where 'CAT' is P."

    def test_a_code_without_a_word_stops_the_file(self, tmp_path):
        layout = next(one for one in shipped_layouts() if one.id == "letter_codes")
        with pytest.raises(LayoutError, match="INV row 2: the layout has no word .*'TIN'"):
            write_workbook(
                tmp_path / "out.xlsx",
                facts([line(1)]),
                lists([line(1, system_material="TIN")]),
                layout=layout,
            )
        assert list(Path(tmp_path).iterdir()) == []

    def test_every_sheet_has_one_column_for_each_field_of_its_row(self):
        for sheet in SHEETS.values():
            assert tuple(column.key for column in sheet.columns) == sheet.row._fields
            assert STANDARD.positions(sheet.key) == tuple(range(len(sheet.columns)))
