"""Text files with separated columns: encoding, delimiter, rows."""

import codecs
import csv
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from io import StringIO
from itertools import islice
from pathlib import Path

from services_inventory.intake.reading.content import FileKind
from services_inventory.intake.reading.table import (
    Row,
    Table,
    UnreadableFile,
    checked_header,
    is_blank,
)

DELIMITERS = (",", ";", "\t", "|")
CHUNK_BYTES = 1 << 20
SAMPLE_BYTES = 1 << 18
SAMPLE_ROWS = 60
LONGEST_LINE = 64 << 20
LONGEST_CELL = 1 << 20
USUAL_SIGNS = "½¼¾°’‘“”–—•"  # in texts of the trade, besides letters with accents
ONE_BYTE_ENCODINGS = ["cp1252", "cp1250", "mac_roman", "cp437", "cp850"]
ENCODING_NAMES = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8",
    "utf-16": "UTF-16",
    "utf-16-le": "UTF-16",
    "utf-16-be": "UTF-16",
    "cp1252": "Windows-1252",
    "cp1250": "Windows-1250",
    "mac_roman": "Mac Roman",
    "cp437": "DOS 437",
    "cp850": "DOS 850",
}


@dataclass(frozen=True)
class Layout:
    """How the text is laid out; `lines_above` stand before the header and are skipped."""

    encoding: str
    delimiter: str
    lines_above: int


def open_delimited(path: Path) -> Table:
    """Open a text file of separated columns.

    Raises `UnreadableFile` for text that can't be decoded, NUL bytes, no rows, bad headings.
    """
    encoding, lines = _encoding(path)
    sample = _sample(path, encoding)
    layout = _layout(sample, encoding)
    records = csv.reader(_lines(StringIO(sample, newline=""), layout), delimiter=layout.delimiter)
    number, cells = _first_filled(records)
    header = checked_header(list(cells), f"row {number + layout.lines_above}")
    notes = _notes(path, layout)

    def rows() -> Iterator[Row]:
        return _rows(path, layout, len(header))

    if next(rows(), None) is None:
        raise UnreadableFile("There are headings but no rows under them.")
    return Table(
        path=path, kind=FileKind.CSV, header=header, rows=rows,
        estimated_rows=max(lines - number - layout.lines_above, 1), encoding=encoding,
        delimiter=layout.delimiter, notes=notes,
    )  # fmt: skip


def _notes(path: Path, layout: Layout) -> list[str]:
    notes = []
    if path.suffix.lower() in (".xlsx", ".xls", ".gpkg", ".zip", ".parquet"):
        notes.append(f"The name ends in {path.suffix} but the file is text; it was read as CSV.")
    if layout.encoding in ONE_BYTE_ENCODINGS:
        notes.append(
            f"The text is not UTF-8; it was read as {ENCODING_NAMES[layout.encoding]}. "
            "Check that names with accents look right."
        )
    if layout.lines_above:
        notes.append(f"Lines above the headings were skipped: {layout.lines_above}.")
    return notes


def _rows(path: Path, layout: Layout, width: int) -> Iterator[Row]:
    csv.field_size_limit(LONGEST_CELL)
    number = 0
    with path.open(encoding=layout.encoding, newline="") as file:
        records = csv.reader(_lines(file, layout), delimiter=layout.delimiter)
        try:
            number, _ = _first_filled(records)
            number += layout.lines_above
            for cells in records:
                number += 1
                if len(cells) != width:
                    cells = _fitted(cells, width)
                    if not cells:
                        continue
                elif not cells[0].strip() and is_blank(cells):
                    continue
                yield number, cells
        except csv.Error as error:
            raise UnreadableFile(_csv_sentence(number + 1, error)) from error


def _fitted(cells: list[str], width: int) -> list[str]:
    """Drop empty cells beyond the header, as spreadsheets export them; none left: no row."""
    while len(cells) > width and not cells[-1].strip():
        cells.pop()
    return [] if is_blank(cells) else cells


def _csv_sentence(number: int, error: csv.Error) -> str:
    if "field larger" in str(error):
        return (
            f"Near row {number} a cell is more than {LONGEST_CELL:,} characters long. "
            "A quotation mark is probably opened there and never closed."
        )
    return f"Row {number} can't be read as separated columns ({error})."


def _lines(file, layout: Layout) -> Iterator[str]:
    return islice(file, layout.lines_above, None) if layout.lines_above else file


def _first_filled(records) -> tuple[int, list[str]]:
    for number, cells in enumerate(records, start=1):
        if not is_blank(cells):
            return number, cells
    raise UnreadableFile("The file is empty. Export it again and check that rows are in it.")


def _encoding(path: Path) -> tuple[str, int]:
    """The encoding that decodes the whole file, and its number of lines."""
    with path.open("rb") as file:
        start = file.read(4096)
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if start.startswith(mark):
            return encoding, _scan(path, encoding)
    if b"\x00" in start:
        encoding = _unmarked_utf16(start)
        if encoding:
            return encoding, _scan(path, encoding)
    try:
        return "utf-8", _scan(path, "utf-8")
    except UnicodeDecodeError:
        encoding = _one_byte_encoding(path)
    return encoding, _scan(path, encoding)


