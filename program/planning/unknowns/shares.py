"""The share of lead by neighborhood and install decade, with all that is not known about it.

The log odds of lead in a cell are a town-wide level plus the decade's, the neighborhood's and the
cell's own departure, each departure normal with a spread of its own (a mixed logistic model). The
spreads are not fixed at their likeliest values but integrated over: each combination on a grid is
weighed by its prior and its marginal likelihood, and draws are taken from all of them. What a
decade or the town is not known to be is therefore in every draw of every neighborhood, which a rate
with fixed smoothing leaves out. Each posterior is approximated by expectation propagation (Minka
2001): a normal one around the mode puts a rare share too high where cells have few verified lines.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, Any

from program.planning.unknowns.features import BadUnknowns, LineFeatures

if TYPE_CHECKING:
    import numpy as np

Cell = tuple[str, int | None]  # neighborhood and install decade

# Spreads of log odds that are weighed: from "all alike" to "lead here, none there".
SPREADS = (0.1, 0.4, 0.9, 1.8)
USUAL_SPREAD = 1.0  # half-normal prior of a spread; weakly informative (from memory: Gelman 2006)
LEVEL_SPREAD = 3.0  # normal prior of the town's log odds: 0.3% to 99.7% within two of them
MEAN_DRAWS = 2_000
STEPS, FIRST_STEPS, CLOSE, DAMPING = 40, 4, 1e-3, 0.8
UNLIKELY = 1e-4  # sets of spreads with less weight are left out
NODES = 15
LEVEL = 0.9  # of an interval of numbers of lines


@dataclass(frozen=True)
class Sites:
    """What the verified lines of a cell say of its log odds, as exp(-tight x²/2 + pull x).

    Arrays by set of spreads and cell.
    """

    tight: np.ndarray
    pull: np.ndarray


@dataclass(frozen=True)
class LeadShares:
    """The posterior of the shares: one normal distribution of log odds for each set of spreads.

    Arrays are by set of spreads, then by level, decades and neighborhoods (`level`), or by cell.
    """

    decades: tuple[int | None, ...]
    hoods: tuple[str, ...]
    cells: tuple[Cell, ...]
    weights: np.ndarray
    spreads: np.ndarray
    level: np.ndarray
    root: np.ndarray
    sites: Sites

    def chances(self, lines) -> list[float]:
        """The expected share of lead of each line's cell, whether or not one in it was verified."""
        cells = sorted({cell_of(line) for line in lines}, key=str)
        mean = dict(zip(cells, self.draws(cells, MEAN_DRAWS, 1).mean(axis=1), strict=True))
        return [float(mean[cell_of(line)]) for line in lines]

    def by_neighborhood(self, lines, runs: int, seed: int) -> dict[str, np.ndarray]:
        """Shares of lead among the lines of each neighborhood that may be true together, by run."""
        counts = Counter(map(cell_of, lines))
        cells = sorted(counts, key=str)
        found: dict[str, Any] = {}
        for cell, share in zip(cells, self.draws(cells, runs, seed), strict=True):
            found[cell[0]] = found.get(cell[0], 0.0) + counts[cell] * share
        sizes = Counter(line.neighborhood for line in lines)
        return {hood: total / sizes[hood] for hood, total in found.items()}

    def draws(self, cells, runs: int, seed: int) -> np.ndarray:
        """Shares of lead of some cells that may be true together, as an array (cell, run)."""
        import numpy as np
        from scipy.special import expit

        rng = np.random.default_rng(seed)
        taken = rng.multinomial(runs, self.weights)
        parts = [self._drawn(rng, k, n, list(cells)) for k, n in enumerate(taken) if n]
        return expit(np.concatenate(parts, axis=1))

    def _drawn(self, rng, k: int, runs: int, cells: list[Cell]) -> np.ndarray:
        """Log odds drawn under the k-th set of spreads, as an array (cell, run)."""
        import numpy as np

        noise = rng.standard_normal((self.level.shape[1], runs))
        level = self.level[k][:, None] + np.linalg.solve(self.root[k].T, noise)
        decade_spread, hood_spread, cell_spread = self.spreads[k]
        first_hood = 1 + len(self.decades)
        decades = _known_or_drawn(
            rng, self.decades, level[1:first_hood], {at for _, at in cells}, decade_spread, runs
        )
        hoods = _known_or_drawn(
            rng, self.hoods, level[first_hood:], {hood for hood, _ in cells}, hood_spread, runs
        )
        odds = np.stack([level[0] + decades[decade] + hoods[hood] for hood, decade in cells])
        noise = rng.standard_normal(odds.shape)
        own = cell_spread * noise
        # Of a cell with verified lines, its own departure is held by what they say.
        seen = [row for row, cell in enumerate(cells) if cell in self._place]
        at = [self._place[cells[row]] for row in seen]
        site, pull = (each[k, at][:, None] for each in (self.sites.tight, self.sites.pull))
        tight = site + cell_spread**-2
        own[seen] = (pull - site * odds[seen]) / tight + noise[seen] * tight**-0.5
        return odds + own

    @cached_property
    def _place(self) -> dict[Cell, int]:
        return {cell: at for at, cell in enumerate(self.cells)}


