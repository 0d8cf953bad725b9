"""Neighborhoods as the plan ranks them: known and expected lead, schools, indices, consent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from program.planning.priority import Normalization, Score, default_factors, missing, scores
from program.planning.unknowns import Comparison, LeadShares, choose, interval
from program.planning.unknowns.features import BadUnknowns
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.census import census_in_force
from program.queries.planning.facts import unknown_facts, verified_facts
from program.queries.planning.pool import HoodFacts, OpenLine, sensitive_counts
from program.queries.planning.setting_tables import FIGURES
from services_inventory.domain.days import day_told

if TYPE_CHECKING:
    import numpy as np

DRAWS = 4_000  # shares of lead that may be true together, drawn for each neighborhood


@dataclass(frozen=True)
class UnknownLines:
    """Probability of lead or GRR by location id, and how it was come by.

    `shares` holds by neighborhood draws of the share among its unknown lines; those at one place
    may be true together.
    """

    chances: dict[str, float]
    shares: dict[str, np.ndarray]
    comparison: Comparison | None
    sentences: tuple[str, ...]


def unknown_lines(lines: list[OpenLine], seed: int) -> UnknownLines:
    """Return the chance of every unknown line, and what its neighborhood's share may be."""
    asked = unknown_facts(lines)
    if not asked:
        return UnknownLines({}, {}, None, ("No line is unknown.",))
    verified, told = verified_facts(seed)
    try:
        chances, shares, comparison = choose(verified, asked, seed=seed)
    except BadUnknowns as error:
        half = dict.fromkeys((fact.id for fact in asked), 0.5)
        said = f"{error} Until then one unknown line in two is taken to be lead."
        return UnknownLines(half, {}, None, (said,))
    drawn = _shares(asked, chances, shares, seed)
    said = comparison.sentence() if comparison else (
        "Too few lines are verified to judge a model, so the neighborhood and decade rate is used."
    )  # fmt: skip
    return UnknownLines(chances, drawn, comparison, (told, said))


def _shares(asked, chances, shares: LeadShares, seed: int) -> dict[str, np.ndarray]:
    """Draws of each neighborhood's share; their mean is that of its lines' chances.

    A model that sees more than the decade moves the middle, and leaves the spread of the log odds.
    """
    means: dict[str, list[float]] = {}
    for fact in asked:
        means.setdefault(fact.neighborhood, []).append(chances[fact.id])
    drawn = shares.by_neighborhood(asked, DRAWS, seed)
    return {hood: moved(drawn[hood], sum(each) / len(each)) for hood, each in means.items()}


def moved(shares: np.ndarray, mean: float) -> np.ndarray:
    """Shares whose log odds are all moved by as much as makes their mean the given one."""
    import numpy as np
    from scipy.optimize import brentq
    from scipy.special import expit, logit

    odds = logit(np.clip(shares, 1e-9, 1 - 1e-9))
    wanted = min(0.9999, max(0.0001, mean))
    by = brentq(lambda step: float(expit(odds + step).mean()) - wanted, -40, 40)
    return expit(odds + by)


@dataclass(frozen=True)
class Place:
    """One neighborhood's figures, its score, and the interval of its expected lead lines."""

    facts: HoodFacts
    lead: int
    grr: int
    unknown: int
    expected: float
    expected_low: int
    expected_high: int
    consent_given: int
    consent_refused: int
    sensitive: int
    score: Score


