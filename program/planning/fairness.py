"""Who waits how long under a plan: neighborhoods in quarters of an index, and the days they wait.

A neighborhood is never divided, and neighborhoods of the same figure stay together, so that
quarters hold about a quarter of the lines each and not exactly. Nobody's order is changed here; it
is shown.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

QUARTERS = ("Most need", "More need", "Less need", "Least need")
NO_FIGURE = "No figure"


@dataclass(frozen=True)
class PlacedLines:
    """Lines of one work area: known lead and GRR and those expected, and the days until its end.

    `days` is None for an area that the plan gives no year.
    """

    place: str
    lines: float
    days: int | None
    year: int | None = None


@dataclass(frozen=True)
class Quarter:
    """One quarter of the index; the days are means over the lines that have a year."""

    label: str
    places: tuple[tuple[str, float | None], ...]
    lines: float
    planned: float
    mean_days: float | None
    longest_days: int | None
    by_year: dict[int, float]

    @property
    def longest_years(self) -> float | None:
        """Longest wait in years."""
        return None if self.longest_days is None else self.longest_days / 365.25

    @property
    def years(self) -> float | None:
        """Mean wait in years."""
        return None if self.mean_days is None else self.mean_days / 365.25


def quarters(
    areas: Iterable[PlacedLines], index: dict[str, float | None], *, high_first: bool = True
) -> list[Quarter]:
    """Return the quarters from most need to least, those with no figure last, empty ones left out.

    Parameters
    ----------
    index : the figure of each neighborhood; None or left out where it has none
    high_first : whether a high figure is more need (a deprivation index) or less (an income)
    """
    own: dict[str, list[PlacedLines]] = {}
    for area in areas:
        own.setdefault(area.place, []).append(area)
    lines = {place: sum(area.lines for area in rows) for place, rows in own.items()}
    sign = -1 if high_first else 1
    figured = sorted(
        (sign * figure, place) for place in own if (figure := index.get(place)) is not None
    )
    whole = sum(lines[place] for _, place in figured)
    members: dict[str, list[str]] = {label: [] for label in (*QUARTERS, NO_FIGURE)}
    before = 0.0
    for _, same in groupby(figured, key=lambda row: row[0]):
        places = [place for _, place in same]
        size = sum(lines[place] for place in places)
        middle = (before + size / 2) / whole if whole else 0.0
        members[QUARTERS[min(3, int(4 * middle))]] += places
        before += size
    members[NO_FIGURE] = sorted(place for place in own if index.get(place) is None)
    return [
        _quarter(label, [(place, index.get(place)) for place in places], own)
        for label, places in members.items()
        if places
    ]


def _quarter(label: str, places, own: dict[str, list[PlacedLines]]) -> Quarter:
    areas = [area for place, _ in places for area in own[place]]
    placed = [(area, area.days) for area in areas if area.days is not None]
    planned = sum(area.lines for area, _ in placed)
    by_year: dict[int, float] = {}
    for area, _ in placed:
        if area.year is not None:
            by_year[area.year] = by_year.get(area.year, 0.0) + area.lines
    return Quarter(
        label,
        tuple(places),
        sum(area.lines for area in areas),
        planned,
        sum(area.lines * days for area, days in placed) / planned if planned else None,
        max((days for area, days in placed if area.lines), default=None),
        by_year,
    )


def sentence(found: list[Quarter], name: str) -> str:
    """Compare the neediest with the least needy in words."""
    told = [row for row in found if row.label != NO_FIGURE and row.mean_days is not None]
    if len(told) < 2:
        return f"{name}: too few neighborhoods have a figure to compare who waits how long."
    most, least = told[0], told[-1]
    gap = (least.mean_days or 0) - (most.mean_days or 0)
    if abs(gap) < 7:
        said = "which differs by less than a week"
    else:
        months = abs(gap) / 30.4375
        long = f"{months:.1f} months" if months >= 1 else f"{abs(gap):.0f} days"
        said = f"so those of most need wait {long} {'less' if gap > 0 else 'more'}"
    return (
        f"By “{name}”, lines in the neighborhoods of most need are replaced after "
        f"{most.years:.1f} years on average, those in the neighborhoods of least need after "
        f"{least.years:.1f}: {said}."
    )
