"""From checked rows to staged rows: what each says about its line, numbered, and where it lies.

A statement that many rows share (system side, copper, tap card, 1962) is kept once and rows
refer to it by number.
"""

import re
from array import array
from collections.abc import Callable, Iterator
from datetime import date
from hashlib import blake2b
from itertools import compress
from operator import itemgetter

from ..domain.addresses import AddressKind
from ..domain.columns import OF_PREMISE
from ..placing import assign
from .checking import CheckedBatch
from .outlook import Outlook
from .said import EachOnce, Standings, Statements

MADE = "AT "  # how an identifier begins that was made from the address or the position
SIDES = (("system", "SYSTEM"), ("customer", "CUSTOMER"))
SLOTS = ("system", "customer", "connector", "system_former", "customer_former")
# Each of these a row may say of a place without the others.
SAID_ALONE = {field.premise: "INTEGER" if field.number else "TEXT" for field in OF_PREMISE}
COLUMNS = (
    ("row", "KEY"), ("given_id", "TEXT"), ("line_key", "TEXT"), ("address", "TEXT"),
    ("address_key", "TEXT"), ("street_key", "TEXT"), ("house_number", "INTEGER"),
    ("range_to", "INTEGER"), ("unit", "TEXT"), ("latitude", "REAL"), ("longitude", "REAL"),
    ("use", "TEXT"), *SAID_ALONE.items(), ("installed_year", "INTEGER"),
    ("system_in", "REAL"), ("customer_in", "REAL"), ("notes", "TEXT"),
    ("outcome", "INTEGER"), ("effective_on", "DATE"),
    *((slot, "INTEGER") for slot in SLOTS), ("named_area", "TEXT"),
    ("neighborhood_id", "INTEGER"),
)  # fmt: skip
_LATITUDE, _LONGITUDE = (
    [column for column, _ in COLUMNS].index(name) for name in ("latitude", "longitude")
)
_LEADING_DIGITS = re.compile(r"\d{1,8}")


