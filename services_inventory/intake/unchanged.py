"""Rows that say nothing new, told before they are staged.

A file that comes again is mostly made of them. A row is left out only where the record holds
all that it says: its line by its identifier, at its address and position, with each of its
statements among the evidence that counts. Any doubt, and the row is staged like every other.
"""

from array import array
from collections.abc import Iterator
from operator import itemgetter
from typing import NamedTuple

from .. import bulk
from ..models import Batch
from .matching import LINE, METERS_A_DEGREE, NEAR_M, PREMISE
from .recording import COLUMNS, SAID_ALONE, SLOTS
from .said import Statements

EVIDENCE = "services_inventory_evidence"
CORRECTION = "services_inventory_premisechange"
REACH = NEAR_M / METERS_A_DEGREE
TRIED = 5_000  # rows after which a file that is mostly new is no longer looked up
WORTH = 0.1
_OF_PLACE = ("address_key", "latitude", "longitude", *SAID_ALONE)
_GIVEN = ("row", "address", "use", *SLOTS, *_OF_PLACE)
_SLOTS = slice(3, 3 + len(SLOTS))
_AT = {name: at for at, (name, _) in enumerate(COLUMNS)}
_given, _key = itemgetter(*(_AT[name] for name in _GIVEN)), itemgetter(_AT["line_key"])


def living(name: str = "e") -> str:
    """Leave out evidence that was withdrawn with its batch, so that a file can come anew.

    A single statement that a person took back, with a reason, stays taken back: a file that
    repeats it word for word doesn't bring it back.
    """
    gone = Batch.objects.filter(withdraws__isnull=False).values_list("withdraws_id", flat=True)
    ids = ", ".join(str(int(pk)) for pk in gone)
    return f" AND ({name}.batch_id IS NULL OR {name}.batch_id NOT IN ({ids}))" if ids else ""


class Mark(NamedTuple):
    """What differs once anybody has recorded, corrected, withdrawn or decided anything."""

    evidence: int
    correction: int
    corrections: int
    withdrawn: int
    decided: int


def record_mark() -> Mark:
    """Return the mark of the record as it is now."""
    return Mark(
        *(bulk.number(f"SELECT max(id) FROM {table}") for table in (EVIDENCE, CORRECTION)),
        bulk.number(f"SELECT count(*) FROM {CORRECTION}"),
        bulk.number("SELECT count(withdraws_id) FROM services_inventory_batch"),
        bulk.number("SELECT count(*) FROM services_inventory_matchdecision"),
    )


class Known:
    """Rows whose every word is in the record: row, line and premise of each.

    Parameters
    ----------
    statements : where the statements of the rows are numbered
    looks : off, no row counts as known, and all are staged

    """

    def __init__(self, statements: Statements, looks: bool = True):
        self.looks = looks
        self.statements = statements
        self.rows = array("q")
        self._lines = array("q")
        self._premises = array("q")
        self._texts: list[str] = [""]
        self._asked = 0
        self._living: str | None = None

    def fresh(self, rows: list[tuple]) -> list[tuple]:
        """Return the rows that may say something new, and note the others."""
        if not self.looks or self._asked > TRIED and len(self.rows) < WORTH * self._asked:
            return rows
        self._asked += len(rows)
        self._texts += map(str, self.statements.content_keys()[len(self._texts) - 1 :])
        record = self._recorded([key for key in map(_key, rows) if key]).get
        return [row for row in rows if not self._is_known(_given(row), record(_key(row)))]

    def matches(self, leave_out: set[int]) -> Iterator[tuple[int, int, int, int]]:
        """Yield (row, line, premise, 1) of the rows that are still known after these are out."""
        for row, line, premise in zip(self.rows, self._lines, self._premises, strict=True):
            if row not in leave_out:
                yield row, line, premise, 1

    def _recorded(self, keys: list[str]) -> dict[str, tuple]:
        """What the record holds of the lines with these identifiers."""
        if self._living is None:
            self._living = living()
        said = bulk.listed("e.content_key")
        among, parameters = bulk.among("l.location_id", keys)
        rows = bulk.stream(
            f"SELECT l.location_id, l.id, p.id, p.address <> '', l.use, (SELECT {said} "
            f"FROM {EVIDENCE} e WHERE e.line_id = l.id{self._living}), "
            f"{', '.join(f'p.{name}' for name in _OF_PLACE)} FROM {LINE} l CROSS JOIN {PREMISE} p "
            f"WHERE {among} AND p.id = l.premise_id AND l.category IS NOT NULL",
            parameters,
        )
        return {row[0]: row for row in rows}

    def _is_known(self, given: tuple, known: tuple | None) -> bool:
        """Whether the record says all that the row says; an empty cell says nothing."""
        if known is None:
            return False
        row, address, use = given[: _SLOTS.start]
        _, line, premise, has_address, of_use, recorded = known[:6]
        if (address and not has_address) or (use and use != of_use):
            return False
        # A file that comes again says every word as before: one comparison for all of a place.
        said, of_place = given[_SLOTS.stop :], known[6:]
        if said != of_place and not _holds(of_place, *said):
            return False
        texts, recorded = self._texts, (recorded or "").split(",")
        for number in given[_SLOTS]:
            if number and texts[number] not in recorded:
                return False
        self.rows.append(row)
        self._lines.append(line)
        self._premises.append(premise)
        return True


def _holds(known: tuple, address_key: str, latitude, longitude, *alone) -> bool:
    """Whether what is known of a place holds what a row says of it."""
    of_key, north, east, *others = known
    return (
        address_key in ("", of_key)
        and (latitude is None or not _is_elsewhere(latitude, longitude, north, east))
        and all(said == other or not said for said, other in zip(alone, others, strict=True))
    )


def _is_elsewhere(latitude: float, longitude: float, north: float | None, east) -> bool:
    return north is None or abs(north - latitude) > REACH or abs(east - longitude) > REACH
