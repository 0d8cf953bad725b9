"""Guessing which column holds what: by its heading first, by its values where that is safe.

Values never decide which side of a line a material column speaks of; that is asked.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import cache

from rapidfuzz import fuzz, process

from services_inventory.domain.columns import FIELDS, ValueKind, expanded, ignored, plain, usual
from services_inventory.domain.materials import read_material
from services_inventory.intake.columns.cut_headings import ends_in_a_sign, fields_of_cut
from services_inventory.intake.columns.mapping import ColumnMap, MappedColumn

SAMPLE_ROWS = 200
PARTS = frozenset(key for key, field in FIELDS.items() if field.kind is ValueKind.PART)
CLOSE_ENOUGH = 90.0
MOST_MUST_FIT = 0.8
DAY_FIRST = re.compile(r"\s*(\d{1,2})[/.-](\d{1,2})[/.-]\d{4}\b")
CUT = "a heading cut to ten characters"
Guess = tuple[float, str, str, str]
_FIGURES = (
    ValueKind.DATE, ValueKind.YEAR, ValueKind.INSTALLED, ValueKind.DIAMETER, ValueKind.COUNT,
)  # fmt: skip
_WORDS = (ValueKind.MATERIAL, ValueKind.BASIS)
_NOW = frozenset("found observed seen verified inspected result pipe line service current".split())
_DAY = re.compile(r"\s*(\d{4}-\d\d?-\d\d?|\d\d?[/.-]\d\d?[/.-](\d{4}|\d\d))\b")


def guess(header: Sequence[str], sample_rows: Iterable[Sequence] = ()) -> ColumnMap:
    """Guess a file's column map from its headings and a sample of its rows.

    Parameters
    ----------
    header : headings, each once
    sample_rows : rows of cells, at most the first 200 are looked at

    Returns
    -------
    ColumnMap
        Each field and each column at most once; the unmapped columns with a hint.
    """
    rows = [row for _, row in zip(range(SAMPLE_ROWS), sample_rows, strict=False)]
    columns = {
        heading: [row[at] for row in rows if at < len(row) and row[at] not in (None, "")]
        for at, heading in enumerate(header)
        if plain(heading) not in ignored()
    }
    chosen = _best_of(_by_heading(columns))
    chosen |= _best_of(_by_values(columns, chosen))
    if "address" in chosen or "street_name" not in chosen:
        chosen = {field: found for field, found in chosen.items() if field not in PARTS}
    mapped = tuple(chosen[field] for field in FIELDS if field in chosen)
    taken = {column.heading for column in mapped}
    unmapped = tuple((h, _hint(h, columns[h])) for h in columns if h not in taken)
    return ColumnMap(mapped, unmapped, _date_order(mapped, columns))


def _best_of(guesses: Iterable[Guess]) -> dict[str, MappedColumn]:
    """The surest guesses, each field and each column once."""
    order = list(FIELDS)
    chosen: dict[str, MappedColumn] = {}
    taken: set[str] = set()
    ranked = sorted(guesses, key=lambda item: (-item[0], order.index(item[1])))
    for confidence, field, heading, why in ranked:
        if field not in chosen and heading not in taken:
            chosen[field] = MappedColumn(field, heading, round(confidence, 2), why)
            taken.add(heading)
    return chosen


@cache
def _known_headings() -> tuple[dict[str, tuple[str, int]], dict[str, tuple[str, int]]]:
    """Usual headings in plain and in expanded form, with their field and rank in its list."""
    as_written: dict[str, tuple[str, int]] = {}
    written_out: dict[str, tuple[str, int]] = {}
    for field in FIELDS.values():
        for rank, heading in enumerate((field.key, *field.headings, *field.also)):
            as_written.setdefault(plain(heading), (field.key, rank))
            written_out.setdefault(expanded(heading), (field.key, rank))
    return as_written, written_out


def _by_heading(columns: dict[str, list]) -> Iterable[Guess]:
    for heading, values in columns.items():
        found = None if ends_in_a_sign(heading) else _by_usual(heading)
        if found and not _contradicts(FIELDS[found[1]].kind, values):
            yield found
    yield from _by_cut(columns)


def _by_usual(heading: str) -> Guess | None:
    as_written, written_out = _known_headings()
    form, full = usual(heading), expanded(heading)
    if form in as_written:
        field, rank = as_written[form]
        return 1.0 - rank / 1000, field, heading, "The heading is a usual one."
    if full in written_out:
        field, rank = written_out[full]
        return 0.95 - rank / 1000, field, heading, "The heading is a usual one, abbreviated."
    if fields_of_cut(heading)[0]:
        return None
    near = process.extractOne(
        full, list(written_out), scorer=fuzz.token_sort_ratio, score_cutoff=CLOSE_ENOUGH
    )
    if near is None or not _same_side(full, near[0]):
        return None
    field, rank = written_out[near[0]]
    sure, why = near[1] / 100 * 0.9, f"The heading is close to {near[0]!r}."
    return sure - rank / 1000, field, heading, why


def _by_cut(columns: dict[str, list]) -> Iterable[Guess]:
    """Guesses from headings cut to ten characters, where one field alone and one column fits."""
    begun: dict[str, list[str]] = {}
    for heading, values in columns.items():
        possible, likely = fields_of_cut(heading)
        if len(possible) == 1 and likely and not _by_usual(heading):
            (field,) = possible
            if not (_contradicts(FIELDS[field].kind, values) or _holds_words(field, values)):
                begun.setdefault(field, []).append(heading)
    for field, headings in begun.items():
        if len(headings) == 1:
            yield 0.8, field, headings[0], f"It is {CUT}."


def _holds_words(field: str, values: list) -> bool:
    """Whether most values have no figure though the field asks for a day, a year or a size."""
    if FIELDS[field].kind not in _FIGURES or not values:
        return False
    return _share(values, lambda value: any(map(str.isdigit, str(value)))) < 0.5


def _same_side(one: str, other: str) -> bool:
    """Whether both speak of the same side: system and customer are never mixed up."""
    sides = ("system", "customer", "former")
    return all((side in one.split()) == (side in other.split()) for side in sides)


def _contradicts(kind: ValueKind, values: list) -> bool:
    """Whether the values can't be what the heading promises."""
    if kind in (ValueKind.LATITUDE, ValueKind.LONGITUDE) and values:
        return _share(values, lambda value: _number(value) is not None) < 0.5
    return kind in _WORDS and _share(values, _is_day) >= MOST_MUST_FIT