class Recorder:
    """Turns checked batches into rows for staging.

    Parameters
    ----------
    statements, standings : where statements and outcomes are numbered
    areas : returns (ids, polygons) of the neighborhoods, in the order of their ids; asked for
        once a row has a position
    names : neighborhood id by name, for rows without a position

    Set `all_new` where the record is empty: then each row's outcome is found while it passes.
    """

    def __init__(
        self, statements: Statements, standings: Standings, areas: Callable, names: dict[str, int]
    ):
        self.all_new = False
        self.statements = statements
        self.standings = standings
        self.outlook = Outlook(standings)
        self._areas = areas
        self.names = names
        self.used: set[str] = set()
        self.rows = array("q")
        self.places = array("q")
        self._positions: dict[str, int] = {}
        find = statements.number
        self._side = {
            portion: EachOnce(lambda *cells, p=portion: find(p, "NOW", *cells))
            for _, portion in SIDES
        }
        self._former = {
            portion: EachOnce(
                lambda material, basis, source, p=portion: (
                    find(p, "BEFORE", material, basis, 0, None, None, None, None, source)
                    if material
                    else 0
                )
            )
            for _, portion in SIDES
        }
        self._houses = EachOnce(_number)
        self._connector = EachOnce(
            lambda material, basis, source: find(
                "CONNECTOR", "NOW", material, basis, 0, None, None, None, None, source
            )
        )

    def judge(self, batch: CheckedBatch, looks: bool = True) -> dict[int, str]:
        """Return why rows are held that were good cell by cell; note what the others come to.

        The checker has seen to days, years and sizes; what is left can only be wrong where points
        were seen by no inspection. Unless the batch is looked at, only those rows are.
        """
        if looks:
            slots = self._slots(batch)
            self.outlook.note(batch.row_numbers, self.standings.outcomes(slots))
            self.outlook.hear(batch)
            return self._refused(batch, slots, batch.row_numbers)
        doubtful, numbers, slots = self._doubtful(batch), [], []
        if any(doubtful):
            columns = {name: list(compress(c, doubtful)) for name, c in batch.columns.items()}
            numbers = list(compress(batch.row_numbers, doubtful))
            slots = self._slots(CheckedBatch(numbers, columns, [], []))
        return self._refused(batch, slots, numbers)

    def _doubtful(self, batch: CheckedBatch) -> list[bool]:
        """Which rows have points seen on a side by something that is no inspection."""
        found = [False] * len(batch.row_numbers)
        for side, _ in SIDES:
            points = batch.columns.get(f"{side}_points_seen")
            if points is not None and any(points):
                bases = batch.column(f"{side}_basis", "")
                asked = map(self.statements.may_be_refused, points, bases)
                found = [one or other for one, other in zip(found, asked, strict=True)]
        return found

    def record(self, batch: CheckedBatch) -> tuple[list[tuple], dict[int, str]]:
        """Return the rows to stage, and why others are held, by row number."""
        slots = self._slots(batch)
        held = self._refused(batch, slots, batch.row_numbers)
        self.outlook.hear(batch)
        outcomes: list = [None] * len(slots[0])
        if self.all_new:
            outcomes = self.standings.outcomes(slots)
            self.outlook.note(batch.row_numbers, outcomes)
        staged = zip(
            batch.row_numbers,
            *self._identity(batch),
            *self._place(batch),
            *self._line(batch),
            outcomes,
            self._effective(slots),
            *([number or None for number in slot] for slot in slots),
            batch.column("neighborhood", ""),
            strict=True,
        )
        rows = [row for row in staged if row[0] not in held] if held else list(staged)
        return rows, held

    def _slots(self, batch: CheckedBatch) -> list[list[int]]:
        now, former = [], []
        for side, portion in SIDES:
            column = _columns_of(batch, side)
            basis, source = column("basis", ""), column("source", "")
            cells = zip(
                column("material", ""), basis, column("points_seen", 0), column("observed_on"),
                column("installed_on"), column("installed_year"), column("diameter_in"), source,
                strict=True,
            )  # fmt: skip
            now.append(list(map(self._side[portion].__getitem__, cells)))
            cells = zip(column("former_material", ""), basis, source, strict=True)
            former.append(list(map(self._former[portion].__getitem__, cells)))
        column = _columns_of(batch, "connector")
        cells = zip(column("material", ""), column("basis", ""), column("source", ""), strict=True)
        slots = [*now, list(map(self._connector.__getitem__, cells)), *former]
        self.used.update(name for name, slot in zip(SLOTS, slots, strict=True) if any(slot))
        return slots

    def _refused(
        self, batch: CheckedBatch, slots: list[list[int]], numbers: list[int]
    ) -> dict[int, str]:
        refused = self.statements.refused
        held = self._same_positions(batch)
        for slot in slots if refused else ():
            for row, number in zip(numbers, slot, strict=True):
                if number in refused:
                    held.setdefault(row, []).append(refused[number])
        return {row: " ".join(dict.fromkeys(sentences)) for row, sentences in held.items()}

    def _same_positions(self, batch: CheckedBatch) -> dict[int, list[str]]:
        """Rows that have nothing but a position, and share it with an earlier one."""
        given, normal = batch.column("location_id", ""), batch.columns.get("normal_address")
        held = {}
        if all(given):
            return held
        spots = zip(batch.column("latitude"), batch.column("longitude"), strict=True)
        for at, (row, spot) in enumerate(zip(batch.row_numbers, spots, strict=True)):
            if given[at] or (normal is not None and normal[at].is_place):
                continue
            first = self._positions.setdefault(made_id("", "", *spot), row)
            if first != row:
                held[row] = [f"Row {first} has the same position, and nothing tells them apart."]
        return held

    def _identity(self, batch: CheckedBatch) -> list[list]:
        """Given id, line key, address, address key, street key, number, range end, unit."""
        given = batch.column("location_id", "")
        normal = batch.columns.get("normal_address")
        if normal is None:
            blank = [""] * len(given)
            none = [None] * len(given)
            keys = [one or made_id("", "", *place) for one, place in self._pairs(given, batch)]
            return [given, keys, blank, blank, blank, none, none, blank]
        places = [found.kind is AddressKind.STREET or found.is_place for found in normal]
        address_keys = [
            found.key if place else "" for found, place in zip(normal, places, strict=True)
        ]
        keys = given
        if not all(given):
            uses = batch.column("line_use", "")
            spots = zip(batch.column("latitude"), batch.column("longitude"), strict=True)
            keys = [
                one or made_id(key, use, *spot)
                for one, key, use, spot in zip(given, address_keys, uses, spots, strict=True)
            ]
        return [
            given,
            keys,
            _with_units(batch),
            address_keys,
            [
                found.street_key if place else ""
                for found, place in zip(normal, places, strict=True)
            ],
            list(map(self._houses.__getitem__, zip(map(itemgetter(0), normal)))),
            [_number(found.range_to) if found.range_to else None for found in normal],
            [found.unit for found in normal],
        ]

    @staticmethod
    def _pairs(given: list[str], batch: CheckedBatch) -> Iterator[tuple]:
        spots = zip(batch.column("latitude"), batch.column("longitude"), strict=True)
        return zip(given, spots, strict=True)

    def _place(self, batch: CheckedBatch) -> list[list]:
        """Latitude, longitude, use, and what a row may say of a place alone."""
        return [
            batch.column("latitude"),
            batch.column("longitude"),
            batch.column("line_use", ""),
            *(batch.column(field.key, None if field.number else "") for field in OF_PREMISE),
        ]

    def placed(self, rows: list[tuple]) -> list[tuple]:
        """Return rows with their neighborhood at the end, by position, else by its name."""
        self.rows.extend([row[0] for row in rows])
        self.places.extend([hash(row[4]) for row in rows])
        found = self._neighborhoods(
            [row[_LATITUDE] for row in rows], [row[_LONGITUDE] for row in rows]
        )
        if self.names:
            for at, row in enumerate(rows):
                if row[-1] and row[_LATITUDE] is None:
                    found[at] = self.names.get(row[-1].casefold())
        return [(*row, area) for row, area in zip(rows, found, strict=True)]

    def _neighborhoods(self, latitudes: list, longitudes: list) -> list[int | None]:
        if latitudes.count(None) == len(latitudes):
            return [None] * len(latitudes)
        ids, polygons = self._areas()
        if not polygons:
            return [None] * len(latitudes)
        ids = [*ids, None]  # NOWHERE is -1, which picks the last
        return [ids[at] for at in assign(latitudes, longitudes, polygons).tolist()]

    def _line(self, batch: CheckedBatch) -> list[list]:
        """Year installed, diameters, notes."""
        system, customer = (batch.column(f"{side}_installed_year") for side, _ in SIDES)
        return [
            [one or other for one, other in zip(system, customer, strict=True)],
            batch.column("system_diameter_in"),
            batch.column("customer_diameter_in"),
            batch.column("notes", ""),
        ]

    def _effective(self, slots: list[list[int]]) -> list[date | None]:
        """The day of the work where a row speaks of a replacement; None: the day of record."""
        days: list[date | None] = [None] * len(slots[0])
        if self.statements.replacements:
            for slot in slots:
                for at, number in enumerate(slot):
                    if number in self.statements.replacements:
                        days[at] = self.statements.replacements[number]
        return days

    def shared_places(self) -> list[tuple[int, int]]:
        """Pairs of a row and the first row of the file with the same address."""
        import numpy

        if not self.rows:
            return []
        keys = numpy.frombuffer(self.places, dtype=numpy.int64)
        order = numpy.argsort(keys, kind="stable")
        nowhere = hash("")
        same = numpy.flatnonzero((numpy.diff(keys[order]) == 0) & (keys[order][1:] != nowhere)) + 1
        first: dict[int, int] = {}
        pairs = []
        for at in same.tolist():
            row, before = self.rows[int(order[at])], self.rows[int(order[at - 1])]
            first[row] = first.get(before, before)
            pairs.append((row, first[row]))
        return pairs


