"""Estimates and pulls as they are kept, put back into the domain's terms for charts."""

from dataclasses import dataclass
from datetime import datetime
from types import SimpleNamespace
from typing import TYPE_CHECKING

from django.db.models import Q

from services_inventory.asked_once import once, settled

from ..domain.learning import Calibration
from ..domain.methods import Method
from ..domain.pull_force import ForceEstimate, ParameterSet, estimate
from ..domain.pull_logs import Event, EventKind, LogVerdict, pulled
from ..models import ForceConstants, ForceEstimateRecord, ModelCalibration, PullRecord
from .estimate_case import case_back
from .planned_pull import constants_used
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


@once
def constants_at(at: datetime) -> ParameterSet:
    """Return the constants of the force model in use at a moment; the shipped unless changed."""
    row = next((row for row in constants_used() if row.put_in_use_at <= at), None)
    return ParameterSet().with_ranges(row.values) if row else ParameterSet()


def constants_named(parameter_set: str) -> ParameterSet | None:
    """Return the constants with an id, None when this version cannot work them out any more."""
    shipped = ParameterSet()
    if parameter_set == shipped.id:
        return shipped
    row = ForceConstants.objects.filter(parameter_set=parameter_set).first()
    found = row and shipped.with_ranges(row.values)
    return found if found and found.id == parameter_set else None


@settled
@once
def _learned() -> list[ModelCalibration]:
    return list(ModelCalibration.objects.order_by("-made_at", "-id"))


@once
def calibration_for(soil: str, at: datetime, method: str = "SPLIT") -> Calibration | None:
    """Return the factor in use for a soil at a moment, if it goes with the constants in use.

    It was learned from pulls that slit the old pipe and says nothing of another method.
    """
    if method != Method.SPLIT:
        return None
    row = next((row for row in _learned() if row.soil == soil and row.made_at <= at), None)
    if row is None or not row.result:
        return None
    learned = calibration_back(row.result)
    return learned if learned.parameter_set == constants_at(at).id else None


def estimate_back(record: ForceEstimateRecord) -> ForceEstimate | None:
    """Return the estimate made again from its kept inputs and its own constants.

    None when this version cannot work those constants out any more. What the record says stands
    either way; this is for the chart only.
    """
    constants = constants_named(record.parameter_set)
    if constants is None:
        return None
    learned = record.result.get("calibration_used")
    return estimate(
        case_back(record.case, constants), calibration_back(learned) if learned else None
    )


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
    """Return the kept samples as (distance in ft, force in lb), without the rests of the puller."""
    if (drawn := drawn_pull(pull)) is None:
        return []
    log, seen = drawn
    kept = pulled(log, [event for event in seen.events if event.kind == EventKind.PAUSE])
    return list(zip(log.distance_ft[kept].tolist(), log.force_lbf[kept].tolist(), strict=True))


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


_DONE = Q(completionrecord__review__answer="ACCEPTED", completionrecord__outcome="REPLACED")
_GIVEN_UP = Q(completionrecord__review__answer="ACCEPTED", completionrecord__outcome="STOPPED")


def accepted_pulls():
    """Return accepted pulls with a figure to learn from, oldest first."""
    return (
        PullRecord.objects.standing()
        .filter(_DONE, verdict=LogVerdict.ACCEPT.value)
        .order_by("pulled_on", "id")
        .distinct()
    )


def stopped_pulls():
    """Return pulls whose log was held or rejected, or that were given up, oldest first.

    A log that nothing is wrong with says nothing yet until its record is accepted.
    """
    return (
        PullRecord.objects.standing()
        .filter(~Q(verdict=LogVerdict.ACCEPT.value) | _GIVEN_UP)
        .order_by("pulled_on", "id")
        .distinct()
    )


def logs_in_soil(soil: str, by: datetime) -> int:
    """Return how many logs of pulls in a soil were on record by a moment."""
    rows = PullRecord.objects.standing().filter(work_order__soil=soil, recorded_at__lte=by)
    return rows.count()


def standing_told(
    soil_name: str, learned: Calibration | None, logs: int, method: Method = Method.SPLIT
) -> str:
    """Return how far the model is calibrated on the utility's own ground: said before all else."""
    if method is not Method.SPLIT:
        return (
            f"Not calibrated: no log of a pull by this method ({method.label.lower()}) is used; "
            "logs of slitting say nothing of it."
        )
    ground = soil_name.lower()
    if learned is None:
        kept = f" {logs} on record, none put into use." if logs else ""
        return f"Not calibrated on your ground yet: 0 logs of pulls in {ground} are used.{kept}"
    logs_used = "1 log" if learned.n == 1 else f"{learned.n} logs"
    stopped = f", {learned.stopped} of them stopped or not accepted" if learned.stopped else ""
    return (
        f"Calibrated on your ground: factor {learned.bias_factor:.2f} on the total from "
        f"{logs_used} of pulls in {ground}{stopped}. The drag is not measured and not calibrated."
    )
