"""The submission's workbook as readers other than our own find it.

Outside: openpyxl, python-calamine (two readers with no code in common) and, where it is
installed, LibreOffice.
"""

import shutil
import subprocess
from datetime import date, datetime

import openpyxl
import pytest
from openpyxl.utils.escape import unescape
from python_calamine import CalamineWorkbook

from program.submissions.sheet_stream import stream_rows
from program.submissions.workbook import write_workbook
from tests.program.submissions.factories import facts, line, lists, town


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    lines, *rest = town()
    lines[0] = lines[0]._replace(address="=1+1", reason="Élan 🚰 <&>")
    lines[1] = lines[1]._replace(address="x" * 300, citation="  spaced  ")
    folder = tmp_path_factory.mktemp("workbook")
    return write_workbook(
        folder / "out.xlsx", facts(lines, *rest), lists(lines, *rest), rows_per_sheet=45
    ).path


def plain(value):
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, bool) or not isinstance(value, int | float):
        return unescape(value) if isinstance(value, str) else value
    return float(value)


def openpyxl_cells(path):
    book = openpyxl.load_workbook(path, data_only=True)
    return {s.title: {k: plain(c.value) for k, c in s._cells.items()} for s in book.worksheets}


def calamine_cells(path):
    book = CalamineWorkbook.from_path(str(path))
    cells = {}
    for name in book.sheet_names:
        sheet = book.get_sheet_by_name(name)
        cells[name] = {
            (r, c): plain(value)
            for r, row in enumerate(sheet.to_python(skip_empty_area=False), start=1)
            for c, value in enumerate(row, start=1)
        }
    return cells


def test_openpyxl_and_calamine_find_the_same_cells(path):
    ours, theirs = openpyxl_cells(path), calamine_cells(path)
    assert list(ours) == list(theirs)
    for name, cells in ours.items():
        filled = {at: v for at, v in cells.items() if v != ""}
        other = {at: v for at, v in theirs[name].items() if v != ""}
        assert filled == other, name
    assert sum(len(cells) for cells in ours.values()) > 1_500


def test_the_streamed_rows_are_the_ones_openpyxl_finds(path):
    sheet = openpyxl.load_workbook(path)["Service lines"]
    heads = [cell.value for cell in sheet[1]]
    found = list(stream_rows(path, "Service lines", heads))
    assert len(found) == 45
    for number, row in enumerate(found, start=2):
        for value, cell in zip(row, sheet[number], strict=True):
            expected = plain(cell.value)
            if isinstance(expected, date):
                expected = float((expected - date(1899, 12, 30)).days)
            assert value == expected


def test_the_streamed_rows_survive_a_save_by_another_program(path, tmp_path):
    # openpyxl saves text in a shared table, not in the cells: another form of the same sheet.
    openpyxl.load_workbook(path).save(tmp_path / "again.xlsx")
    heads = ("Location id", "Category", "Reason", "Latitude")
    again = list(stream_rows(tmp_path / "again.xlsx", "Service lines", heads))
    assert again == list(stream_rows(path, "Service lines", heads))


@pytest.mark.skipif(not shutil.which("soffice"), reason="LibreOffice is not installed")
def test_libreoffice_opens_it_and_finds_the_same_totals(path, tmp_path):
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{tmp_path}/profile",
         "--convert-to", "xlsx", "--outdir", str(tmp_path / "saved"), str(path)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    (saved,) = (tmp_path / "saved").glob("*.xlsx")
    ours = openpyxl.load_workbook(path, data_only=True)
    theirs = openpyxl.load_workbook(saved, data_only=True)
    assert theirs.sheetnames == ours.sheetnames
    assert set(theirs.defined_names) == set(ours.defined_names)
    for sheet in ours.worksheets:
        saved_sheet = theirs[sheet.title]
        assert saved_sheet.auto_filter.ref == sheet.auto_filter.ref
        assert saved_sheet.print_title_rows == sheet.print_title_rows
        if sheet.title != "Recount by hand":
            assert _filled(saved_sheet) == _filled(sheet), sheet.title
    rows = list(theirs["Recount by hand"].iter_rows(min_row=3, max_col=4, values_only=True))
    # Lines and connectors 8, work 8, connectors replaced 6, the replacement report 9.
    assert len(rows) == 8 + 8 + 6 + 9
    for code, _heading, stated, recounted in rows:
        # Whether it recalculates on loading is a setting of the reader; what it works out agrees.
        assert recounted in (stated, None, ""), code


def _filled(sheet) -> dict:
    cells = {at: plain(cell.value) for at, cell in sheet._cells.items()}
    return {
        at: pytest.approx(value) if isinstance(value, float) else value
        for at, value in cells.items()
        if value != ""
    }


def test_text_that_looks_like_an_escape_is_kept(tmp_path):
    # ISO/IEC 29500-1, 22.9.2.19: "_x0041_" in a cell's text stands for "A" unless escaped itself.
    lines = [line(1, document="_x0041_")]
    path = write_workbook(tmp_path / "o.xlsx", facts(lines), lists(lines)).path
    assert list(stream_rows(path, "Service lines", ["Document"])) == [("_x0041_",)]
    sheet = openpyxl.load_workbook(path)["Service lines"]
    (place,) = [head.column for head in sheet[1] if head.value == "Document"]
    cell = sheet.cell(2, place)
    assert unescape(cell.value) == "_x0041_"


def test_an_emoji_and_a_formula_are_plain_text_to_calamine(tmp_path):
    lines = [line(1, address="=cmd|' /C calc'!A0"), line(2, address="🚰")]
    path = write_workbook(tmp_path / "o.xlsx", facts(lines), lists(lines)).path
    rows = CalamineWorkbook.from_path(str(path)).get_sheet_by_name("Service lines").to_python()
    assert [row[1] for row in rows[1:]] == ["=cmd|' /C calc'!A0", "🚰"]
