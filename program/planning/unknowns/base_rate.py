"""The plain rate: the share of lead by neighborhood and install decade, smoothed.

Each cell of k lead among n verified lines is read as k ~ Beta-Binomial(n, s p, s (1 - p)): p is the
decade's own smoothed share and s (a number of lines) is fitted once by maximum likelihood over the
cells. The cell's share then has the Beta distribution (s p + k, s (1 - p) + n - k).
"""

from __future__ import annotations

from dataclasses import dataclass

from program.planning.unknowns.features import BadUnknowns, LineFacts


@dataclass(frozen=True)
class Rate:
    """A smoothed share with its Beta parameters and its 90 % interval."""

    found: int
    verified: int
    a: float
    b: float

    @property
    def mean(self) -> float:
        """The expected share."""
        return self.a / (self.a + self.b)

    def interval(self, level: float = 0.9) -> tuple[float, float]:
        """The middle part of the Beta distribution that holds `level` of it."""
        from scipy.stats import beta

        tail = (1 - level) / 2
        return float(beta.ppf(tail, self.a, self.b)), float(beta.ppf(1 - tail, self.a, self.b))


@dataclass(frozen=True)
class BaseRate:
    """Rates by cell, by decade, and over all."""

    cells: dict[tuple[str, int | None], Rate]
    decades: dict[int | None, Rate]
    overall: Rate
    strength: float

    def of(self, line: LineFacts) -> Rate:
        """The line's cell; its decade where the cell is empty; everything where that is too."""
        decade = self.decades.get(line.decade, self.overall)
        mean = decade.mean
        empty = Rate(0, 0, self.strength * mean, self.strength * (1 - mean))
        return self.cells.get((line.neighborhood, line.decade), empty)


def base_rate(verified) -> BaseRate:
    """The smoothed rates of verified lines.

    Raises
    ------
    BadUnknowns : no line is verified.
    """
    verified = [line for line in verified if line.is_lead is not None]
    if not verified:
        raise BadUnknowns(
            "No line is verified yet, so no share of lead can be worked out: inspect some first, "
            "drawn at random."
        )
    everything = (sum(line.is_lead for line in verified), len(verified))
    # One half each (Jeffreys) keeps the share off zero and one.
    overall = Rate(*everything, everything[0] + 0.5, everything[1] - everything[0] + 0.5)
    by_decade = _counts(verified, lambda line: line.decade)
    strong = strength_of([(k, n, overall.mean) for k, n in by_decade.values()])
    decades = {key: _smoothed(k, n, overall.mean, strong) for key, (k, n) in by_decade.items()}
    by_cell = _counts(verified, lambda line: (line.neighborhood, line.decade))
    strength = strength_of([(k, n, decades[cell[1]].mean) for cell, (k, n) in by_cell.items()])
    cells = {
        cell: _smoothed(k, n, decades[cell[1]].mean, strength) for cell, (k, n) in by_cell.items()
    }
    return BaseRate(cells, decades, overall, strength)


def strength_of(cells) -> float:
    """The smoothing strength of greatest Beta-Binomial likelihood, between half a line and 1,000.

    Parameters
    ----------
    cells : (k, n, p) triples: lead found, verified, and the share smoothed toward.
    """
    from scipy.optimize import minimize_scalar
    from scipy.stats import betabinom

    cells = [(k, n, p) for k, n, p in cells if n > 0]

    def misfit(log_strength: float) -> float:
        s = 10**log_strength
        return -sum(betabinom.logpmf(k, n, s * p, s * (1 - p)) for k, n, p in cells)

    if len(cells) < 2:
        return 2.0
    best = minimize_scalar(misfit, bounds=(-0.3, 3.0), method="bounded", options={"xatol": 1e-3})
    return float(10**best.x)


def _counts(lines, key) -> dict:
    counts: dict = {}
    for line in lines:
        k, n = counts.get(key(line), (0, 0))
        counts[key(line)] = (k + bool(line.is_lead), n + 1)
    return counts


def _smoothed(k: int, n: int, share: float, strength: float) -> Rate:
    return Rate(k, n, strength * share + k, strength * (1 - share) + n - k)