def _by_values(columns: dict[str, list], chosen: dict[str, MappedColumn]) -> Iterable[Guess]:
    taken = {column.heading for column in chosen.values()}
    for heading, values in columns.items():
        if heading in taken or len(values) < 3:
            continue
        for field, fits, why in (*_VALUE_TESTS, *_of_a_side(heading)):
            if field not in chosen and _share(values, fits) >= MOST_MUST_FIT:
                yield 0.6, field, heading, why


def _of_a_side(heading: str) -> Iterable[tuple[str, Callable, str]]:
    """What materials under a heading that names one side, and no other time than now, are of."""
    said = set(expanded(heading).split())
    for side in ("system", "customer"):
        if side in said and said - {side} <= _NOW:
            why = "The heading names the side, and the values are materials."
            yield f"{side}_material", _is_material, why


def _is_material(value) -> bool:
    return bool(read_material(str(value)).code)


def _number(value) -> float | None:
    try:
        return float(value)
    except (TypeError, ValueError):
        return None


def _decimal_between(low: float, high: float):
    def fits(value) -> bool:
        number = _number(value)
        return number is not None and low <= number <= high and number != int(number)

    return fits


_ADDRESS = re.compile(r"\s*\d+[A-Za-z]?(-\d+)?\s+[A-Za-z0-9.' ]*[A-Za-z]{2}")
_POINT = re.compile(r"\s*POINT\s*Z?\s*\(", re.IGNORECASE)
_PAIR = re.compile(r"\s*\(?\s*\d{2}\.\d{3,}\s*[,;]\s*-\d{2,3}\.\d{3,}\s*\)?\s*")

# Latitudes and longitudes of the United States and its territories.
_VALUE_TESTS = (
    ("latitude", _decimal_between(13, 72), "The values are latitudes."),
    ("longitude", _decimal_between(-180, -64), "The values are longitudes."),
    ("geometry", lambda value: bool(_POINT.match(str(value))), "The values are points."),
    ("geometry", lambda value: bool(_PAIR.fullmatch(str(value))), "The values are positions."),
    ("address", lambda value: bool(_ADDRESS.match(str(value))), "The values are addresses."),
)


def _share(values: list, fits) -> float:
    return sum(map(bool, map(fits, values))) / len(values) if values else 0.0


def _hint(heading: str, values: list) -> str:
    """What an unmapped column seems to hold."""
    if len(values) >= 3 and _share(values, _is_material) >= MOST_MUST_FIT:
        return "It holds materials; say whether of the system side or the customer side."
    if len(values) >= 3 and _share(values, _is_year) >= MOST_MUST_FIT:
        return "It holds years; say of what."
    if len(values) >= 3 and _share(values, _is_day) >= MOST_MUST_FIT:
        return "It holds days; say what was done on them."
    return ""


def _is_day(value) -> bool:
    return isinstance(value, date) or bool(_DAY.match(str(value)))


def _is_year(value) -> bool:
    number = _number(value)
    return number is not None and number == int(number) and 1800 <= number <= 2100


def _date_order(mapped: tuple[MappedColumn, ...], columns: dict[str, list]) -> str:
    """DMY when a date's first number can be no month and no second number is above 12."""
    first = second = 0
    for column in mapped:
        if FIELDS[column.field].kind in (ValueKind.DATE, ValueKind.INSTALLED):
            for value in columns[column.heading]:
                if found := DAY_FIRST.match(str(value)):
                    first, second = max(first, int(found[1])), max(second, int(found[2]))
    return "DMY" if first > 12 >= second else "MDY"
