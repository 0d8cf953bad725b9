"""Columns that a file does not have, made of those it has: joined, split, or the same in each row.

A map's `made` says so, field by field:

    address  = { join = ["HNO", "STREET"], with = " " }
    city     = { split = "CITY, ZIP", at = ",", part = 1 }
    source   = { same = "tap card" }     where the row's own column says nothing

Parts of an address (house number, direction, street …) are joined without being told, in the
order in which USPS Publication 28, section 23, writes them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from services_inventory.domain.columns import FIELDS, ValueKind, plain
from services_inventory.intake.columns.mapping import BadColumnMap, ColumnMap, MappedColumn
from services_inventory.intake.reading.table import Row

PARTS = tuple(key for key, field in FIELDS.items() if field.kind is ValueKind.PART)
JOINED = (ValueKind.ADDRESS, ValueKind.TEXT, ValueKind.NOTES, ValueKind.IDENTIFIER)
SIGNS = {",": "comma", " ": "space", "-": "hyphen", "/": "slash", ";": "semicolon", "|": "bar"}
WHOLE_FILE = "for the whole file"
_WAYS = ({"join"}, {"join", "with"}, {"split", "at", "part"}, {"same"})


@dataclass(frozen=True)
class Made:
    """A file's header and map with what is made of its columns.

    Parameters
    ----------
    columns : the map, of plain columns only
    header : the file's headings, then those of the columns that are made
    used : the places of the file's own columns that are taken in
    """

    columns: ColumnMap
    header: list[str]
    used: frozenset[int]
    _makers: tuple[Callable[[Sequence], object], ...] = ()

    @property
    def added(self) -> int:
        """How many columns are made."""
        return len(self._makers)

    def rows(self, rows: list[Row]) -> list[Row]:
        """Return rows with the cells that are made; empty ones behind a row of another width."""
        if not self._makers:
            return rows
        width = len(self.header) - self.added
        return [
            (number, [*cells, *(make(cells) for make in self._makers)])
            if len(cells) == width
            else (number, [*cells, *[""] * self.added])
            for number, cells in rows
        ]


def made_of(columns: ColumnMap, header: Sequence[str]) -> Made:
    """Compile a map for a file.

    Raises `BadColumnMap` where a column is named that the file does not have.
    """
    asked = dict(columns.made)
    own = {column.field: column.heading for column in columns.columns}
    parts = [own[part] for part in PARTS if part in own]
    if parts and "address" not in own and "address" not in asked:
        asked["address"] = {"join": parts}
    elif parts:
        raise BadColumnMap(
            f"The address is chosen whole, and {parts[0]!r} as a part of it. Choose either."
        )
    places = _Places(header)
    kept = tuple(c for c in columns.columns if c.field not in PARTS and c.field not in asked)
    used = {places[column.heading] for column in columns.columns}
    headings, makers, added = list(header), [], []
    for field, way in asked.items():
        heading, make, sources = _maker(way, places, own.get(field))
        while heading in headings:
            heading += " "
        headings.append(heading)
        makers.append(make)
        used |= sources
        added.append(MappedColumn(field, heading))
    plain_map = replace(columns, columns=(*kept, *added), made={})
    return Made(plain_map, headings, frozenset(used), tuple(makers))


def checked_ways(made) -> dict[str, dict]:
    """Return what a map says is made; raises `BadColumnMap` for what cannot be."""
    if not isinstance(made, dict):
        raise BadColumnMap('[made] holds one line a field, such as address = { join = ["A", "B"] }')
    for field, way in made.items():
        if field not in FIELDS or FIELDS[field].kind is ValueKind.PART:
            raise BadColumnMap(f"There is no field {field!r} that could be made.")
        if not isinstance(way, dict) or set(way) not in _WAYS:
            raise BadColumnMap(f"{field!r} is made by join, by split with at and part, or by same.")
        if way.get("part", 1) not in (1, 2) or way.get("at", ",") not in SIGNS:
            raise BadColumnMap(f"{field!r}: part is 1 or 2, and at one of {' '.join(SIGNS)}.")
        texts = way.get("join", [way.get("split", way.get("same"))])
        if not all(isinstance(text, str) and text for text in texts):
            raise BadColumnMap(f"{field!r}: write headings and values as texts.")
    return made


class _Places(dict):
    def __init__(self, header: Sequence[str]):
        super().__init__({heading: at for at, heading in enumerate(header)})
        self.plain = {plain(heading): at for heading, at in self.items()}
        self.header = header

    def __missing__(self, heading: str) -> int:
        at = self.plain.get(plain(heading))
        if at is None:
            has = ", ".join(map(repr, self.header[:20]))
            raise BadColumnMap(f"The file has no column {heading!r}. Its columns are: {has}.")
        return at


def _maker(way: dict, places: _Places, own: str | None) -> tuple[str, Callable, set[int]]:
    if "join" in way:
        joined = [places[heading] for heading in way["join"]]
        sign = way.get("with", " ")
        return " + ".join(way["join"])[:200], _joiner(joined, sign), set(joined)
    if "split" in way:
        at, sign, part = places[way["split"]], way["at"], way["part"]
        behind = f"{way['split']} ({'before' if part == 1 else 'behind'} the {SIGNS[sign]})"
        return behind[:200], _splitter(at, sign, part), {at}
    same = way["same"]
    if own is None:
        return f"{same} ({WHOLE_FILE})"[:200], lambda cells: same, set()
    at = places[own]
    return own, lambda cells: same if cells[at] is None or cells[at] == "" else cells[at], {at}


def _joiner(places: list[int], sign: str) -> Callable:
    return lambda cells: sign.join(filter(None, [_text(cells[at]) for at in places]))


def _splitter(at: int, sign: str, part: int) -> Callable:
    def split(cells: Sequence) -> str:
        before, _, after = _text(cells[at]).partition(sign)
        return (before if part == 1 else after).strip()

    return split


def _text(cell) -> str:
    """A cell as it is joined: a house number that a workbook keeps as 12.0 is 12."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return cell.isoformat() if isinstance(cell, date) else str(cell).strip()