def _unmarked_utf16(start: bytes) -> str:
    """UTF-16 without a mark has a zero in every other byte of plain text."""
    pairs = len(start) // 2
    for offset, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        if start[offset::2].count(0) > 0.8 * pairs and start[1 - offset :: 2].count(0) == 0:
            return encoding
    return ""


def _scan(path: Path, encoding: str) -> int:
    """Decode the whole file once; count its lines and find NUL bytes and endless lines."""
    lines = unbroken = 0
    for text in _decoded(path, encoding):
        if "\x00" in text:
            raise UnreadableFile(_nul_sentence(lines + text[: text.index("\x00")].count("\n")))
        last_break = max(text.rfind("\n"), text.rfind("\r"))
        unbroken = len(text) - last_break - 1 if last_break >= 0 else unbroken + len(text)
        if unbroken > LONGEST_LINE:
            raise UnreadableFile(
                f"Line {lines + 1} is more than {LONGEST_LINE >> 20} million characters long. "
                "The file has no line ends where rows should end."
            )
        lines += text.count("\n")
    return lines


def _decoded(path: Path, encoding: str) -> Iterator[str]:
    decoder = codecs.getincrementaldecoder(encoding)("strict")
    lines = 0
    with path.open("rb") as file:
        while True:
            chunk = file.read(CHUNK_BYTES)
            try:
                text = decoder.decode(chunk, final=not chunk)
            except UnicodeDecodeError:
                if encoding == "utf-8":
                    raise
                raise UnreadableFile(_decoding_sentence(encoding, lines)) from None
            yield text
            if not chunk:
                return
            lines += text.count("\n")


def lines_decoded(path: Path, encoding: str) -> Iterator[int]:
    """Decode a whole file; yield the number of lines so far, raising where it is no such text."""
    lines = 0
    for text in _decoded(path, encoding):
        lines += text.count("\n")
        yield lines


def _nul_sentence(lines: int) -> str:
    return (
        f"There is a NUL byte in line {lines + 1}, so the file is damaged or no text. "
        "Export it again."
    )


def _decoding_sentence(encoding: str, lines: int) -> str:
    name = ENCODING_NAMES.get(encoding, encoding.upper())
    return (
        f"Near line {lines + 1} the text can't be read as {name}. "
        "Save the file as UTF-8 and upload it again."
    )


def _one_byte_encoding(path: Path) -> str:
    """Judge by the lines that hold bytes beyond ASCII; Windows-1252 in doubt."""
    from charset_normalizer import from_bytes

    telling = bytearray()
    with path.open("rb") as file:
        for line in file:
            if not line.isascii():
                telling += line
            if len(telling) > SAMPLE_BYTES:
                break
    best = from_bytes(bytes(telling), cp_isolation=ONE_BYTE_ENCODINGS).best()
    encoding = best.encoding if best else "cp1252"
    if encoding != "cp1252" and _decodes(bytes(telling), "cp1252"):
        signs = [c for c in telling.decode("cp1252") if ord(c) > 127]
        if sum(c.isalpha() or c in USUAL_SIGNS for c in signs) >= 0.5 * len(signs):
            encoding = "cp1252"
    return encoding


def _decodes(data: bytes, encoding: str) -> bool:
    try:
        data.decode(encoding)
    except UnicodeDecodeError:
        return False
    return True


def _sample(path: Path, encoding: str) -> str:
    """The first whole lines of the file."""
    with path.open(encoding=encoding, newline="") as file:
        text = file.read(SAMPLE_BYTES)
        if len(text) == SAMPLE_BYTES:
            text += file.readline(LONGEST_LINE)
    return text


def _layout(sample: str, encoding: str) -> Layout:
    lines_above = 0
    if sample[:4].lower() == "sep=" and len(sample) > 4 and sample[5:6] in ("\r", "\n"):
        return Layout(encoding, sample[4], 1)
    best, best_score = ",", (0.0, 0)
    for delimiter in DELIMITERS:
        score = _consistency(sample, delimiter)
        if score > best_score:
            best, best_score = delimiter, score
    records = list(islice(csv.reader(StringIO(sample, newline=""), delimiter=best), SAMPLE_ROWS))
    lines_above = _title_rows(records, best_score[1])
    return Layout(encoding, best, lines_above)


def _consistency(sample: str, delimiter: str) -> tuple[float, int]:
    """How much of the sample has the commonest width of two or more, and that width."""
    csv.field_size_limit(LONGEST_CELL)
    try:
        records = list(
            islice(csv.reader(StringIO(sample, newline=""), delimiter=delimiter), SAMPLE_ROWS)
        )
    except csv.Error:
        return (0.0, 0)
    widths = Counter(len(cells) for cells in records if cells)
    if not widths:
        return (0.0, 0)
    width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
    if width < 2:
        return (0.0, 0)
    return (round(count / widths.total(), 1), width)


def _title_rows(records: list[list[str]], width: int) -> int:
    """Rows above the header that hold a title in one cell, where the table is wider."""
    above = 0
    for cells in records[:5]:
        filled = sum(bool(cell.strip()) for cell in cells)
        if width >= 3 and filled <= 1 and len(cells) <= width:
            above += 1
        else:
            return above if above < len(records) else 0
    return 0
