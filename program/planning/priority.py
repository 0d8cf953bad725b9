"""Which neighborhood first: a score from weighed, normalized factors, opened into its parts.

Weights, normalization and area quotas are settings of the utility; federal law prescribes none.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from program.planning.defaults import planning_defaults
from services_inventory.domain.labels import Labeled


class Normalization(Labeled):
    """How a factor's raw values become 0 to 1 over all places scored."""

    SHARE_OF_MAX = "SHARE_OF_MAX", "share of the highest"
    MIN_MAX = "MIN_MAX", "between lowest and highest"
    RANK = "RANK", "by rank"


class WhenMissing(StrEnum):
    """What a place without a value gets for the factor."""

    ZERO = "ZERO"
    MIDDLE = "MIDDLE"


@dataclass(frozen=True)
class Factor:
    """One factor: its weight, its normalization, and what it is divided by (a count) if anything.

    `per` names the figure that the raw value is divided by first, e.g. lines or population.
    `high_first` is False where a low value means more need (an income index).
    """

    key: str
    label: str
    weight: float
    normalization: Normalization = Normalization.SHARE_OF_MAX
    per: str = ""
    high_first: bool = True
    when_missing: WhenMissing = WhenMissing.ZERO


@dataclass(frozen=True)
class Part:
    """What one factor adds to one score."""

    key: str
    raw: float | None
    divided: float | None
    normalized: float
    weight: float
    points: float


@dataclass(frozen=True)
class Score:
    """A place's score, its rank (1 first; equals share the better rank) and its parts."""

    place: str
    points: float
    rank: int
    parts: tuple[Part, ...]

    def sentence(self) -> str:
        """The score in words, the largest part first."""
        parts = sorted(self.parts, key=lambda part: (-part.points, part.key))
        told = ", ".join(f"{part.key} {part.points:.1f}" for part in parts)
        return f"{self.place}: {self.points:.1f} points, rank {self.rank} ({told})."


class BadPriority(ValueError):
    """Weights or quotas that give no ranking; the message says what to change."""


def default_factors() -> tuple[Factor, ...]:
    """The shipped factors; every weight is a starting value to be owned by the utility."""
    rows = planning_defaults()["priority_factors"].value
    return tuple(
        Factor(
            row["key"],
            row["label"],
            row["weight"],
            Normalization(row["normalization"]),
            row.get("per", ""),
            row.get("high_first", True),
            WhenMissing(row.get("when_missing", "ZERO")),
        )
        for row in rows
    )


def scores(places: dict[str, dict[str, float | None]], factors=None, scale: float = 1000.0):
    """Score every place from 0 to `scale`.

    Parameters
    ----------
    places : figures by key for each place; a figure left out or None is missing.

    Returns
    -------
    list of Score, the highest first, equal scores by name.

    Raises
    ------
    BadPriority : there are no factors, a weight is negative, or all weights are zero.
    """
    factors = tuple(default_factors() if factors is None else factors)
    total = _total_weight(factors)
    names = sorted(places)
    columns = {factor.key: _normalized(factor, names, places) for factor in factors}
    scored = []
    for row, name in enumerate(names):
        parts = tuple(
            Part(
                factor.key,
                places[name].get(factor.key),
                columns[factor.key][row][0],
                columns[factor.key][row][1],
                factor.weight,
                scale * factor.weight / total * columns[factor.key][row][1],
            )
            for factor in factors
        )
        scored.append((name, sum(part.points for part in parts), parts))
    scored.sort(key=lambda item: (-round(item[1], 9), item[0]))
    return _ranked(scored)


def export_rows(scored) -> list[dict[str, object]]:
    """One flat row per place with every part, enough to work the score out again by hand."""
    rows = []
    for score in scored:
        row: dict[str, object] = {
            "place": score.place,
            "rank": score.rank,
            "points": round(score.points, 6),
        }
        for part in score.parts:
            row[f"{part.key}_raw"] = part.raw
            row[f"{part.key}_divided"] = part.divided
            row[f"{part.key}_normalized"] = round(part.normalized, 6)
            row[f"{part.key}_weight"] = part.weight
            row[f"{part.key}_points"] = round(part.points, 6)
        rows.append(row)
    return rows


def missing(places: dict[str, dict[str, float | None]], factors=None) -> list[str]:
    """Sentences on the figures that are not there, and what stands in for them."""
    told = []
    for factor in factors or default_factors():
        gone = [name for name in sorted(places) if _divided(factor, places[name]) is None]
        if gone:
            stand_in = "nothing" if factor.when_missing == WhenMissing.ZERO else "the middle value"
            told.append(
                f"{factor.label} is missing for {', '.join(gone)}: {stand_in} was taken. Enter it, "
                "or set the weight to zero."
            )
    return told


def area_priority(points: float, known_lead: float, expected_lead: float, scale: float = 1000.0):
    """Risk weight of a work area for the solver: its expected lead lines, raised by the score.

    An area in a place of full score weighs twice its lead lines, one of score nought just them.
    """
    return (known_lead + expected_lead) * (1.0 + points / scale)


def _total_weight(factors) -> float:
    if not factors:
        raise BadPriority("There are no factors to rank by: give at least one a weight.")
    for factor in factors:
        if not (isfinite(factor.weight) and factor.weight >= 0):
            raise BadPriority(f"The weight of {factor.label} must be a number, zero or more.")
    total = sum(factor.weight for factor in factors)
    if total <= 0:
        raise BadPriority("All weights are zero, so nothing ranks: give at least one a weight.")
    return total


def _divided(factor: Factor, figures) -> float | None:
    raw = figures.get(factor.key)
    if raw is None or not factor.per:
        return raw
    by = figures.get(factor.per)
    return raw / by if by else None


def _normalized(factor: Factor, names, places) -> list[tuple[float | None, float]]:
    values = [_divided(factor, places[name]) for name in names]
    present = sorted(value for value in values if value is not None)
    if not present:
        return [(None, 0.0) for _ in names]
    rate = _RATES[factor.normalization](present)
    stand_in = 0.0 if factor.when_missing == WhenMissing.ZERO else 0.5
    out: list[tuple[float | None, float]] = []
    for value in values:
        if value is None:
            out.append((None, stand_in))
            continue
        share = min(1.0, max(0.0, rate(value)))
        out.append((value, share if factor.high_first else 1.0 - share))
    return out


def _share_of_max(present):
    top = present[-1]
    return lambda value: value / top if top > 0 else 0.0


def _min_max(present):
    low, high = present[0], present[-1]
    return lambda value: (value - low) / (high - low) if high > low else 0.0


def _rank(present):
    if len(present) == 1:
        return lambda value: 0.0
    return lambda value: sum(other < value for other in present) / (len(present) - 1)


_RATES = {
    Normalization.SHARE_OF_MAX: _share_of_max,
    Normalization.MIN_MAX: _min_max,
    Normalization.RANK: _rank,
}


def _ranked(scored) -> list[Score]:
    ranked: list[Score] = []
    for place, (name, points, parts) in enumerate(scored, start=1):
        same = ranked and abs(ranked[-1].points - points) < 1e-9
        ranked.append(Score(name, points, ranked[-1].rank if same else place, parts))
    return ranked
