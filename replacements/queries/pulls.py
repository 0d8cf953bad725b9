"""Estimates and pulls as they are kept, put back into the domain's terms for charts."""

from dataclasses import dataclass
from datetime import datetime
from types import SimpleNamespace
from typing import TYPE_CHECKING

from django.db.models import Q

from ..domain.learning import Calibration
from ..domain.pull_force import ForceEstimate, ParameterSet, estimate
from ..domain.pull_logs import Event, EventKind
from ..domain.pull_logs import Verdict as LogVerdict
from ..models import ForceEstimateRecord, ModelCalibration, PullRecord
from .planned_pull import case_back
from .stored import findings_back

if TYPE_CHECKING:
    import numpy as np

TRACE_POINTS = 400


@dataclass(frozen=True)
class KeptTrace:
    """The kept samples of a log, as its chart reads them; its length is that of the whole log."""

    time_s: "np.ndarray"
    force_lbf: "np.ndarray"
    distance_ft: "np.ndarray"
    samples: int

    def __len__(self) -> int:
        return self.samples

    @property
    def peak_lbf(self) -> float:
        """The highest sample, lbf."""
        return float(self.force_lbf.max())


def calibration_back(kept: dict) -> Calibration:
    """Return what was learned as the domain's own."""
    return Calibration(**{**kept, "interval": tuple(kept["interval"])})


def calibration_for(soil: str, at: datetime) -> Calibration | None:
    """Return what is known of a soil at a moment, if it was learned with today's constants."""
    row = (
        ModelCalibration.objects.filter(soil=soil, made_at__lte=at)
        .order_by("-made_at", "-id")
        .first()
    )
    if row is None:
        return None
    learned = calibration_back(row.result)
    return learned if learned.parameter_set == ParameterSet().id else None


def estimate_back(record: ForceEstimateRecord) -> ForceEstimate | None:
    """Return the estimate made again from its kept inputs; None when the constants changed since.

    What the record says stands either way; this is for the chart only.
    """
    if record.parameter_set != ParameterSet().id:
        return None
    learned = record.result.get("calibration_used")
    return estimate(case_back(record.case), calibration_back(learned) if learned else None)


def trace_of(log) -> dict:
    """Return at most 400 samples of a log: the extremes of each stretch, so no peak is lost."""
    import numpy as np

    count = len(log)
    if count <= TRACE_POINTS:
        kept = np.arange(count)
    else:
        edges = np.linspace(0, count, TRACE_POINTS // 2 + 1).astype("int64")
        low = [a + int(log.force_lbf[a:b].argmin()) for a, b in zip(edges, edges[1:], strict=False)]
        high = [
            a + int(log.force_lbf[a:b].argmax()) for a, b in zip(edges, edges[1:], strict=False)
        ]
        kept = np.unique(np.array(low + high))
    return {
        "time_s": np.round(log.time_s[kept], 2).tolist(),
        "force_lbf": np.round(log.force_lbf[kept], 1).tolist(),
        "distance_ft": np.round(log.distance_ft[kept], 3).tolist(),
    }


def trace_pairs(pull: PullRecord) -> list[tuple[float, float]]:
    """Return the kept samples as (distance in ft, force in lb)."""
    trace = pull.trace or {}
    return list(zip(trace.get("distance_ft", ()), trace.get("force_lbf", ()), strict=False))


def drawn_pull(pull: PullRecord) -> tuple[KeptTrace, SimpleNamespace] | None:
    """Return the kept trace and assessment in the form that `log_chart_svg` draws."""
    import numpy as np

    trace = pull.trace or {}
    if not trace.get("force_lbf"):
        return None
    log = KeptTrace(
        *(np.array(trace[name]) for name in ("time_s", "force_lbf", "distance_ft")),
        samples=int(pull.metrics.get("samples", len(trace["force_lbf"]))),
    )
    events = tuple(
        Event(**{**row, "kind": EventKind(row["kind"])}) for row in pull.metrics.get("events", ())
    )
    figures = {k: v for k, v in pull.metrics.items() if isinstance(v, int | float)}
    seen = SimpleNamespace(
        verdict=LogVerdict(pull.verdict),
        findings=tuple(findings_back(pull.findings)),
        events=events,
        metrics=SimpleNamespace(**figures) if figures else None,
        count=lambda kind: sum(event.kind == kind for event in events),
    )
    return log, seen


def accepted_pulls():
    """Return accepted pulls with a figure to learn from, oldest first."""
    return (
        PullRecord.objects.filter(
            Q(completionrecord__review__answer="ACCEPTED", completionrecord__outcome="REPLACED"),
            verdict="ACCEPT",
        )
        .order_by("pulled_on", "id")
        .distinct()
    )