def _known_or_drawn(rng, known, values, asked, spread: float, runs: int) -> dict:
    """Departures by name: those fitted, and fresh ones for what no verified line stands for."""
    found = dict(zip(known, values, strict=True))
    new = sorted(asked - set(known), key=str)
    return found | {name: spread * rng.standard_normal(runs) for name in new}


def interval(count: int, shares: np.ndarray | None) -> tuple[int, int]:
    """The middle 90% of the number of lead or GRR lines among unknown ones.

    Where the numbers are few, no range of whole numbers holds just 90%: of the smallest middle one
    that holds at least as much, and those without its first number, its last or both, it is the
    one whose probability lies nearest 90%; of two as near, the wider. It is never cut down to
    none at all, which would be read as "no lead here".

    Parameters
    ----------
    shares : draws of the share of lead; None where nothing is known of it.
    """
    import numpy as np

    if not count or shares is None:
        return 0, count
    numbers = np.random.default_rng(count).binomial(count, shares)
    low, high = map(int, np.quantile(numbers, (0.05, 0.95), method="inverted_cdf"))
    ranges = [(low + a, high - b) for a in (0, 1) for b in (0, 1) if low + a <= high - b > 0]
    ranges = ranges or [(low, high)]
    return min(ranges, key=lambda ends: abs(_within(numbers, *ends) - LEVEL))


def _within(numbers: np.ndarray, low: int, high: int) -> float:
    return float(((low <= numbers) & (numbers <= high)).mean())


def cell_of(line: LineFeatures) -> Cell:
    """The neighborhood and install decade of a line."""
    return line.neighborhood, line.decade


def lead_shares(verified) -> LeadShares:
    """The posterior of the shares, given verified lines.

    Raises
    ------
    BadUnknowns : no line is verified.
    """
    import numpy as np

    verified = [line for line in verified if line.is_lead is not None]
    if not verified:
        raise BadUnknowns(
            "No line is verified yet, so no share of lead can be worked out: inspect some first, "
            "drawn at random."
        )
    counts: dict[Cell, list[int]] = {}
    for line in verified:
        count = counts.setdefault(cell_of(line), [0, 0])
        count[0] += bool(line.is_lead)
        count[1] += 1
    cells = tuple(sorted(counts, key=str))
    decades = tuple(sorted({decade for _, decade in cells}, key=str))
    hoods = tuple(sorted({hood for hood, _ in cells}))
    k, n = np.array([counts[cell] for cell in cells], float).T
    fitted = _fitted(k, n, _columns(cells, decades, hoods), len(decades), len(hoods))
    return LeadShares(decades, hoods, cells, **fitted)


def _columns(cells, decades, hoods) -> np.ndarray:
    """The three columns (level, decade, neighborhood) that hold for each cell."""
    import numpy as np

    at_decade = {decade: 1 + at for at, decade in enumerate(decades)}
    at_hood = {hood: 1 + len(decades) + at for at, hood in enumerate(hoods)}
    return np.array([(0, at_decade[decade], at_hood[hood]) for hood, decade in cells])


def _fitted(k, n, columns, decades: int, hoods: int) -> dict[str, Any]:
    """Fit every set of spreads at once; those that explain too little are dropped on the way."""
    import numpy as np

    spreads = np.array(list(product(SPREADS, repeat=3)))
    sites = Sites(np.zeros((len(spreads), len(k))), np.zeros((len(spreads), len(k))))
    for step in range(STEPS):
        prior = _Prior.of(spreads, decades, hoods)
        fit = _Fit.of(sites, prior, columns)
        new, evidence = _sites_of(k, n, sites, fit)
        moved = abs(new.tight - sites.tight) / (0.1 + sites.tight)
        sites = new
        if step >= FIRST_STEPS or moved.max() < CLOSE:
            weights = _weights(evidence, spreads)
            kept = weights > UNLIKELY
            spreads, weights = spreads[kept], weights[kept] / weights[kept].sum()
            sites = Sites(sites.tight[kept], sites.pull[kept])
            if moved[kept].max() < CLOSE:
                break
    fit = _Fit.of(sites, _Prior.of(spreads, decades, hoods), columns)
    root = np.linalg.cholesky(fit.matrix)
    return {
        "weights": weights, "spreads": spreads, "level": fit.level, "root": root, "sites": sites,
    }  # fmt: skip


@dataclass(frozen=True)
class _Prior:
    """How tightly departures are held to zero: of level, decades and neighborhoods; of cells."""

    level: np.ndarray
    own: np.ndarray

    @classmethod
    def of(cls, spreads, decades: int, hoods: int) -> _Prior:
        import numpy as np

        tight = spreads**-2
        level = np.full((len(spreads), 1), LEVEL_SPREAD**-2)
        parts = [level, *(np.repeat(tight[:, at : at + 1], size, axis=1)
                          for at, size in enumerate((decades, hoods)))]  # fmt: skip
        return cls(np.concatenate(parts, axis=1), tight[:, 2:])


