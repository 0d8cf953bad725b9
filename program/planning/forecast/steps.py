"""What each next step adds to the odds, played on the same luck as the plan without it.

A step's points are the mean over the runs of (success with it) less (success without it), so their
standard error and how the steps vary together come from the runs themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from program.planning.forecast.case import ForecastCase
from program.planning.forecast.playing import drawn, played

if TYPE_CHECKING:
    import numpy as np

TWO_SIDED_95 = 1.96


@dataclass(frozen=True)
class Effects:
    """Points (0 to 100) that each step adds to the odds, and the covariance of these figures."""

    points: list[float]
    covariance: list[list[float]]


def success(case: ForecastCase) -> np.ndarray:
    """Whether each run holds every assessment and has all agreed lines replaced in time.

    Raises
    ------
    BadForecast : the case can't be played through.
    """
    found = played(case, drawn(case))
    return found.meets(case)[:, case.assessed].all(axis=1) & found.complete[:, case.due]


def effects(without: np.ndarray, with_each: Sequence[np.ndarray]) -> Effects:
    """Return the effect of each step from the runs' successes without and with it."""
    import numpy as np

    if not with_each:
        return Effects([], [])
    gains = 100.0 * (np.array(with_each, dtype=float) - without.astype(float))
    runs = max(2, gains.shape[1])
    varies = np.atleast_2d(np.cov(gains)) / runs
    return Effects([float(gain) for gain in gains.mean(axis=1)], varies.tolist())


@dataclass(frozen=True)
class Ranked:
    """One step's place: `rank` is shared by those that can't be told from the first of the rank.

    `error` is the standard error of the points; `seen` whether they differ from none at all.
    """

    index: int
    rank: int | None
    points: float
    error: float
    a_dollar: float
    seen: bool


def ranked(found: Effects, dollars: Sequence[float]) -> list[Ranked]:
    """Return the steps by points for a dollar; those without any effect to be seen come last.

    dollars : what each step costs, above 0
    """
    rows = []
    for k, points in enumerate(found.points):
        error = sqrt(max(0.0, found.covariance[k][k]))
        seen = points > 0 and points > TWO_SIDED_95 * error
        rows.append(Ranked(k, None, points, error, points / dollars[k], seen))
    rows.sort(key=lambda row: (not row.seen, -row.a_dollar))
    told: list[Ranked] = []
    first: Ranked | None = None
    for place, row in enumerate(rows, start=1):
        if not row.seen:
            told.append(row)
            continue
        if first is None or _apart(found, dollars, first, row):
            first = Ranked(row.index, place, row.points, row.error, row.a_dollar, row.seen)
        told.append(
            Ranked(row.index, first.rank, row.points, row.error, row.a_dollar, row.seen)
        )  # fmt: skip
    return told


def _apart(found: Effects, dollars: Sequence[float], one: Ranked, other: Ranked) -> bool:
    """Whether two steps' points for a dollar differ by more than the runs' own noise."""
    i, j, cov = one.index, other.index, found.covariance
    varies = (
        cov[i][i] / dollars[i] ** 2
        + cov[j][j] / dollars[j] ** 2
        - 2 * cov[i][j] / (dollars[i] * dollars[j])
    )
    return one.a_dollar - other.a_dollar > TWO_SIDED_95 * sqrt(max(0.0, varies))
