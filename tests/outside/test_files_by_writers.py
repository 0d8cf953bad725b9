"""Files as other programs write them: each reader against each writer, and five dialects.

Outside: openpyxl, XlsxWriter, pandas, pyarrow, GDAL (by pyogrio) and, where it is installed,
LibreOffice. The rows are invented; the headings and codes of the dialects are common practice, no
source.
"""

import shutil
import subprocess
import zipfile
from datetime import date

import geopandas
import openpyxl
import pandas
import pyarrow
import pytest
import xlsxwriter
from pyarrow import csv, parquet

from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import guess
from services_inventory.intake.reading import open_table

DAY = date(2030, 6, 1)
FRAME = pandas.DataFrame(
    {
        "location id": ["00017", "A-2", "A-3"],
        "address": ["12 Alder St", '14 "Old" Alder St, Rear', "16 Café Ct"],
        "system side material": ["copper", "lead", None],
        "year installed": [1994, 1921, 1950],
        "diameter": [0.75, 1.0, 0.625],
        "longitude": [-100.30012, -100.30034, -100.30056],
        "latitude": [41.50011, 41.50022, 41.50033],
    }
)
WANTED = [
    {"location_id": row["location id"], "address": row["address"],
     "system_material": {"copper": "COPPER", "lead": "LEAD"}.get(row["system side material"], ""),
     "system_installed_year": row["year installed"], "system_diameter_in": row["diameter"],
     "latitude": row["latitude"], "longitude": row["longitude"]}
    for row in FRAME.to_dict("records")
]  # fmt: skip


def _rows() -> list[list]:
    return [list(FRAME.columns), *FRAME.astype(object).where(FRAME.notna(), None).values.tolist()]


def _openpyxl(path):
    book = openpyxl.Workbook()
    for row in _rows():
        book.active.append(row)
    book.save(path)


def _xlsxwriter(path):
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet()
        for at, row in enumerate(_rows()):
            page.write_row(at, 0, row)


def _gdal(path, driver):
    points = geopandas.points_from_xy(FRAME["longitude"], FRAME["latitude"], crs=4326)
    shapes = geopandas.GeoDataFrame(FRAME.drop(columns=["longitude", "latitude"]), geometry=points)
    if driver != "ESRI Shapefile":
        shapes.to_file(path, driver=driver, engine="pyogrio")
        return
    short = {"system side material": "sys_matl", "location id": "loc_id",
             "year installed": "install_yr"}  # fmt: skip
    shapes.rename(columns=short).to_file(path.with_suffix(".shp"), driver=driver, engine="pyogrio")
    with zipfile.ZipFile(path, "w") as packed:
        for part in path.parent.glob(f"{path.stem}.*"):
            if part != path:
                packed.write(part, part.name)


