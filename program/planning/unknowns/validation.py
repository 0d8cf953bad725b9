"""Is the model worth using: judged on blocks of the town it has not seen.

Lines near each other are alike, so a random split flatters a model that looks at neighbors. The
town is cut into square blocks; each fold leaves whole blocks out. The model is used only where its
Brier score beats that of the plain neighborhood and decade rate by more than chance over blocks.
"""

from __future__ import annotations

from dataclasses import dataclass

from program.planning.geometry import middle_of, on_plane
from program.planning.unknowns.features import BadUnknowns
from program.planning.unknowns.logistic import fit
from program.planning.unknowns.shares import LeadShares, lead_shares

BLOCK_M, FOLDS = 400.0, 5
_DRAWS, _LEVEL = 2000, 0.05


@dataclass(frozen=True)
class CalibrationBin:
    """Lines of like probability: how many, the mean predicted and the share found lead."""

    lines: int
    predicted: float
    found: float


@dataclass(frozen=True)
class Comparison:
    """Brier scores out of sample; `lift` is the share by which the model's is lower.

    `lift_low` is the lower end of the lift over resampled blocks: the model is used only where it
    is above zero.
    """

    verified: int
    blocks: int
    model_brier: float
    base_brier: float
    lift: float
    lift_low: float
    use_model: bool
    calibration: tuple[CalibrationBin, ...]
    base_calibration: tuple[CalibrationBin, ...]

    def sentence(self) -> str:
        """What was found and which of the two is used, in words."""
        verdict = "is used" if self.use_model else "is not used: the plain rate stands"
        return (
            f"On {self.verified:,} verified lines in {self.blocks} blocks left out in turn, the "
            f"model's Brier score is {self.model_brier:.4f} against {self.base_brier:.4f} for the "
            f"neighborhood and decade rate ({self.lift:+.1%}, at least {self.lift_low:+.1%} over "
            f"resampled blocks). The model {verdict}."
        )


def spatial_folds(lines, folds: int = FOLDS, block_m: float = BLOCK_M):
    """(block, fold) numbers by line; whole blocks share a fold, folds are filled evenly.

    Lines without coordinates form one block for each neighborhood.
    """
    placed = [(ln.lat, ln.lon) for ln in lines if ln.lat is not None and ln.lon is not None]
    spots = iter(on_plane(placed, middle_of(placed))) if placed else iter(())
    names: list[tuple] = []
    for line in lines:
        if line.lat is None or line.lon is None:
            names.append(("", line.neighborhood))
        else:
            x, y = next(spots)
            names.append((int(x // block_m), int(y // block_m)))
    sizes: dict = {}
    for name in names:
        sizes[name] = sizes.get(name, 0) + 1
    filled, fold_of = [0] * folds, {}
    for name in sorted(sizes, key=lambda n: (-sizes[n], str(n))):
        fold = filled.index(min(filled))
        fold_of[name] = fold
        filled[fold] += sizes[name]
    numbers = {name: k for k, name in enumerate(sorted(sizes, key=str))}
    return [(numbers[name], fold_of[name]) for name in names]


def compare(verified, *, seed: int = 1) -> Comparison:
    """Model and plain rate judged on blocks left out.

    Raises
    ------
    BadUnknowns : too few lines, or too few blocks for the folds.
    """
    import numpy as np

    lines = [line for line in verified if line.is_lead is not None]
    places = spatial_folds(lines)
    if len({block for block, _ in places}) < FOLDS:
        raise BadUnknowns(
            f"The verified lines lie in fewer than {FOLDS} blocks of the town, so a model can't "
            "be judged on places it has not seen: verify lines in more places."
        )
    lead = np.array([float(line.is_lead) for line in lines])
    model, base = np.zeros(len(lines)), np.zeros(len(lines))
    for fold in range(FOLDS):
        out = [k for k, (_, f) in enumerate(places) if f == fold]
        seen = [lines[k] for k, (_, f) in enumerate(places) if f != fold]
        tested = [lines[k] for k in out]
        model[out] = fit(seen).probabilities(tested)
        base[out] = lead_shares(seen).chances(tested)
    blocks = np.array([block for block, _ in places])
    model_error, base_error = (model - lead) ** 2, (base - lead) ** 2
    low = _lift_low(model_error, base_error, blocks, seed)
    return Comparison(
        len(lines),
        int(blocks.max()) + 1,
        float(model_error.mean()),
        float(base_error.mean()),
        float(1 - model_error.mean() / base_error.mean()),
        low,
        low > 0,
        calibration_curve(lead, model),
        calibration_curve(lead, base),
    )


def choose(verified, unknown, *, seed: int = 1):
    """Probability of lead by unknown line id, the shares behind it, and what decided.

    Returns
    -------
    (dict of id to probability, LeadShares, Comparison or None) : None where the lines verified are
        too few to judge a model, and the plain rate is used.
    """
    verified, unknown = list(verified), list(unknown)
    try:
        found = compare(verified, seed=seed)
    except BadUnknowns:
        found = None
    shares: LeadShares = lead_shares(verified)
    if found and found.use_model:
        chances = fit(verified).probabilities(unknown)
    else:
        chances = shares.chances(unknown)
    return dict(zip((line.id for line in unknown), chances, strict=True)), shares, found


def calibration_curve(lead, predicted, bins: int = 10) -> tuple[CalibrationBin, ...]:
    """Predicted against found in bins of equal width; empty bins are left out."""
    import numpy as np

    lead, predicted = np.asarray(lead, float), np.asarray(predicted, float)
    edges = np.linspace(0, 1, bins + 1)
    place = np.searchsorted(edges[1:-1], predicted)
    return tuple(
        CalibrationBin(
            int((place == k).sum()),
            float(predicted[place == k].mean()),
            float(lead[place == k].mean()),
        )
        for k in range(bins)
        if (place == k).any()
    )


def _lift_low(model_error, base_error, blocks, seed: int) -> float:
    import numpy as np

    count = int(blocks.max()) + 1
    by_model = np.bincount(blocks, model_error, count)
    by_base = np.bincount(blocks, base_error, count)
    drawn = np.random.default_rng(seed).integers(0, count, (_DRAWS, count))
    lifts = 1 - by_model[drawn].sum(axis=1) / by_base[drawn].sum(axis=1)
    return float(np.quantile(lifts, _LEVEL))
