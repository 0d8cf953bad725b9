"""Neighborhoods as the plan ranks them: known and expected lead, schools, indices, consent."""

from __future__ import annotations

from dataclasses import dataclass, replace

from program.planning.priority import Normalization, Score, default_factors, missing, scores
from program.planning.unknowns import Comparison, base_rate, choose
from program.planning.unknowns.features import BadUnknowns
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.checking import FIGURES
from program.queries.planning.facts import unknown_facts, verified_facts
from program.queries.planning.pool import HoodFacts, OpenLine, sensitive_counts

# Without a single verified line every share of lead is as likely as any other.
_NOTHING_KNOWN = (1.0, 1.0)


@dataclass(frozen=True)
class UnknownLines:
    """Probability of lead or GRR by location id, and how it was come by."""

    chances: dict[str, float]
    priors: dict[str, tuple[float, float]]
    comparison: Comparison | None
    sentences: tuple[str, ...]


def unknown_lines(lines: list[OpenLine], seed: int) -> UnknownLines:
    """Return the chance of every unknown line, and each neighborhood's Beta parameters."""
    asked = unknown_facts(lines)
    if not asked:
        return UnknownLines({}, {}, None, ("No line is unknown.",))
    verified, told = verified_facts(seed)
    try:
        chances, comparison = choose(verified, asked, seed=seed)
        rates = base_rate(verified)
    except BadUnknowns as error:
        half = dict.fromkeys((fact.id for fact in asked), 0.5)
        hoods = {fact.neighborhood for fact in asked}
        said = f"{error} Until then one unknown line in two is taken to be lead."
        return UnknownLines(half, dict.fromkeys(hoods, _NOTHING_KNOWN), None, (said,))
    by_hood: dict[str, list] = {}
    for fact in asked:
        by_hood.setdefault(fact.neighborhood, []).append(fact)
    priors = {hood: _prior(facts, chances, rates) for hood, facts in by_hood.items()}
    said = comparison.sentence() if comparison else (
        "Too few lines are verified to judge a model, so the neighborhood and decade rate is used."
    )  # fmt: skip
    return UnknownLines(chances, priors, comparison, (told, said))


def _prior(facts, chances, rates) -> tuple[float, float]:
    """A Beta distribution with the mean of the lines' chances and the mean weight of their cells.

    The cells of one neighborhood lean on the same decades, so their weights are not added up.
    """
    mean = sum(chances[fact.id] for fact in facts) / len(facts)
    cells = [rates.of(fact) for fact in facts]
    weight = sum(cell.a + cell.b for cell in cells) / len(cells)
    mean = min(0.9999, max(0.0001, mean))
    return mean * weight, (1 - mean) * weight


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
    if strange := sorted(set(asked.figures) - names):
        raise PlanError(
            f"The figures name the neighborhood {strange[0]!r}, which is not there; there are "
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
    }, told


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
    """A figure given with the plan; failing that, the boundary's attribute of the name set."""
    given = asked.figures.get(hood.name, {})
    return _number(given.get(name, hood.attributes.get(getattr(asked, name))))


def _number(value) -> float | None:
    """An attribute of a boundary file as a number; files hold numbers as text, too."""
    try:
        found = float(value)
    except (TypeError, ValueError):
        return None
    return found if found == found and abs(found) != float("inf") else None


def _place(hood, lines, unknown: UnknownLines, said, sensitive: int, score: Score) -> Place:
    counts = {c: sum(line.category == c for line in lines) for c in ("LEAD", "GRR", "UNKNOWN")}
    low, high = interval(counts["UNKNOWN"], unknown.priors.get(hood.name))
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


def interval(count: int, prior: tuple[float, float] | None) -> tuple[int, int]:
    """The middle 90 % of the number of lead or GRR lines among unknown ones (Beta-Binomial)."""
    from scipy.stats import betabinom

    if not count or prior is None:
        return 0, count if prior is None else 0
    low, high = betabinom.ppf((0.05, 0.95), count, *prior)
    return int(low), int(high)
