"""Which unknown lines to inspect: some to find lead, some drawn so that the share stays honest.

The lines most likely lead are taken for certain. The rest of the budget is a stratified random
sample of all other unknown lines, in proportion to each neighborhood; where it doesn't reach for
two lines of each, the smallest are drawn from together, so that none is left out. Every line's
probability of being on the list is known, so the share of lead among all unknown lines keeps an
unbiased estimate (Horvitz and Thompson, 1952), which a list of likely lines alone would put far too
high.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import sqrt

from program.planning.unknowns.features import BadUnknowns


@dataclass(frozen=True)
class Inspection:
    """One line on the list: CHOSEN for its probability or DRAWN at random from its stratum."""

    line_id: str
    part: str
    stratum: str
    probability_of_lead: float
    inclusion: float


@dataclass(frozen=True)
class InspectionList:
    """The list, and the number of unknown lines of each stratum it was drawn from."""

    inspections: tuple[Inspection, ...]
    stratum_sizes: dict[str, int]
    seed: int


@dataclass(frozen=True)
class Estimate:
    """Share of lead among all unknown lines, its interval, and what it rests on."""

    share: float
    low: float
    high: float
    lead_total: float
    unknown: int
    inspected: int
    open_strata: tuple[str, ...] = ()

    def sentence(self) -> str:
        """The estimate in words, with numerator and denominator."""
        names = ", ".join(self.open_strata)
        rest = f" No line drawn in {names} is settled yet: the others' share stands for it."
        return (
            f"About {self.lead_total:,.0f} of {self.unknown:,} unknown lines are lead "
            f"({self.share:.1%}, between {self.low:.1%} and {self.high:.1%}), from "
            f"{self.inspected:,} inspections.{rest if names else ''}"
        )


def inspection_list(
    chances: dict[str, float],
    strata: dict[str, str],
    budget: int,
    random_share: float = 0.3,
    seed: int = 1,
) -> InspectionList:
    """Draw the list.

    Parameters
    ----------
    chances : probability of lead by line id, for every unknown line.
    strata : neighborhood by line id.
    budget : inspections that can be done.
    random_share : part of the budget drawn at random (0 to 1).

    Raises
    ------
    BadUnknowns : the budget is none, the share is not 0 to 1, or a line has no neighborhood.
    """
    if budget < 1:
        raise BadUnknowns("The budget allows no inspection: enter one or more.")
    if not 0 <= random_share <= 1:
        raise BadUnknowns("The part drawn at random must lie between 0 and 1.")
    if lost := sorted(set(chances) - set(strata)):
        raise BadUnknowns(f"Line {lost[0]} has no neighborhood: assign one before drawing.")
    budget = min(budget, len(chances))
    ordered = sorted(chances, key=lambda line: (-chances[line], line))
    certain = ordered[: budget - round(budget * random_share)]
    rest: dict[str, list[str]] = {}
    for line in sorted(ordered[len(certain) :]):
        rest.setdefault(strata[line], []).append(line)
    rest = _joined(rest, budget - len(certain))
    sizes = _allocated(rest, budget - len(certain))
    drawn = random.Random(seed)
    listed = [Inspection(line, "CHOSEN", strata[line], chances[line], 1.0) for line in certain]
    for stratum in sorted(rest):
        for line in sorted(drawn.sample(rest[stratum], sizes[stratum])):
            inclusion = sizes[stratum] / len(rest[stratum])
            listed.append(Inspection(line, "DRAWN", stratum, chances[line], inclusion))
    return InspectionList(tuple(listed), {s: len(lines) for s, lines in rest.items()}, seed)


def _joined(rest: dict[str, list[str]], draws: int) -> dict[str, list[str]]:
    """Strata of which each can have two draws: the two smallest made one until there are so few."""
    found = [([name], lines) for name, lines in rest.items()]
    while draws and len(found) > max(1, draws // 2):
        found.sort(key=lambda one: (-len(one[1]), one[0]))
        (names, lines), (more, further) = found.pop(), found.pop()
        found.append((sorted([*names, *more]), sorted([*lines, *further])))
    return {" + ".join(names): lines for names, lines in found}


def _allocated(rest: dict[str, list[str]], budget: int) -> dict[str, int]:
    """Two for each stratum while the budget lasts (one gives no variance), the rest by size."""
    sizes = dict.fromkeys(sorted(rest), 0)
    for least in (1, 2):
        for stratum in sorted(rest, key=lambda s: (-len(rest[s]), s)):
            if sum(sizes.values()) < budget and len(rest[stratum]) >= least:
                sizes[stratum] = max(sizes[stratum], least)
    while sum(sizes.values()) < budget:
        open_strata = [s for s in sizes if sizes[s] < len(rest[s])]
        # The stratum whose lines have the least chance to be drawn gets the next inspection.
        stratum = min(open_strata, key=lambda s: ((sizes[s] + 1) / len(rest[s]), s))
        sizes[stratum] += 1
    return sizes


def estimate_share(listed: InspectionList, found: dict[str, bool], level_z: float = 1.96):
    """The share of lead among all unknown lines, from what the inspections found.

    Parameters
    ----------
    found : True for lead by line id; a drawn line without an answer is taken to be missing at
        random within its neighborhood.

    Returns
    -------
    Estimate : the interval is Wilson's with the effective number of inspections, so that it does
        not shrink to nothing when no lead was found. A stratum with no answer takes the share of
        the others and is named in `open_strata`.

    Raises
    ------
    BadUnknowns : no line that was drawn at random has an answer.
    """
    certain = [i for i in listed.inspections if i.part == "CHOSEN"]
    answers: dict[str, list[float]] = {stratum: [] for stratum in listed.stratum_sizes}
    for one in listed.inspections:
        if one.part == "DRAWN" and one.line_id in found:
            answers[one.stratum].append(float(found[one.line_id]))
    chosen = [float(found[i.line_id]) for i in certain if i.line_id in found]
    answered = {s: seen for s, seen in answers.items() if seen}
    if listed.stratum_sizes and not answered:
        raise BadUnknowns(
            "None of the lines drawn at random has been inspected: the share can't be estimated "
            "from the likely ones alone."
        )
    total, variance = _weighted(listed.stratum_sizes, answers, answered)
    missing = len(certain) - len(chosen)
    total += sum(chosen) + (missing * sum(chosen) / len(chosen) if chosen else 0.0)
    unknown = sum(listed.stratum_sizes.values()) + len(certain)
    drawn = sum(map(len, answered.values()))
    share = min(1.0, max(0.0, total / unknown))
    low, high = _wilson(share, variance / unknown**2, drawn, level_z, listed, unknown)
    return Estimate(
        share,
        low,
        high,
        total,
        unknown,
        len(chosen) + drawn,
        tuple(sorted(set(answers) - set(answered))),
    )


def _weighted(sizes, answers, answered) -> tuple[float, float]:
    """Estimated lead lines outside the certain part, and the variance of that estimate."""
    covered = sum(sizes[s] for s in answered)
    total = sum(sizes[s] * sum(seen) / len(seen) for s, seen in answered.items())
    elsewhere = total / covered if covered else 0.0
    pooled = elsewhere * (1 - elsewhere)
    variance = 0.0
    for stratum, size in sizes.items():
        seen = answers[stratum]
        if not seen:
            total += size * elsewhere
            variance += size**2 * pooled
            continue
        mean, n = sum(seen) / len(seen), len(seen)
        # A few lines that are all alike say little of how unlike the others are: one line's worth
        # of the spread of all draws is added, by which the interval holds as often as it says.
        within = (sum((y - mean) ** 2 for y in seen) + pooled) / n
        variance += size**2 * (1 - n / size) * within / n
    return total, variance


def _wilson(share, variance, drawn, z, listed, unknown) -> tuple[float, float]:
    if not listed.stratum_sizes or drawn == unknown:
        return share, share
    spread = share * (1 - share)
    effective = spread / variance if variance > 0 and spread > 0 else float(max(drawn, 1))
    center = (share + z * z / (2 * effective)) / (1 + z * z / effective)
    half = z * sqrt(spread / effective + z * z / (4 * effective**2)) / (1 + z * z / effective)
    # At nought or all found the formula returns the end of the range but for rounding.
    return max(0.0, center - half), min(1.0, center + half)
