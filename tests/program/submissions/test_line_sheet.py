"""A sheet written row by row as text is the one that the library writes cell by cell."""

import zipfile
from datetime import date

import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from program.submissions.line_sheet import LineSheet, line_writer, number_tail, text_tail

DAYS = st.dates(date(1900, 1, 1), date(2200, 1, 1))
NUMBERS = st.integers(-(10**15), 10**15) | st.floats(allow_nan=False, allow_infinity=False)
TEXTS = st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=12) | st.sampled_from(
    ["_x0041_", " kept", "kept ", "a & b < c > d", '"quoted"', "x_x005F_", "\u00a0", "12-14 1/2"]
)
ROWS = st.lists(st.tuples(TEXTS, NUMBERS, DAYS, st.none() | TEXTS), max_size=6)


def sheet_xml(path, rows, by_row: bool) -> bytes:
    book = xlsxwriter.Workbook(str(path), {"constant_memory": True})
    heading, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
    sheet = book.add_worksheet("Lines", LineSheet if by_row else None)
    for col in range(4):
        sheet.write_string(0, col, f"Heading {col}", heading)
    if by_row:
        tails = (lambda value, _row: text_tail(value)), number_tail, sheet.days(day)
        plan = [
            (letter, at, tail) for at, (letter, tail) in enumerate(zip("ABC", tails, strict=True))
        ]
        write = line_writer(sheet, [*plan, ("D", 3, tails[0])])
        for at, row in enumerate(rows, start=1):
            write(at, row)
    else:
        for at, row in enumerate(rows, start=1):
            for col, value in enumerate(row):
                if isinstance(value, str) and value:
                    sheet.write_string(at, col, value)
                elif isinstance(value, date):
                    sheet.write_datetime(at, col, value, day)
                elif value is not None and value != "":
                    sheet.write_number(at, col, value)
    book.close()
    with zipfile.ZipFile(path) as archive:
        return archive.read("xl/worksheets/sheet1.xml")


@settings(max_examples=60, deadline=None)
@given(ROWS)
def test_both_ways_give_the_same_bytes(tmp_path_factory, rows):
    folder = tmp_path_factory.mktemp("sheets")
    one = sheet_xml(folder / "one.xlsx", rows, by_row=True)
    assert one == sheet_xml(folder / "two.xlsx", rows, by_row=False)
