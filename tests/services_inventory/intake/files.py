"""Files to take in, good ones and bad ones; all of them constructed."""

import csv
import io
import json
import sqlite3
import struct
import zipfile
from pathlib import Path

HEADER = [
    "location id",
    "address",
    "latitude",
    "longitude",
    "system side material",
    "customer side material",
    "year installed",
    "source",
]
ROWS = [
    ["L-1", "12 N Main St", "41.9001", "-91.6001", "Pb", "Cu", "1934", "tap card"],
    ["L-2", "14 N Main St", "41.9002", "-91.6002", "COPPER", "GALV", "1971", "tap card"],
    ["L-3", "16 N Main St Apt 2", "41.9003", "-91.6003", "unk", "", "", ""],
]
POINTS = [(-91.6001, 41.9001), (-91.6002, 41.9002), (-91.6003, 41.9003)]


def write_csv(
    path: Path, rows=ROWS, header=HEADER, *, encoding="utf-8", delimiter=",", above=""
) -> Path:
    """A text file of separated columns."""
    text = io.StringIO(newline="")
    text.write(above)
    writer = csv.writer(text, delimiter=delimiter)
    writer.writerow(header)
    writer.writerows(rows)
    path.write_bytes(text.getvalue().encode(encoding))
    return path


def write_xlsx(
    path: Path, rows=ROWS, header=HEADER, *, sheet="Lines", others=(), title=None
) -> Path:
    """A workbook; `others` are the names of empty sheets before the one that counts."""
    import openpyxl

    workbook = openpyxl.Workbook()
    workbook.remove(workbook.active)
    for name in others:
        workbook.create_sheet(name)
    page = workbook.create_sheet(sheet)
    if title:
        page.append([title])
        page.append([])
    page.append(header)
    for row in rows:
        page.append(row)
    workbook.save(path)
    return path


def write_layer(path: Path, driver: str, *, crs="EPSG:4326", rows=ROWS, points=POINTS, **options):
    """A layer of points in any coordinate reference system (None: none)."""
    import geopandas
    from shapely import Point

    frame = geopandas.GeoDataFrame(
        [row[:2] + row[4:6] for row in rows],
        columns=["loc_id", "address", "sys_mat", "cust_mat"],
        geometry=[point and Point(point) for point in points],
        crs="EPSG:4326",
    )
    frame = frame.to_crs(crs) if crs else frame.set_crs(None, allow_override=True)
    if driver == "Parquet":
        frame.to_parquet(path)
    else:
        frame.to_file(path, driver=driver, **options)
    return path


def write_zipped_shapefile(path: Path, *, crs="EPSG:4326", leave_out=(), names=("lines",)) -> Path:
    """A zipped Shapefile, without the members whose endings are left out."""
    folder = path.with_suffix("")
    folder.mkdir()
    for name in names:
        write_layer(folder / f"{name}.shp", "ESRI Shapefile", crs=crs)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for member in sorted(folder.iterdir()):
            if member.suffix not in leave_out:
                archive.write(member, member.name)
    return path


def write_bomb(path: Path) -> Path:
    """A small archive that names itself a workbook and unpacks to 300 MB of zeros."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<workbook/>")
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            for _ in range(300):
                sheet.write(bytes(1 << 20))
    return path


def write_many_entries(path: Path) -> Path:
    """An archive of more files than any workbook has."""
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(5_001):
            archive.writestr(f"xl/part{number}.xml", "")
    return path


def write_encrypted_workbook(path: Path) -> Path:
    """The head of a password-protected workbook: a compound file with an EncryptedPackage."""
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1016)
    path.write_bytes(head + "EncryptedPackage".encode("utf-16-le") + bytes(2048))
    return path


def write_sqlite(path: Path) -> Path:
    """A SQLite database that is no GeoPackage."""
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE lines (id)")
    return path


def write_png(path: Path) -> Path:
    """The start of a picture."""
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I4sIIBBBBB", 13, b"IHDR", 1, 1, 8, 2, 0, 0, 0)
    )
    return path


def write_geojson(path: Path, features: list[dict], **more) -> Path:
    """A GeoJSON feature collection."""
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features, **more}))
    return path
