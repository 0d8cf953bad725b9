"""Rows of one worksheet, read without holding it: for lists too long for a reader in memory.

A list of a million rows takes over two gigabytes in the readers that load a whole sheet. This
one goes through the sheet's XML row by row (ISO/IEC 29500-1, 18.3) and keeps only the columns
asked for.
"""

import re
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from xml.etree.ElementTree import Element, iterparse, parse

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_REL = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_ROW, _CELL, _VALUE, _TEXT = (_MAIN + tag for tag in ("row", "c", "v", "t"))
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


class UnreadableSheet(ValueError):
    """A workbook or one of its sheets cannot be read; the message says which and why."""


def unpacked_size(path: Path, sheet: str) -> int:
    """Return how many bytes a worksheet's XML takes unpacked."""
    with zipfile.ZipFile(path) as archive:
        return archive.getinfo(_part_of(archive, path, sheet)).file_size


def stream_rows(path: Path, sheet: str, wanted: Sequence[str]) -> Iterator[tuple]:
    """Yield, for each row below the first, the values under the wanted headings.

    Text is str, numbers are float, an empty cell is "".

    Raises:
        UnreadableSheet: the sheet or one of the headings is missing.

    """
    with zipfile.ZipFile(path) as archive:
        strings = _shared_strings(archive)
        with archive.open(_part_of(archive, path, sheet)) as part:
            rows = _row_elements(part)
            head = next(rows, None)
            heads = _values(head, strings) if head is not None else {}
            letters = [_letters_of(heads, heading, sheet) for heading in wanted]
            for row in rows:
                values = _values(row, strings, letters)
                yield tuple(values.get(letter, "") for letter in letters)
                row.clear()


def _part_of(archive: zipfile.ZipFile, path: Path, sheet: str) -> str:
    with archive.open("xl/workbook.xml") as file:
        sheets = {s.get("name"): s.get(_REL) for s in parse(file).iter(_MAIN + "sheet")}
    if sheet not in sheets:
        raise UnreadableSheet(f"{Path(path).name} has no sheet called '{sheet}'.")
    with archive.open("xl/_rels/workbook.xml.rels") as file:
        targets = {r.get("Id"): r.get("Target") for r in parse(file).getroot()}
    target = targets[sheets[sheet]]
    return target.lstrip("/") if target.startswith("/") else f"xl/{target}"


def _shared_strings(archive: zipfile.ZipFile) -> list[str]:
    if "xl/sharedStrings.xml" not in archive.namelist():
        return []
    with archive.open("xl/sharedStrings.xml") as file:
        return [_text(entry) for entry in parse(file).iter(_MAIN + "si")]


def _row_elements(part) -> Iterator[Element]:
    for _event, element in iterparse(part, events=("end",)):
        if element.tag == _ROW:
            yield element


def _values(row: Element, strings: list[str], letters: Sequence[str] | None = None) -> dict:
    out = {}
    for cell in row.iterfind(_CELL):
        letter = cell.get("r", "").rstrip("0123456789")
        if letters is None or letter in letters:
            out[letter] = _value(cell, strings)
    return out


def _value(cell: Element, strings: list[str]) -> str | float:
    kind = cell.get("t", "n")
    if kind == "inlineStr":
        return _text(cell)
    value = cell.findtext(_VALUE, "")
    if kind == "s":
        return strings[int(value)]
    return float(value) if kind == "n" and value else value


def _text(element: Element) -> str:
    # Phonetic runs (rPh) hold a second reading of the text, not the text.
    phonetic = {run for rph in element.iter(_MAIN + "rPh") for run in rph.iter(_TEXT)}
    text = "".join(run.text or "" for run in element.iter(_TEXT) if run not in phonetic)
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def _letters_of(heads: dict, heading: str, sheet: str) -> str:
    for letter, found in heads.items():
        if found == heading:
            return letter
    raise UnreadableSheet(f"The sheet '{sheet}' has no column headed '{heading}'.")
