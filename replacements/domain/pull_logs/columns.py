"""Which column of a log is the time, the pressure or force, the distance, and in what unit.

Headers come from whoever set up the logger. A guess is taken from the words of the header, a
unit in it or in a line below it, and from the look of the first cells; what it rests on is kept
with it, so that a person can see it and say otherwise.
"""

import re
from collections.abc import Mapping, Sequence

from replacements.domain.units import (
    ASKED,
    ASKED_SENTENCE,
    BASE_UNIT,
    FACTORS,
    QUANTITY_OF,
    unit_named,
    units_of_many_words,
)

from .cells import looks_clock, looks_iso, number_and_unit
from .log import ROLES, Column, PullLogError

_WORDS = {
    "TIME": {"time", "elapsed", "timestamp", "datetime", "clock", "t", "seconds"},
    "PRESSURE": {"pressure", "press", "pres", "hyd", "hydraulic", "gauge", "p"},
    "FORCE": {"force", "load", "pull", "tension", "loadcell", "cell", "pulling", "f"},
    "DISTANCE": {
        *("distance", "dist", "length", "position", "pos", "travel", "footage", "payout"),
        *("station", "odometer", "encoder", "x"),
    },
}
# Quantities that loggers also write and that must not be taken for ours.
_OTHERS = {"temperature", "temp", "speed", "velocity", "rate", "date", "battery", "rpm", "flow"}
_ROLE_OF = {"TIME": "time", "PRESSURE": "force", "FORCE": "force", "DISTANCE": "distance"}
_PREFERENCE = {"time": ("TIME",), "force": ("FORCE", "PRESSURE"), "distance": ("DISTANCE",)}
_WANTED = {
    "time": "time column (such as 'Time (s)')",
    "force": "pressure or force column (such as 'Pressure (psi)' or 'Load (lbf)')",
    "distance": "distance column (such as 'Distance (ft)')",
}


def guess_columns(
    header: Sequence[str],
    sample: Sequence[Sequence[str]],
    unit_row: Sequence[str] | None = None,
    told: Mapping[str, object] | None = None,
) -> tuple[dict[str, Column], tuple[str, ...]]:
    """Guess the three columns of a log; what the reader is told wins over the guess.

    Parameters
    ----------
    header : the header's cells
    sample : a few rows of data below it
    unit_row : the line of units under the header, where there is one
    told : role to header text, or to index from 0, or to a pair of either and a unit; None in
        the place of the column leaves it guessed and only the unit told

    Returns
    -------
    role to Column, and the headers that the log does not need

    Raises
    ------
    PullLogError: no column can be found for a role, or a told column or unit does not exist.
    """
    told = dict(told or {})
    unknown = sorted(set(told) - set(ROLES))
    if unknown:
        raise PullLogError(f"There is no column role {unknown[0]!r}: use {', '.join(ROLES)}.")
    pairs = {role: _pair(choice) for role, choice in told.items()}
    settled = {role for role, (_, unit) in pairs.items() if unit is not None}
    described = [
        _describe(index, text, sample, unit_row[index] if unit_row else "", settled)
        for index, text in enumerate(header)
    ]
    guessed = {role: _found(role, pairs.get(role), header, described) for role in ROLES}
    found = {role: column for role, column in guessed.items() if column is not None}
    _refuse_missing(found, header)
    _ask(found)
    used = {column.index for column in found.values()}
    if len(used) < len(ROLES):
        raise PullLogError("One column cannot be two things: name each column once.")
    unused = tuple(text for index, text in enumerate(header) if index not in used)
    return found, unused


def _pair(choice: object) -> tuple[object, object]:
    name, unit = choice if isinstance(choice, (tuple, list)) else (choice, None)
    return name, unit


def _found(
    role: str,
    pair: tuple[object, object] | None,
    header: Sequence[str],
    described: Sequence[Column | None],
) -> Column | None:
    if pair is None:
        return _pick(role, described)
    name, unit = pair
    if name is None:
        guess = _pick(role, described)
        if guess is None:
            return None
        name = guess.index
    return _told(role, name, unit, header, described)


def names_a_quantity(text: str) -> bool:
    """Tell whether a cell reads like the header of a time, force, pressure or distance."""
    words = _words(text)
    return bool(_quantities_meant(words)) and not unit_named(text)


def _refuse_missing(found: Mapping[str, Column], header: Sequence[str]) -> None:
    missing = [_WANTED[role] for role in ROLES if role not in found]
    if missing:
        names = ", ".join(repr(text) for text in header[:12])
        raise PullLogError(
            f"The log has no {' and no '.join(missing)}. Its columns are {names}. "
            "Name the column to use, or export the log with it."
        )


def _ask(found: Mapping[str, Column]) -> None:
    """Refuse a column whose unit is a word that means two; which one it is must be told."""
    for role, column in found.items():
        if column.unit in ASKED:
            raise PullLogError(
                f"The {role} column {column.header!r}: {ASKED_SENTENCE[column.unit]}. Ask who set "
                f"the logger up, and choose {' or '.join(ASKED[column.unit])} as its unit."
            )


