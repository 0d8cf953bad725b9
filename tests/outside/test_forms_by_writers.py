"""One form with an address in parts, written by other libraries: understood alike from each.

The headings are common practice, the values invented; openpyxl, XlsxWriter, pandas, pyarrow and
GDAL (by pyogrio) write the files.
"""

from datetime import date
from itertools import islice

import pytest

from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import guess
from services_inventory.intake.reading import open_table

HEADER = [
    "Tap Number", "House No", "Dir", "Street Name", "St Type", "Public Side Material",
    "Public Side Size", "Date of Verification", "Lead Gooseneck", "Service Line Category",
]  # fmt: skip
ROWS = [
    ["T1", 12, "N", "Alder", "St", "copper", '3/4"', date(2029, 5, 1), "No", "Non-Lead"],
    ["T2", 1400, "", "Mill Creek", "Rd", "lead", "1", date(2029, 5, 2), "Yes", "Lead"],
]


def _openpyxl(path):
    import openpyxl

    book = openpyxl.Workbook()
    for row in (HEADER, *ROWS):
        book.active.append(row)
    book.save(path)


def _xlsxwriter(path):
    import xlsxwriter

    with xlsxwriter.Workbook(path, {"default_date_format": "mm/dd/yy"}) as book:
        page = book.add_worksheet("Lines")
        for at, row in enumerate((HEADER, *ROWS)):
            page.write_row(at, 0, row)


def _frame():
    import pandas

    return pandas.DataFrame(ROWS, columns=HEADER)


def _pandas_workbook(path):
    _frame().to_excel(path, index=False)


def _pandas_csv(path):
    _frame().to_csv(path, index=False)


def _pandas_parquet(path):
    _frame().to_parquet(path)


def _pyarrow(path):
    import pyarrow
    from pyarrow import parquet

    columns = dict(zip(HEADER, map(list, zip(*ROWS, strict=True)), strict=True))
    parquet.write_table(pyarrow.table(columns), path)


def _gdal(path):
    import geopandas
    from shapely import Point

    places = [Point(-100.3, 41.5), Point(-100.31, 41.51)]
    frame = geopandas.GeoDataFrame(_frame(), geometry=places, crs=4326)
    frame.to_file(path, engine="pyogrio")


WRITERS = [
    (_openpyxl, "a.xlsx"), (_xlsxwriter, "b.xlsx"), (_pandas_workbook, "c.xlsx"),
    (_pandas_csv, "d.csv"), (_pandas_parquet, "e.parquet"), (_pyarrow, "f.parquet"),
    (_gdal, "g.gpkg"), (_gdal, "h.geojson"),
]  # fmt: skip


@pytest.mark.parametrize(("write", "name"), WRITERS, ids=[name for _, name in WRITERS])
def test_a_form_is_understood_alike_whoever_wrote_it(write, name, tmp_path):
    write(tmp_path / name)
    table = open_table(tmp_path / name)
    rows = list(islice(table.rows(), 10))
    columns = guess(table.header, [cells for _, cells in rows])
    found = RowChecker(columns, table.header, as_of=date(2030, 1, 1)).check_many(rows)
    assert not found.problems and not found.notes
    said = {name: column for name, column in found.columns.items() if name != "normal_address"}
    wanted = {
        "location_id": ["T1", "T2"],
        "address": ["12 N Alder St", "1400 Mill Creek Rd"],
        "system_material": ["COPPER", "LEAD"],
        "system_diameter_in": [0.75, 1.0],
        "system_observed_on": [date(2029, 5, 1), date(2029, 5, 2)],
        "connector_material": ["NON_LEAD", "LEAD"],
        "category": ["NON_LEAD", "LEAD"],
    }
    assert {field: said[field] for field in wanted} == wanted
