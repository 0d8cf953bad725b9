"""Sentences on settings of a plan that cannot be, whatever the town looks like."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import TYPE_CHECKING

from program.planning.defaults import default
from program.planning.priority import Normalization

if TYPE_CHECKING:
    from program.queries.planning.asked import PlanAsked


FIGURES = ("need_index", "coordinated_work", "lead_results")

WEEK = frozenset(range(7))
MOST_DAYS_OFF = 366
FAR = 10**15  # what is longer is shown by its first digits


def problems(asked: PlanAsked) -> list[str]:
    """Return what to change; empty when the settings can be drawn from."""
    return list(_wrong_numbers(asked)) or list(_wrong_tables(asked)) or list(_wrong_shapes(asked))


def _wrong_numbers(asked: PlanAsked):
    rows = (
        ("crews", 0, 1000, True),
        ("budget_per_year", 0, 1e12, False),
        ("jobs_per_crew_day", 0.01, 100, False),
        ("area_least", 1, 10_000, True),
        ("area_target", 1, 10_000, True),
        ("area_most", 1, 100_000, True),
        ("cost_per_job", 0, 1e7, False),
        ("cost_per_inspection", 0, 1e6, False),
        ("unknown_years", 1, 50, True),
        ("consent_lead_days", 0, 730, True),
        ("runs", 100, 100_000, True),
        ("seed", 0, 2**31 - 1, True),
    )
    for name, low, high, whole in rows:
        value = getattr(asked, name)
        if value is not None:
            yield from _wrong_number(_words(name), value, low, high, whole)


def _wrong_number(what: str, value, low: float, high: float, whole: bool):
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not _is_finite(value) or (whole and value != int(value)):
        yield f"{what} is {value!r}: give {'a whole number' if whole else 'a number'}."
    elif not low <= value <= high:
        shown = f"{value:,g}" if abs(value) < FAR else f"{str(value)[:12]}…"
        yield f"{what} is {shown}: give {low:g} to {high:,g}."


def _wrong_tables(asked: PlanAsked):
    for name in (
        "weights",
        "normalizations",
        "figures",
        "quotas",
        "closed_years",
        "crews_by_year",
        "budget_by_year",
    ):
        if not isinstance(getattr(asked, name), dict):
            yield f"{_words(name)} must be a table of names and values."
    for name in ("seasons", "windows"):
        rows = getattr(asked, name)
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            yield f"{_words(name)} must be a list of tables."


def _wrong_shapes(asked: PlanAsked):
    yield from _wrong_years(asked)
    yield from _wrong_weights(asked)
    for hood, figures in asked.figures.items():
        yield from _wrong_figures(hood, figures)
    for place, quota in asked.quotas.items():
        yield from _wrong_quota(place, quota)
    for place, years in asked.closed_years.items():
        if not _are_years(years):
            yield f"The closed years of {place} must be a list of program years, such as [4, 5]."
    yield from _wrong_seasons(asked.seasons)
    names = {row.get("name") for row in asked.seasons}
    for row in asked.windows:
        yield from _wrong_window(row, names)
    yield from _wrong_days(asked)
    if asked.frost is not None and not _is_season(asked.frost):
        yield (
            "The frost season must be its first and last day, as [[12, 1], [3, 15]] for "
            "1 December to 15 March."
        )


def _wrong_days(asked: PlanAsked):
    if not (_are_years(asked.weekdays) and asked.weekdays) or not set(asked.weekdays) <= WEEK:
        yield "The working days must be a list of weekdays, from Monday as 0 to Sunday as 6."
    spans = asked.days_off if isinstance(asked.days_off, list) else [asked.days_off]
    if wrong := [span for span in spans if not _is_span(span)]:
        yield (
            f"The days off {wrong[0]!r} can't be: give the first and the last day as YYYY-MM-DD, "
            "the first not after the last, within a year."
        )
    if not isinstance(asked.unlocked, list) or not all(isinstance(k, str) for k in asked.unlocked):
        yield "The areas to unlock must be a list of names."


def _wrong_years(asked: PlanAsked):
    tables = (
        ("Crews", asked.crews_by_year, 1000, True),
        ("The budget", asked.budget_by_year, 1e12, False),
    )
    for what, table, high, whole in tables:
        for year, value in table.items():
            if not (isinstance(year, str) and year.isdecimal() and int(year) > 0):
                yield f"{what} by year: {year!r} is no program year; give 1, 2 and so on."
                continue
            yield from _wrong_number(f"{what} of program year {year}", value, 0, high, whole)


def _wrong_weights(asked: PlanAsked):
    keys = {row["key"] for row in default("priority_factors")}
    if strange := sorted({*asked.weights, *asked.normalizations} - keys):
        yield f"There is no priority factor {strange[0]!r}; there are {', '.join(sorted(keys))}."
    for key, value in asked.normalizations.items():
        if value not in list(Normalization):
            yield (
                f"The normalization of {key} is {value!r}: give one of {', '.join(Normalization)}."
            )
    for key, value in asked.weights.items():
        if not isinstance(value, int | float) or not _is_finite(value) or value < 0:
            yield f"The weight of {key} is {value!r}: give a number, zero or more."


def _wrong_figures(hood: str, figures):
    if not isinstance(figures, dict):
        yield f"The figures of {hood} must be a table of names and numbers."
        return
    for name, value in figures.items():
        if name not in FIGURES:
            yield f"{hood} has no figure {name!r}; there are {', '.join(FIGURES)}."
        elif not isinstance(value, int | float) or isinstance(value, bool) or not _is_finite(value):
            yield f"The {name.replace('_', ' ')} of {hood} is {value!r}: give a number."


def _wrong_quota(place: str, quota):
    share, years = quota, [1]
    if isinstance(quota, dict):
        share, years = quota.get("share"), quota.get("years", [1])
    if not isinstance(share, int | float) or not _is_finite(share) or share < 0:
        yield f"The quota of {place} is {share!r}: give a number, zero or more."
    if not _are_years(years):
        yield f"The quota of {place} must name its program years as a list, such as [1, 2, 3]."


def _are_years(years) -> bool:
    return isinstance(years, list) and all(
        isinstance(year, int) and not isinstance(year, bool) for year in years
    )


def _wrong_seasons(seasons: list):
    seen: set[str] = set()
    days: dict[tuple[int, int], str] = {}
    for row in seasons:
        name, crews = row.get("name"), row.get("crews")
        if not isinstance(name, str) or not name.strip() or name in seen:
            yield f"A season needs a name of its own: {name!r} is none, or is given twice."
            continue
        seen.add(name)
        if not _is_season((row.get("first"), row.get("last"))):
            yield (
                f"The season {name} needs its first and last day, such as [12, 1] and [3, 31] for "
                "1 December to 31 March."
            )
            continue
        if crews is not None:
            yield from _wrong_number(f"Crews in the season {name}", crews, 0, 1000, True)
        for day in days_of_season(row):
            if other := days.setdefault(day, name):
                if other != name:
                    yield f"The seasons {other} and {name} overlap: let each day be in one."
                    break


def _wrong_window(row: dict, seasons):
    place, kind = row.get("place"), row.get("kind")
    if not isinstance(place, str) or not place.strip():
        yield "A closure or window needs its place: a neighborhood or a street."
    elif kind in ("CLOSED", "ONLY"):
        first, last = _day(row.get("first")), _day(row.get("last"))
        if first is None or last is None or first > last:
            yield (
                f"{place}: give the first and the last day as YYYY-MM-DD, the first not after the "
                "last."
            )
    elif kind == "SEASONS":
        named = row.get("seasons")
        if not isinstance(named, list) or not named:
            yield f"{place}: name the seasons in which it may be worked."
        elif strange := sorted(set(named) - set(seasons), key=str):
            known = ", ".join(sorted(seasons)) or "no seasons yet"
            yield f"{place}: there is no season {strange[0]!r}; there are {known}."
    else:
        yield f"{place}: {kind!r} is no kind of window; there are CLOSED, ONLY and SEASONS."


def days_of_season(row: dict) -> list[tuple[int, int]]:
    """Return every (month, day) of a season; one over new year wraps round."""
    first, last = tuple(row["first"]), tuple(row["last"])
    # A leap year, so that 29 February is a day.
    year = [date.fromordinal(date(2028, 1, 1).toordinal() + k) for k in range(366)]
    marks = [(day.month, day.day) for day in year]
    if first <= last:
        return [mark for mark in marks if first <= mark <= last]
    return [mark for mark in marks if mark >= first or mark <= last]


def _is_season(value) -> bool:
    try:
        (m1, d1), (m2, d2) = value
        return bool(date(2028, m1, d1) and date(2028, m2, d2))
    except (TypeError, ValueError):
        return False


def _is_span(value) -> bool:
    if not isinstance(value, list | tuple) or len(value) != 2:
        return False
    first, last = map(_day, value)
    return first is not None and last is not None and 0 <= (last - first).days < MOST_DAYS_OFF


def _day(value) -> date | None:
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        return None


def _words(name: str) -> str:
    return name.replace("_", " ").capitalize()


def _is_finite(value: float) -> bool:
    """Whether a number has an end; a whole one always has, however long it is."""
    return isinstance(value, int) or isfinite(value)