def _libreoffice(path):
    office = shutil.which("soffice") or pytest.skip("LibreOffice is not installed here")
    FRAME.to_csv(path.with_suffix(".csv"), index=False)
    subprocess.run(
        [office, "--headless", "--infilter=CSV:44,34,76", "--convert-to", "xlsx", "--outdir",
         path.parent, path.with_suffix(".csv")],  # 76 is UTF-8
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip


WRITERS = {
    "openpyxl.xlsx": _openpyxl,
    "xlsxwriter.xlsx": _xlsxwriter,
    "pandas.xlsx": lambda path: FRAME.to_excel(path, index=False),
    "pandas.csv": lambda path: FRAME.to_csv(path, index=False),
    "pandas.parquet": lambda path: FRAME.to_parquet(path, index=False),
    "pyarrow.csv": lambda path: csv.write_csv(pyarrow.Table.from_pandas(FRAME), path),
    "pyarrow.parquet": lambda path: parquet.write_table(pyarrow.Table.from_pandas(FRAME), path),
    "gdal.gpkg": lambda path: _gdal(path, "GPKG"),
    "gdal.geojson": lambda path: _gdal(path, "GeoJSON"),
    "gdal.zip": lambda path: _gdal(path, "ESRI Shapefile"),
    "office.xlsx": _libreoffice,
}


def _understood(table) -> list[dict]:
    """Return what each row says once the columns were guessed, nobody having corrected any."""
    checker = RowChecker(guess(table.header), table.header, as_of=DAY)
    found = checker.check_many(list(table.rows()))
    assert not found.problems, found.problems
    names = found.columns.keys()
    return [dict(zip(names, row, strict=True)) for row in zip(*found.columns.values(), strict=True)]


@pytest.mark.parametrize("name", WRITERS)
def test_the_same_rows_are_understood_whoever_wrote_the_file(tmp_path, name):
    path = tmp_path / name
    WRITERS[name](path)
    found = _understood(open_table(path))
    assert len(found) == len(WANTED)
    for row, wanted in zip(found, WANTED, strict=True):
        if name == "office.xlsx":  # it reads 00017 as the number 17, as spreadsheets do
            wanted = wanted | {"location_id": wanted["location_id"].lstrip("0")}
        assert {key: row.get(key, "") for key in wanted} == pytest.approx(wanted), name


DIALECTS = {
    "billing": (
        "Acct No,Service Addr,Bldg Type,Util Side Matl,Cust Side Matl,Verification Method",
        "88-1,12 Alder St,SF,CU,GALV,tap card",
        {"location_id": "88-1", "address": "12 Alder St", "premise_kind": "SINGLE_FAMILY",
         "system_material": "COPPER", "customer_material": "GALVANIZED",
         "system_basis": "RECORD_TAP_CARD"},
    ),
    "gis": (
        "FACILITYID,FULLADDR,SYS_MATL,PRV_MATL,INSTALL_DT,DIAM,MAT_SRC,LAT,LON",
        'S-1,12 Alder St,CU,PEX,1994-05-02,"3/4""",installation record,41.5,-100.3',
        {"location_id": "S-1", "system_material": "COPPER", "customer_material": "PLASTIC",
         "system_installed_on": date(1994, 5, 2), "system_diameter_in": 0.75,
         "customer_basis": "RECORD_INSTALLATION", "latitude": 41.5, "longitude": -100.3},
    ),
    "tap cards": (
        "Tap No,House No,Dir,Street,Sfx,Tap Date,Main Side,Curb to Bldg,How Known,Remarks",
        "T7,12,N,ALDER,ST,3/4/1926,LEAD,COP,tap card,relaid",
        {"location_id": "T7", "address": "12 N ALDER ST", "system_material": "LEAD",
         "customer_material": "COPPER", "system_installed_on": date(1926, 3, 4),
         "customer_basis": "RECORD_TAP_CARD", "notes": "relaid"},
    ),
    "meters": (
        "Premise ID,Street Address,Coordinates,Size,Private Side Material,Verified By",
        'P-3,12 Alder St,"41.5, -100.3","1""",brass,visual inspection',
        {"location_id": "P-3", "latitude": 41.5, "customer_diameter_in": 1.0,
         "customer_material": "BRASS", "customer_basis": "VISUAL_INSPECTION"},
    ),
    "a form": (
        "Unique Service Line ID,Street Address,Public Side Material,Was Public Side Ever Lead,"
        "Owner Side Material,Is there a lead connector?,Point of Use Treatment",
        "F-9,12 Alder St,Non-lead - Copper,Yes,Galvanized,Don't Know,No",
        {"location_id": "F-9", "system_material": "COPPER", "system_former_material": "LEAD",
         "customer_material": "GALVANIZED", "connector_material": "UNKNOWN", "treatment": "NONE"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", DIALECTS)
def test_a_dialect_is_understood_without_a_hand(tmp_path, name):
    header, row, wanted = DIALECTS[name]
    path = tmp_path / "file.csv"
    path.write_text(f"{header}\n{row}\n")
    table = open_table(path)
    chosen = {column.heading for column in guess(table.header).columns}
    made = {h for way in guess(table.header).made.values() for h in way.get("join", ())}
    assert set(table.header) <= chosen | made
    (found,) = _understood(table)
    assert {key: found.get(key) for key in wanted} == wanted