def _columns_of(batch: CheckedBatch, side: str) -> Callable[..., list]:
    return lambda name, default=None: batch.column(f"{side}_{name}", default)


def _with_units(batch: CheckedBatch) -> list[str]:
    """Addresses as written, with the unit of a column of its own."""
    addresses, units = batch.column("address", ""), batch.columns.get("unit")
    if units is None or not any(units):
        return addresses
    return [
        f"{address} {unit}"[:200] if unit else address
        for address, unit in zip(addresses, units, strict=True)
    ]


def _number(text: str) -> int | None:
    if text.isdecimal() and len(text) < 9:
        return int(text)
    found = _LEADING_DIGITS.match(text)
    return int(found[0]) if found else None


def made_id(address_key: str, use: str, latitude: float | None, longitude: float | None) -> str:
    """Return a line's identifier where the file gives none: from its address, else its position.

    The same address gives the same identifier in every file. A line that is not for drinking
    water has its use in it, as it lies beside another one.
    """
    if not address_key:
        return f"{MADE}{latitude:.5f} {longitude:.5f}" if latitude is not None else ""
    made = f"{MADE}{address_key}" + (f" ({use})" if use and use != "DOMESTIC" else "")
    if len(made) <= 80:
        return made
    return f"{made[:60]} {blake2b(made.encode(), digest_size=8).hexdigest()}"
