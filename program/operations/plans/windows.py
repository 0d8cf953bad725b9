"""Moratoria, paving windows and quotas by name: which work areas they mean, and what they close."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from difflib import get_close_matches
from math import ceil

from program.operations.plans.horizon import Horizon
from program.planning.crew_calendar import working_days
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.calendar import season_spans, work_days_of
from replacements.models import StreetClosure
from services_inventory.domain.addresses import normalize
from services_inventory.models import Premise

Span = tuple[date, date]


class NamedPlaces:
    """The work areas that a neighborhood, a street or an area's own name stands for."""

    def __init__(self, grouping, lines, hoods):
        self._areas: dict[str, set[str]] = {name.upper(): set() for name in hoods}
        for area in grouping.areas:
            streets = {lines[line_id].street for line_id in area.line_ids}
            for name in {area.neighborhood, area.id, *streets} - {""}:
                self._areas.setdefault(name.upper(), set()).add(area.id)

    def areas(self, what: str, name: str) -> frozenset[str]:
        """The ids of the areas meant; none for a street without open lines.

        Parameters
        ----------
        what : what names the place, as a sentence begins with it
        name : several places may be joined by " + "

        Raises
        ------
        PlanError: there is no such neighborhood, street or area.
        """
        found: set[str] = set()
        for part in filter(None, map(str.strip, name.split(" + "))):
            found |= self._one(what, part)
        return frozenset(found)

    def _one(self, what: str, name: str) -> set[str]:
        street = normalize(f"1 {name}").street_key
        for key in (name.upper(), street):
            if key in self._areas:
                return self._areas[key]
        if street and Premise.objects.filter(street_key=street).exists():
            return set()
        near = get_close_matches(name.upper(), self._areas, 3, 0.6)
        meant = f" Is {' or '.join(near)} meant?" if near else ""
        raise PlanError(
            f"{what} {name!r}, which is no neighborhood, no street with lines and no work area of "
            f"the plan.{meant}"
        )


@dataclass(frozen=True)
class AreaWindow:
    """What is closed to one area: program years, spans of days; and its seasons (None for all)."""

    years: frozenset[int] = frozenset()
    spans: tuple[Span, ...] = ()
    seasons: frozenset[str] | None = None


def area_windows(
    asked: PlanAsked, places: NamedPlaces, horizon: Horizon, faces: dict[str, list[StreetClosure]]
) -> dict[str, AreaWindow]:
    """Return the windows of every area that has any, by its id.

    Parameters
    ----------
    faces : by area the closures of its block faces

    Raises
    ------
    PlanError: a closure or window names no place of the plan.
    """
    rules: dict[str, list[tuple]] = {}
    for name, years in asked.closed_years.items():
        for area in places.areas("The closed years name", name):
            rules.setdefault(area, []).append(("YEARS", years))
    for row in asked.windows:
        for area in places.areas("The closures and windows name", row["place"]):
            rules.setdefault(area, []).append((row["kind"], row))
    for area, closures in faces.items():
        days = [(row.first_day.isoformat(), row.last_day.isoformat()) for row in closures]
        told = [("CLOSED", {"first": first, "last": last}) for first, last in days]
        rules.setdefault(area, []).extend(told)
    first = horizon.years[0].first_day
    # Work that runs late meets the closures of the years after the plan, too.
    last = horizon.years[-1].last_day + timedelta(days=731)
    return {area: _window(asked, found, first, last) for area, found in rules.items()}


def _window(asked: PlanAsked, rules: list[tuple], first: date, last: date) -> AreaWindow:
    years = {year for kind, found in rules if kind == "YEARS" for year in found}
    spans = [_span(row) for kind, row in rules if kind == "CLOSED"]
    only = [_span(row) for kind, row in rules if kind == "ONLY"]
    if only:
        spans += outside(only, first, last)
    named = [set(row["seasons"]) for kind, row in rules if kind == "SEASONS"]
    seasons = frozenset(set.intersection(*named)) if named else None
    if seasons is not None:
        rows = [row for row in asked.seasons if row["name"] in seasons]
        within = [span for row in rows for span in season_spans(row, first, last)]
        spans += outside(within, first, last)
    clipped = [(max(a, first), min(b, last)) for a, b in spans if a <= last and b >= first]
    return AreaWindow(frozenset(years), tuple(sorted(clipped)), seasons)


def _span(row: dict) -> Span:
    return date.fromisoformat(row["first"]), date.fromisoformat(row["last"])


def outside(spans: list[Span], first: date, last: date) -> list[Span]:
    """Return the spans of days from first to last that lie in none of those given."""
    found, day = [], first
    for start, end in sorted(spans):
        if start > day:
            found.append((day, min(last, start - timedelta(1))))
        day = max(day, end + timedelta(1))
    if day <= last:
        found.append((day, last))
    return [(a, b) for a, b in found if a <= b]


class OpenYears:
    """In which program years an area has days enough for its jobs."""

    def __init__(self, asked: PlanAsked, horizon: Horizon, as_of: date):
        self._asked = asked
        days = work_days_of(asked)
        self._days = {
            year.year: working_days(days, max(as_of, year.first_day), year.last_day)
            for year in horizon.years
        }

    def of(self, window: AreaWindow | None, jobs: int) -> frozenset[int] | None:
        """The years open to an area of so many jobs; None where every one is."""
        if window is None or not (window.years or window.spans):
            return None
        needed = ceil(jobs / self._asked.jobs_a_day)
        return frozenset(
            year
            for year, days in self._days.items()
            if year not in window.years and self._enough(days, window.spans, needed)
        )

    @staticmethod
    def _enough(days, spans, needed: int) -> bool:
        if not spans:
            return True
        # A year short of days for every area alike is not the window's doing.
        left = sum(not any(a <= day <= b for a, b in spans) for day in days)
        return left >= min(needed, len(days)) and left > 0