def places_of(
    hoods: list[HoodFacts],
    lines: list[OpenLine],
    unknown: UnknownLines,
    asked: PlanAsked,
    said: dict[int, str],
) -> tuple[dict[str, Place], list[str]]:
    """Return every neighborhood that holds open lines, and sentences on missing figures.

    Parameters
    ----------
    said : the owner's last answer by line
    """
    by_hood: dict[str, list[OpenLine]] = {}
    for line in lines:
        if line.neighborhood is not None:
            by_hood.setdefault(line.neighborhood, []).append(line)
    names = {hood.name for hood in hoods}
    bound = {place for row in asked.funding for place in row.get("places") or ()}
    for what, given in (("figures", set(asked.figures)), ("sources of money", bound)):
        if strange := sorted(given - names):
            raise PlanError(
                f"The {what} name the neighborhood {strange[0]!r}, which is not there; there are "
                f"{', '.join(sorted(names)) or 'none yet'}."
            )
    known = {hood.name: hood for hood in hoods if hood.name in by_hood}
    sensitive = sensitive_counts(lines)
    figures = {
        name: _figures(known[name], by_hood[name], unknown, sensitive[name], asked)
        for name in known
    }
    factors = [
        replace(
            factor,
            weight=float(asked.weights.get(factor.key, factor.weight)),
            normalization=Normalization(asked.normalizations.get(factor.key, factor.normalization)),
        )
        for factor in default_factors()
    ]
    told = _missing(figures, [factor for factor in factors if factor.weight > 0])
    ranked = {score.place: score for score in scores(figures, factors)} if figures else {}
    return {
        name: _place(known[name], by_hood[name], unknown, said, sensitive[name], ranked[name])
        for name in known
    }, [*told, *_census_told(known.values())]


def _missing(figures, factors) -> list[str]:
    """One sentence on the factors that no neighborhood has; by name those some have."""
    nowhere = [f for f in factors if all(row.get(f.key) is None for row in figures.values())]
    told = missing(figures, [factor for factor in factors if factor not in nowhere])
    if nowhere and figures:
        names = ", ".join(f"{factor.label} ({factor.key})" for factor in nowhere)
        told.append(
            f"No neighborhood has a figure for: {names}. These rank nothing. Give them with the "
            "plan or as attributes of the boundaries, or set their weights to zero."
        )
    return told


def _figures(hood: HoodFacts, lines, unknown: UnknownLines, sensitive: int, asked: PlanAsked):
    return {
        "known_lead": sum(line.category != "UNKNOWN" for line in lines),
        "expected_lead": sum(unknown.chances.get(line.location_id, 0.0) for line in lines),
        "sensitive_premises": sensitive,
        **{name: _supplied(hood, name, asked) for name in FIGURES},
        "lines": len(lines),
    }


def _supplied(hood: HoodFacts, name: str, asked: PlanAsked) -> float | None:
    """A figure given with the plan; failing that, the boundary's attribute, or census areas'."""
    own = hood.attributes.get(getattr(asked, name))
    found = map(_number, (asked.figures.get(hood.name, {}).get(name), own, hood.census.get(name)))
    return next((value for value in found if value is not None), None)


def _census_told(hoods: Iterable[HoodFacts]) -> Iterator[str]:
    """Say which file census figures come from, how they were laid, and where they say nothing."""
    census = census_in_force()
    if census is None:
        return
    known = list(hoods)
    without = [hood.name for hood in known if not hood.census]
    yield (
        f"Income, old homes and children are those of {census['batch'].file_name}, laid over the "
        f"neighborhoods on {day_told(census['as_of'])}: an area counts {census['by']}. Figures "
        "entered with the plan or kept with a boundary go before them."
    )
    if without:
        yield f"Less than half of {', '.join(without)} lies in census areas: no figure from them."


def _number(value) -> float | None:
    """An attribute of a boundary file as a number; files hold numbers as text, too."""
    try:
        found = float(value)
    except (TypeError, ValueError):
        return None
    return found if found == found and abs(found) != float("inf") else None


def _place(hood, lines, unknown: UnknownLines, said, sensitive: int, score: Score) -> Place:
    counts = {c: sum(line.category == c for line in lines) for c in ("LEAD", "GRR", "UNKNOWN")}
    low, high = interval(counts["UNKNOWN"], unknown.shares.get(hood.name))
    given = [said.get(line.pk) for line in lines]
    return Place(
        hood,
        counts["LEAD"],
        counts["GRR"],
        counts["UNKNOWN"],
        sum(unknown.chances.get(line.location_id, 0.0) for line in lines),
        low,
        high,
        given.count("GIVEN"),
        given.count("REFUSED") + given.count("REVOKED"),
        sensitive,
        score,
    )
