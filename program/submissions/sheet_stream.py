"""Rows of one worksheet, read without holding it: for lists too long for a reader in memory.

A list of a million rows takes over two gigabytes in the readers that load a whole sheet. This
one goes through the sheet's XML row by row (ISO/IEC 29500-1, 18.3) and keeps only the columns
asked for.
"""

import codecs
import html
import re
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring, iterparse, parse

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_REL = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_ROW, _CELL, _VALUE, _TEXT = (_MAIN + tag for tag in ("row", "c", "v", "t"))
CHUNK = 1 << 20
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
        name = _part_of(archive, path, sheet)
        with archive.open(name) as part:
            head = next(_row_elements(part), None)
            heads = _values(head, strings) if head is not None else {}
            letters = [_letters_of(heads, heading, sheet) for heading in wanted]
        with archive.open(name) as part:
            plain = b"<sheetData>" in part.read(CHUNK)
        with archive.open(name) as part:
            rows = _texts(part, letters, strings) if plain else _elements(part, letters, strings)
            next(rows, None)
            for values in rows:
                yield tuple(values.get(letter, "") for letter in letters)


def _elements(part, letters: Sequence[str], strings: list[str]) -> Iterator[dict]:
    """Yield the values of each row, from XML of any form."""
    for row in _row_elements(part):
        yield _values(row, strings, letters)
        row.clear()


def _texts(part, letters: Sequence[str], strings: list[str]) -> Iterator[dict]:
    """Yield the values of each row from XML without prefixes, of which most cells are plain.

    The end tag of a row cannot stand in its text, where it is escaped. A row with a cell that is
    not of the plain form is read as XML by itself.
    """
    cell = re.compile(_CELL_TEXT.format("|".join(letters)))
    decoder, rest = codecs.getincrementaldecoder("utf-8")(), ""
    while block := part.read(CHUNK):
        *rows, rest = (rest + decoder.decode(block)).split("</row>")
        for row in rows:
            found = _plain(row, cell)
            yield _values(_element(row), strings, letters) if found is None else found


_CELL_TEXT = (
    r'<c r="({})\d+"'
    r'(?:(?: s="\d+")?(?: t="inlineStr"><is><t(?: xml:space="preserve")?>([^<]*)</t></is></c>'
    r"|><v>([^<]+)</v></c>))?"
)


def _plain(row: str, cell: re.Pattern) -> dict | None:
    """Return the wanted values of a row, or None if one is not of the plain form."""
    if row.count("<c") != row.count('<c r="') + row.count("<cols"):
        return None
    out: dict[str, str | float] = {}
    for letter, text, number in cell.findall(row):
        if number:
            out[letter] = float(number)
        elif text:
            out[letter] = _unescaped(html.unescape(text) if "&" in text else text)
        else:
            return None
    return out


def _element(row: str) -> Element:
    return fromstring(f'<s xmlns="{_MAIN[1:-1]}">{row[row.rindex("<row") :]}</row></s>')[0]


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
    return _unescaped(text)


def _unescaped(text: str) -> str:
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def _letters_of(heads: dict, heading: str, sheet: str) -> str:
    for letter, found in heads.items():
        if found == heading:
            return letter
    raise UnreadableSheet(f"The sheet '{sheet}' has no column headed '{heading}'.")
