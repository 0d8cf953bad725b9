"""What accepted pulls say of the force model, soil by soil, and which constants are in use."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, OuterRef, Subquery
from django.utils.timezone import localdate

from ..domain.learning import Calibration, Observation, calibrate, narrowing, planning_prior
from ..domain.learning_chart import narrowing_chart_svg
from ..domain.pull_force import ParameterSet, soils
from ..domain.pull_force.model import run
from ..domain.pull_force.spread import central, intervals
from ..models import ForceConstants, ForceEstimateRecord, ModelCalibration, WorkOrder
from .estimate_case import case_back
from .planned_pull import string_limits_on
from .pulls import accepted_pulls, calibration_back, constants_at

SHOWN = 50  # pulls listed on a soil's page; the chart has them all


@dataclass(frozen=True)
class Taught:
    """One accepted pull: what was estimated for it then, and by the constants in use now."""

    order: WorkOrder
    pulled_on: date
    estimate: ForceEstimateRecord
    observation: Observation

    @property
    def ratio(self) -> float:
        return self.observation.measured_lbf / self.observation.estimated_lbf


def taught(constants: ParameterSet) -> list[Taught]:
    """Return what each accepted pull with an estimate before it teaches, oldest first.

    An estimate made with other constants is worked out again, from the inputs it keeps, so that a
    change of constants throws no pull away; the kept estimate itself stays as it was given.
    """
    latest = ForceEstimateRecord.objects.filter(
        work_order=OuterRef("work_order"), made_at__lte=OuterRef("recorded_at")
    ).order_by("-made_at", "-id")
    pulls = list(
        accepted_pulls()
        .annotate(estimate=Subquery(latest.values("id")[:1]))
        .select_related("work_order__contractor")
    )
    estimates = ForceEstimateRecord.objects.in_bulk({p.estimate for p in pulls if p.estimate})
    found = []
    for pull in pulls:
        made, measured = estimates.get(pull.estimate), pull.metrics.get("run_p95_lbf")
        estimated = made and _run_lbf(made, constants)
        if estimated and measured:
            seen = Observation(made.case["soil"], estimated, measured, constants.id)
            found.append(Taught(pull.work_order, pull.pulled_on, made, seen))
    return found


def _run_lbf(made: ForceEstimateRecord, constants: ParameterSet) -> float | None:
    """Return the greatest expected total of a kept estimate's run without joints, lb."""
    if made.parameter_set == constants.id:
        return made.result.get("run_uncalibrated_lbf")
    case = case_back(made.case, constants)
    return run(case, central(intervals(case))).run_peak()


def learned_now(pulls: Iterable[Taught], constants: ParameterSet) -> dict[str, Calibration]:
    """Return what is believed of each soil in which a pull was accepted."""
    prior = planning_prior(constants["SIGMA_LN"])
    return calibrate([pull.observation for pull in pulls], prior, constants.id)


def soils_shown(at: datetime) -> list[dict]:
    """Return each soil class with its prior, what pulls say, and what is in use."""
    constants = constants_at(at)
    pulls = taught(constants)
    learned = learned_now(pulls, constants)
    rows = ModelCalibration.objects.filter(made_at__lte=at).order_by("made_at", "id")
    in_use = {row.soil: row for row in rows}
    return [
        {
            "soil": soil,
            "pulls": sum(pull.observation.soil_code == code for pull in pulls),
            "learned": learned.get(code),
            **_use_shown(in_use.get(code), learned.get(code), constants),
        }
        for code, soil in soils().items()
    ]


def _use_shown(row: ModelCalibration | None, learned: Calibration | None, constants) -> dict:
    used = calibration_back(row.result) if row and row.result else None
    counts = used is not None and used.parameter_set == constants.id
    return {
        "use": row,
        "used": used if counts else None,
        "of_other_constants": used is not None and not counts,
        "newer": learned is not None and (not counts or learned.id != used.id),
    }


def soil_shown(code: str, at: datetime) -> dict:
    """Return one soil's pulls, how the belief narrows, and what was in use when."""
    constants = constants_at(at)
    pulls = [pull for pull in taught(constants) if pull.observation.soil_code == code]
    prior = planning_prior(constants["SIGMA_LN"])
    steps = narrowing([pull.observation for pull in pulls], code, prior, constants.id)
    uses = list(ModelCalibration.objects.filter(soil=code).order_by("-made_at", "-id"))
    return {
        "soil": soils()[code],
        "constants": constants,
        "pulls": list(zip(pulls, steps[1:], strict=True))[: -SHOWN - 1 : -1],
        "prior": steps[0],
        "learned": steps[-1],
        "chart": narrowing_chart_svg(steps, [pull.ratio for pull in pulls], f"narrowing-{code}"),
        "uses": [(row, calibration_back(row.result) if row.result else None) for row in uses],
        "estimates": _estimates_by_set(code),
        **_use_shown(uses[0] if uses else None, steps[-1] if pulls else None, constants),
    }


def _estimates_by_set(code: str) -> list[dict]:
    """Return how many estimates of a soil were made with which constants and which factor."""
    rows = (
        ForceEstimateRecord.objects.filter(case__soil=code)
        .values("parameter_set", "result__calibration", "result__bias_factor")
        .annotate(count=Count("id"))
        .order_by("-count")
    )
    return [
        {
            "parameter_set": row["parameter_set"],
            "calibration": row["result__calibration"],
            "bias_factor": row["result__bias_factor"],
            "count": row["count"],
        }
        for row in rows
    ]


def constants_shown(at: datetime) -> dict:
    """Return the constants in use, the shipped ones, and who put what into use when."""
    sets = ForceEstimateRecord.objects.values("parameter_set").annotate(count=Count("id"))
    counts = {row["parameter_set"]: row["count"] for row in sets}
    shipped = ParameterSet()
    return {
        "constants": constants_at(at),
        "limits": string_limits_on(localdate(at)),
        "shipped": shipped,
        "shipped_estimates": counts.get(shipped.id, 0),
        "history": [
            (row, counts.get(row.parameter_set, 0))
            for row in ForceConstants.objects.order_by("-put_in_use_at", "-id")
        ],
    }