def _describe(
    index: int, text: str, sample: Sequence[Sequence[str]], below: str, settled: set[str]
) -> Column | None:
    cells = [row[index].strip() for row in sample if index < len(row)]
    words = _words(text)
    meant = _quantities_meant(words)
    unit, unit_from = _unit(words, meant, below, cells, index, settled)
    if meant == {"OTHER"}:
        return None
    quantity = _quantity(meant, unit, cells)
    if quantity is None:
        return None
    if quantity == "TIME" and unit is None:
        unit, unit_from = _time_unit(cells)
    assumed = unit is None
    if unit is None:
        unit, unit_from = BASE_UNIT[quantity], "nothing that names one: assumed"
    guessed = f"header {text.strip()!r}, unit from {unit_from}"
    return Column(_ROLE_OF[quantity], quantity, text.strip(), index, unit, guessed, assumed)


def _words(text: str) -> list[str]:
    units, text = units_of_many_words(text)
    parts = [word for word in re.split(r"[\s_:;,/()\[\]{}.\-#]+", text) if word]
    torn = [
        [word] if unit_named(word) else re.split(r"(?<=[a-z])(?=[A-Z])(?!Pa$|N$)", word)
        for word in parts
    ]
    return units + [word for words in torn for word in words]


def _quantities_meant(words: Sequence[str]) -> set[str]:
    plain = {word.lower() for word in words}
    if plain & _OTHERS and not ({"date", "time"} & plain == {"date", "time"}):
        return {"OTHER"}
    return {quantity for quantity, known in _WORDS.items() if plain & known}


def _unit(
    words: Sequence[str],
    meant: set[str],
    below: str,
    cells: Sequence[str],
    index: int,
    settled: set[str],
) -> tuple[str | None, str]:
    """Return the unit and what names it; a role in `settled` has its unit told."""
    named = [unit for word in words if (unit := unit_named(word))]
    # "Load in kN": the first is a preposition.
    named = [unit for unit in named if unit != "in"] or named
    fitting = [unit for unit in named if QUANTITY_OF[unit] in meant] or named
    below_unit = unit_named(below) if below else None
    asked = not settled & {_ROLE_OF[quantity] for quantity in meant if quantity in _ROLE_OF}
    if fitting and below_unit and fitting[0] != below_unit and asked:
        raise PullLogError(
            f"Column {index + 1} mixes units: the header says {fitting[0].rstrip('?')}, the line "
            f"under it {below_unit.rstrip('?')}. Say which is right."
        )
    if fitting:
        return fitting[0], "the header"
    if below_unit:
        return below_unit, "the line under the header"
    cell_unit = next((unit for _, unit in map(number_and_unit, cells) if unit), None)
    return cell_unit, "the cells" if cell_unit else ""


def _quantity(meant: set[str], unit: str | None, cells: Sequence[str]) -> str | None:
    """A unit decides; words alone decide without one; where they disagree nothing is guessed."""
    by_unit = QUANTITY_OF.get(unit or "")
    if by_unit:
        # "Load (psi)" is a gauge on the puller; "Pressure (lb)" may be psi or lbf, so ask.
        agrees = by_unit in meant or not meant or (by_unit == "PRESSURE" and "FORCE" in meant)
        return by_unit if agrees else None
    if len(meant) == 1:
        return next(iter(meant))
    if meant:
        return next((q for q in ("DISTANCE", "PRESSURE", "FORCE", "TIME") if q in meant), None)
    times = [cell for cell in cells if looks_iso(cell) or looks_clock(cell)]
    return "TIME" if cells and len(times) == len(cells) else None


def _time_unit(cells: Sequence[str]) -> tuple[str | None, str]:
    if cells and all(looks_iso(cell) for cell in cells):
        return "ISO", "the look of the cells (date and time)"
    if cells and all(looks_clock(cell) for cell in cells):
        return "CLOCK", "the look of the cells (hours:minutes:seconds)"
    return None, ""


def _pick(role: str, described: Sequence[Column | None]) -> Column | None:
    for quantity in _PREFERENCE[role]:
        candidates = [column for column in described if column and column.quantity == quantity]
        if candidates:
            return min(candidates, key=_sureness)
    return None


def _sureness(column: Column) -> tuple[bool, bool, int]:
    return column.unit_assumed, column.unit in ASKED, column.index


def _told(
    role: str,
    name: object,
    unit: object,
    header: Sequence[str],
    described: Sequence[Column | None],
) -> Column:
    index = _told_index(name, header)
    guess = described[index]
    if unit is None and guess is not None and guess.role == role:
        return Column(**{**vars(guess), "guessed_from": f"told: column {header[index]!r}"})
    quantity, code = _told_unit(role, unit, header[index])
    return Column(role, quantity, header[index], index, code, "told, column and unit", unit is None)


def _told_index(name: object, header: Sequence[str]) -> int:
    if isinstance(name, int) and 0 <= name < len(header):
        return name
    wanted = str(name).strip().casefold()
    for index, text in enumerate(header):
        if text.strip().casefold() == wanted:
            return index
    raise PullLogError(
        f"The log has no column {name!r}. Its columns are "
        f"{', '.join(repr(text) for text in header[:12])}."
    )


def _told_unit(role: str, unit: object, text: str) -> tuple[str, str]:
    if unit in ("ISO", "CLOCK") and role == "time":
        return "TIME", str(unit)
    if unit is None:
        quantity = _PREFERENCE[role][0]
        return quantity, BASE_UNIT[quantity]
    code = str(unit) if unit in QUANTITY_OF else unit_named(str(unit))
    named = QUANTITY_OF.get(code) if code else None
    if code is None or named is None or _ROLE_OF[named] != role:
        known = [u for q in _PREFERENCE[role] for u in FACTORS[q]]
        raise PullLogError(
            f"{unit!r} is no unit for the {role} column {text!r}. Use one of {', '.join(known)}."
        )
    return named, code
