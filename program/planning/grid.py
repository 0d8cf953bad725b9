"""A grid of scenarios around a plan: crews, budget and inspections, a few values of each.

Every point is a scenario that can be solved; nothing lies between two of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil

_CREWS = (-1, 0, 1, 2)
_BUDGETS = (0.85, 1.0, 1.15, 1.3)
_PEAKS = (0.7, 0.85, 1.0)  # of the dearest year, where money sets no limit


@dataclass(frozen=True)
class Value:
    """One value of an axis: in words, and the settings that differ from the plan's."""

    label: str
    settings: dict


@dataclass(frozen=True)
class Axis:
    """The values of one slider in rising order, and which of them is the plan's own."""

    key: str
    values: tuple[Value, ...]
    own: int


def crews_axis(crews: Mapping[int, int]) -> Axis:
    """Fewer and more crews than a plan has in its years."""
    alike = len(set(crews.values())) == 1
    steps = [step for step in _CREWS if step >= 0 or min(crews.values()) + step >= 1]
    values = []
    for more in steps:
        if alike:
            number = next(iter(crews.values())) + more
            settings = {"crews": number, "crews_by_year": {}}
            values.append(Value(f"{number:,} {'crew' if number == 1 else 'crews'}", settings))
        else:
            table = {str(year): number + more for year, number in crews.items()}
            word = "crew" if abs(more) == 1 else "crews"
            told = f"{abs(more)} {word} {'fewer' if more < 0 else 'more'} in every year"
            settings = {"crews_by_year": table}
            values.append(Value(told if more else "crews as planned", settings))
    return Axis("crews", tuple(values), steps.index(0))


def budget_axis(
    budgets: Mapping[int, float | None], costs: Sequence[float], by_year: Mapping[str, float]
) -> Axis:
    """Less and more money than a plan has; where money sets no limit, limits below its cost.

    Parameters
    ----------
    budgets : US dollars of each year, None for no limit
    costs : what each year of the plan costs
    by_year : budgets of single years as the plan was asked for
    """
    limited = {year: money for year, money in budgets.items() if money is not None}
    if not limited:
        peak = max(costs, default=0.0)
        limits = sorted({1000 * ceil(part * peak / 1000) for part in _PEAKS})
        values = [Value(f"${money:,.0f} a year", {"budget_per_year": money}) for money in limits]
        return Axis("budget", (*values, Value("no limit of money", {})), len(values))
    values = []
    for part in _BUDGETS:
        table = {
            str(year): money if part == 1 else 1000.0 * ceil(part * money / 1000)
            for year, money in limited.items()
        }
        told = f"${sum(table.values()):,.0f} in all"
        settings = {} if part == 1 else {"budget_by_year": {**by_year, **table}}
        values.append(Value(told, settings))
    return Axis("budget", tuple(values), _BUDGETS.index(1.0))


def inspections_axis(years: int, most: int, unknown: int) -> Axis:
    """Fewer and more years in which all unknown lines are looked at."""
    own = min(years, most)
    numbers = range(max(1, own - 2), min(most, own + 1) + 1) if unknown else [own]
    values = tuple(
        Value(f"in {number} {'year' if number == 1 else 'years'}", {"unknown_years": number})
        for number in numbers
    )
    return Axis("inspections", values, list(numbers).index(own))


def axes_kept(kept: Sequence[Mapping]) -> tuple[Axis, ...]:
    """Return sliders from what `asdict` made of them."""
    return tuple(
        Axis(one["key"], tuple(Value(**value) for value in one["values"]), one["own"])
        for one in kept
    )


def points(axes: Sequence[Axis]) -> Iterator[tuple[int, ...]]:
    """Every point of the grid, the plan's own first, then those ever farther from it.

    Of those as far, the ones with most crews come first: they take longest, by measure.
    """
    every = product(*(range(len(axis.values)) for axis in axes))
    own = tuple(axis.own for axis in axes)
    yield from sorted(
        every,
        key=lambda p: (sum(abs(a - b) for a, b in zip(p, own, strict=True)), [-k for k in p]),
    )


def point_key(point: Sequence[int]) -> str:
    """A point as the key of what was solved there.

    >>> point_key((1, 0, 2))
    '1-0-2'
    """
    return "-".join(map(str, point))
