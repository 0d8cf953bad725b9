"""Telling a file's kind from its first bytes."""

import zipfile
from pathlib import Path

from services_inventory.domain.labels import Labeled
from services_inventory.intake.reading.table import UnreadableFile

MOST_ENTRIES = 5_000
MOST_UNPACKED_BYTES = 6 * 1024**3
MOST_RATIO = 200
RATIO_COUNTS_FROM_BYTES = 50 * 1024**2
GEOPACKAGE_IDS = (b"GPKG", b"GP10", b"GP11")

# The first bytes of files that are sometimes uploaded by mistake.
OTHER_KINDS = (
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"II*\x00", "a picture (TIFF)"),
    (b"MM\x00*", "a picture (TIFF)"),
    (b"BM", "a picture (BMP)"),
    (b"%PDF", "a PDF document"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7-Zip archive"),
    (b"Rar!", "a RAR archive"),
    (b"{\\rtf", "a rich text document"),
    (b"MZ", "a Windows program"),
    (b"\x7fELF", "a program"),
    (b"\x00\x00\x27\x0a", "a bare .shp file: zip it together with its .dbf, .shx and .prj"),
)
WANTED = (
    "Upload a CSV file, an Excel workbook (.xlsx), a GeoPackage, a GeoJSON file, "
    "a zipped Shapefile or a Parquet file."
)


class FileKind(Labeled):
    """The kinds of file that are read."""

    CSV = "CSV", "text (CSV)"
    XLSX = "XLSX", "workbook"
    GEOPACKAGE = "GEOPACKAGE", "GeoPackage"
    GEOJSON = "GEOJSON", "GeoJSON"
    SHAPEFILE = "SHAPEFILE", "Shapefile"
    PARQUET = "PARQUET", "Parquet"


def kind_of(path: Path) -> FileKind:
    """The kind of a file by its content.

    Raises `UnreadableFile` for an empty file and for everything that is no table.
    """
    with path.open("rb") as file:
        start = file.read(4096)
    if not start.strip(b"\x00\xef\xbb\xbf\xff\xfe \t\r\n"):
        raise UnreadableFile("The file is empty. Export it again and check that rows are in it.")
    if start.startswith(b"PK"):
        return _kind_of_zip(path)
    if start.startswith(b"SQLite format 3\x00"):
        return _kind_of_sqlite(start)
    if start.startswith(b"PAR1"):
        return FileKind.PARQUET
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        raise UnreadableFile(_ole_sentence(path))
    for magic, what in OTHER_KINDS:
        if start.startswith(magic) and not (len(magic) == 2 and start.isascii() and b"," in start):
            raise UnreadableFile(f"The file is {what}, not a table. {WANTED}")
    return _kind_of_text(start)


def _kind_of_text(start: bytes) -> FileKind:
    text = start.lstrip(b"\xef\xbb\xbf \t\r\n")
    if text.startswith(b"{"):
        if b'"type"' in text and (b"Feature" in text or b"Geometry" in text):
            return FileKind.GEOJSON
        raise UnreadableFile(f"The file is JSON, but no GeoJSON feature collection. {WANTED}")
    if text.startswith(b"["):
        raise UnreadableFile(f"The file is a JSON list, not a table. {WANTED}")
    if text.startswith(b"<"):
        what = "XML"
        if b"<html" in text.lower() or b"<table" in text.lower() or b"<!doctype" in text.lower():
            what = "a web page (HTML), as some systems export under the name .xls or .xlsx"
        raise UnreadableFile(
            f"The file is {what}. Open it in a spreadsheet program and save it as .xlsx or CSV."
        )
    return FileKind.CSV


def _kind_of_sqlite(start: bytes) -> FileKind:
    if start[68:72] in GEOPACKAGE_IDS:
        return FileKind.GEOPACKAGE
    raise UnreadableFile(f"The file is a SQLite database, but no GeoPackage. {WANTED}")


def _kind_of_zip(path: Path) -> FileKind:
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise UnreadableFile(
            "The file begins like a workbook or ZIP archive but is damaged or cut short. "
            "Save or upload it again."
        ) from error
    refuse_bomb(entries, path.stat().st_size)
    names = [entry.filename for entry in entries]
    if any(name.lower().endswith(".shp") for name in names):
        return FileKind.SHAPEFILE
    if "xl/workbook.xml" in names or "xl/workbook.bin" in names:
        return FileKind.XLSX
    raise UnreadableFile(_zip_sentence(names))


def refuse_bomb(entries: list[zipfile.ZipInfo], packed_bytes: int) -> None:
    """Refuse an archive that would fill memory or disk when unpacked."""
    unpacked = sum(entry.file_size for entry in entries)
    ratio = unpacked / max(packed_bytes, 1)
    if len(entries) > MOST_ENTRIES:
        raise UnreadableFile(f"The archive holds {len(entries):,} files, too many to be a table.")
    if unpacked > MOST_UNPACKED_BYTES or (
        unpacked > RATIO_COUNTS_FROM_BYTES and ratio > MOST_RATIO
    ):
        raise UnreadableFile(
            f"The archive would unpack from {packed_bytes:,} to {unpacked:,} bytes, which no "
            "honest table does. It was not opened."
        )
    if any(entry.flag_bits & 1 for entry in entries):
        raise UnreadableFile("The archive is protected by a password. Upload it without one.")


def _zip_sentence(names: list[str]) -> str:
    if "word/document.xml" in names:
        return f"The file is a Word document, not a table. {WANTED}"
    if "content.xml" in names and "mimetype" in names:
        return "The file is an OpenDocument file. Save it as .xlsx or CSV."
    listed = ", ".join(repr(name) for name in names[:3]) or "nothing"
    return f"The ZIP archive holds {listed}, neither a workbook nor a Shapefile. {WANTED}"


def _ole_sentence(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(2 * 1024**2)
    if "EncryptedPackage".encode("utf-16-le") in start:
        return "The workbook is protected by a password. Save it without one and upload it again."
    return "The file is an old Office file (.xls or .doc). Save it as .xlsx or CSV."
