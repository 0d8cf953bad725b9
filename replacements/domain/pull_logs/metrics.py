"""The figures of a pull: peak, 95th percentile, mean, rate, energy, slope, the pipe's tension."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from .events import Event, EventKind, head_force_lbf, steady_from
from .log import PullLog
from .rules import EventRules
from .series import Series, medians

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class PullMetrics:
    """Figures of one pull; forces in lbf, lengths in ft, times in s.

    peak_lbf, peak_1s_lbf : highest sample, and highest median over one second
    p95_lbf, mean_lbf : of the force while moving
    run_p95_lbf : 95th percentile while moving, joints left out: what calibrates the estimate
    length_ft : how far the head moved
    moving_s, total_s : time in motion under load, and from the first to the last motion
    rate_ft_per_min : length over the time in motion
    energy_ft_lb, energy_run_ft_lb : force summed along the line, with and without joints
    slope_lb_per_ft : how fast the force grows along the line, joints left out
    head_lbf : the force of the head alone, from the first feet
    pipe_tension_lbf : inferred drag on the new pipe at the end; not measured
    """

    peak_lbf: float
    peak_1s_lbf: float
    p95_lbf: float
    mean_lbf: float
    run_p95_lbf: float
    length_ft: float
    moving_s: float
    total_s: float
    rate_ft_per_min: float
    energy_ft_lb: float
    energy_run_ft_lb: float
    slope_lb_per_ft: float
    head_lbf: float
    pipe_tension_lbf: float

    def as_dict(self) -> dict[str, float]:
        """Return the figures by name, for storing and exporting."""
        return asdict(self)

    def bias(self, expected_lbf: float) -> float:
        """Return measured over estimated force of the run, the factor that calibration learns."""
        if not expected_lbf > 0:
            raise ValueError("An estimate to compare with must be above zero lbf.")
        return self.run_p95_lbf / expected_lbf


def metrics_of(
    log: PullLog,
    series: Series,
    events: Sequence[Event],
    rules: EventRules,
    bends: Sequence[tuple[float, float]] = (),
) -> PullMetrics:
    """Return the figures of a pull."""
    import numpy as np

    force, x, time = series.force_lbf, series.distance_ft, series.time_s
    working = series.moving & (force >= rules["pause_force_share"] * series.baseline_lbf)
    quiet = working & ~_within(series, events, EventKind.SPIKE)
    run = quiet if quiet.any() else working
    steps = np.diff(time, append=time[-1])
    moving_s = float(steps[working].sum())
    length = float(x[-1] - x[series.start])
    head = head_force_lbf(series, rules, bends)
    return PullMetrics(
        peak_lbf=log.peak_lbf,
        peak_1s_lbf=float(medians(log, 1.0)[1].max()),
        p95_lbf=float(np.percentile(force[working], 95)),
        mean_lbf=float(force[working].mean()),
        run_p95_lbf=float(np.percentile(force[run], 95)),
        length_ft=length,
        moving_s=moving_s,
        total_s=float(time[series.end] - time[series.start]),
        rate_ft_per_min=60 * length / moving_s if moving_s else 0.0,
        # Force at rest moves nothing: the step out of a rest counts with the moving force.
        energy_ft_lb=float(np.trapezoid(np.where(working, force, series.baseline_lbf), x)),
        energy_run_ft_lb=float(np.trapezoid(np.where(quiet, force, series.baseline_lbf), x)),
        slope_lb_per_ft=_slope(x[run], force[run]),
        head_lbf=head,
        pipe_tension_lbf=_pipe_tension(series, run, rules, head),
    )


def _within(series: Series, events: Sequence[Event], kind: EventKind) -> "np.ndarray":
    import numpy as np

    inside = np.zeros(len(series.time_s), dtype=bool)
    for event in events:
        if event.kind == kind:
            after = series.time_s >= event.at_s
            inside |= after & (series.time_s <= event.at_s + event.seconds)
    return inside


def _slope(x: "np.ndarray", force: "np.ndarray") -> float:
    import numpy as np

    if len(x) < 2 or x[-1] - x[0] < 1.0:
        return 0.0
    away = x - x.mean()
    return float((away * force).sum() / np.square(away).sum())


def _pipe_tension(series: Series, run: "np.ndarray", rules: EventRules, head: float) -> float:
    import numpy as np

    last_ft = series.distance_ft[-1] - rules["tail_span_ft"]
    begun = np.arange(len(run)) >= steady_from(series, rules)
    tail = series.force_lbf[run & begun & (series.distance_ft >= last_ft)]
    return max(0.0, float(np.percentile(tail, 95)) - head) if len(tail) else 0.0