@dataclass(frozen=True)
class _Fit:
    """The normal posterior given sites, and the mean and variance of each cell's log odds."""

    matrix: np.ndarray
    level: np.ndarray
    mean: np.ndarray
    variance: np.ndarray
    evidence: np.ndarray  # logarithm of the integral of prior and sites

    @classmethod
    def of(cls, sites: Sites, prior: _Prior, columns) -> _Fit:
        import numpy as np

        both = sites.tight + prior.own
        part = prior.own / both
        matrix = _matrix(sites.tight * part, columns, prior.level)
        pull = _summed(sites.pull * part, columns, prior.level.shape[1])
        inverse = np.linalg.inv(matrix)
        level = (inverse @ pull[..., None])[..., 0]
        above = level[:, columns].sum(axis=2)
        spread = inverse[:, columns[:, :, None], columns[:, None, :]].sum(axis=(2, 3))
        mean = above + (sites.pull - sites.tight * above) / both
        evidence = (np.log(part) + sites.pull**2 / both).sum(axis=1) + (pull * level).sum(axis=1)
        evidence += np.log(prior.level).sum(axis=1) - np.linalg.slogdet(matrix)[1]
        return cls(matrix, level, mean, part**2 * spread + 1 / both, evidence / 2)


def _sites_of(k, n, sites: Sites, fit: _Fit) -> tuple[Sites, np.ndarray]:
    """Sites that match the moments of each cell's own likelihood, and the log evidence."""
    import numpy as np

    tight = np.maximum(1 / fit.variance - sites.tight, 1e-6)
    pull = fit.mean / fit.variance - sites.pull
    size, mean, variance = _moments(k, n, pull / tight, tight)
    evidence = fit.evidence + size.sum(axis=1)
    both = tight + sites.tight
    without = np.log(tight / both) + (pull + sites.pull) ** 2 / both - pull**2 / tight
    evidence -= without.sum(axis=1) / 2
    new_tight = np.maximum(1 / variance - tight, 1e-9)
    new_pull = mean * (new_tight + tight) - pull
    keep = 1 - DAMPING
    return Sites(
        keep * sites.tight + DAMPING * new_tight, keep * sites.pull + DAMPING * new_pull
    ), evidence


def _moments(k, n, center, tight):
    """Log size, mean and variance of Normal(center, 1/tight) times Binomial(k of n, log odds)."""
    import numpy as np
    from scipy.special import expit

    at = center
    for _ in range(8):
        share = expit(at)
        slope = k - n * share - tight * (at - center)
        at = at + np.clip(slope / (n * share * (1 - share) + tight), -2.0, 2.0)
    share = expit(at)
    spread = (n * share * (1 - share) + tight) ** -0.5
    nodes, weight = np.polynomial.hermite_e.hermegauss(NODES)
    points = at[..., None] + spread[..., None] * nodes
    height = k[:, None] * points - n[:, None] * np.logaddexp(0, points)
    height -= tight[..., None] * (points - center[..., None]) ** 2 / 2
    height += nodes**2 / 2 + np.log(weight)
    top = height.max(axis=-1, keepdims=True)
    part = np.exp(height - top)
    total = part.sum(axis=-1)
    mean = (part * points).sum(axis=-1) / total
    variance = (part * (points - mean[..., None]) ** 2).sum(axis=-1) / total
    size = np.log(total) + top[..., 0] + np.log(spread) + np.log(tight / (2 * np.pi)) / 2
    return size, mean, variance


def _weights(evidence, spreads):
    """The posterior weight of each set of spreads."""
    import numpy as np

    # The grid is even in the logarithm, so a spread's prior density is times the spread.
    weight = evidence + (np.log(spreads) - (spreads / USUAL_SPREAD) ** 2 / 2).sum(axis=1)
    weight = np.exp(weight - weight.max())
    return weight / weight.sum()


def _matrix(weight, columns, tight) -> np.ndarray:
    """How tightly prior and sites hold level, decades and neighborhoods, cells' own left out."""
    import numpy as np

    sets, size = tight.shape
    matrix = np.zeros((sets, size, size))
    sums = _summed(weight, columns, size)
    matrix[:, 0, :] = matrix[:, :, 0] = sums
    place = np.arange(size)
    matrix[:, place, place] = sums + tight
    decade, hood = columns[:, 1], columns[:, 2]  # a cell is the only one of its pair
    matrix[:, decade, hood] = matrix[:, hood, decade] = weight
    return matrix


def _summed(values, columns, size: int) -> np.ndarray:
    """Values of cells added up by the columns that hold for them."""
    import numpy as np

    holds = np.zeros((len(columns), size))
    holds[np.arange(len(columns))[:, None], columns] = 1.0
    return values @ holds
