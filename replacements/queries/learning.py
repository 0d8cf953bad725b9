"""What logs of pulls say of the force model, soil by soil, and which constants are in use.

An accepted pull is known; one that stopped, or whose log was held or rejected, is known only to
have needed at least the force that it reached. One that came to its end counts with the force along
its run, one that stopped short with the force at which it stopped.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, OuterRef, Subquery
from django.utils.timezone import localdate

from ..domain.learning import (
    Calibration,
    Observation,
    Scores,
    calibrate,
    narrowing,
    narrowing_chart_svg,
    planning_prior,
    score,
)
from ..domain.methods import Method, pulled_as
from ..domain.pull_force import ParameterSet, soils
from ..domain.pull_force.model import run
from ..domain.pull_force.spread import central, intervals
from ..domain.pull_logs import shipped_rules
from ..models import ForceConstants, ForceEstimateRecord, ModelCalibration, PullRecord, WorkOrder
from .estimate_case import case_back
from .planned_pull import string_limits_on
from .pulls import accepted_pulls, calibration_back, constants_at, stopped_pulls

SHOWN = 6  # pulls listed on a soil's page; the chart has them all
SCORED = 200  # the latest, held against the range before each
DRAWN = 40  # steps of the chart's lines


@dataclass(frozen=True)
class Taught:
    """One pull: what was estimated for it then, and by the constants in use now."""

    order: WorkOrder
    verdict: str
    pulled_on: date
    estimate: ForceEstimateRecord
    observation: Observation

    @property
    def verdict_told(self) -> str:
        """What became of a pull that is not accepted."""
        return {"HOLD": "held", "REJECT": "rejected"}.get(self.verdict, "given up")

    @property
    def ratio(self) -> float:
        return self.observation.measured_lbf / self.observation.estimated_lbf


def taught(constants: ParameterSet) -> list[Taught]:
    """Return what each pull with an estimate before it teaches, oldest first.

    An estimate made with other constants is worked out again, from the inputs it keeps, so that a
    change of constants throws no pull away; the kept estimate itself stays as it was given.
    """
    known, held = _with_estimate(accepted_pulls()), _with_estimate(stopped_pulls())
    pulls = sorted([*known, *held], key=lambda pull: (pull.pulled_on, pull.pk))
    accepted = {pull.pk for pull in known}
    estimates = _ESTIMATES.in_bulk({p.estimate for p in pulls if p.estimate})
    others = [made.pk for made in estimates.values() if made.parameter_set != constants.id]
    cases = ForceEstimateRecord.objects.only("case").in_bulk(others)
    found = []
    for pull in pulls:
        made, stopped = estimates.get(pull.estimate), pull.pk not in accepted
        measured = _reached_lbf(pull) if stopped else pull.run_p95_lbf
        estimated = made and _run_lbf(made, cases.get(made.pk), constants)
        if estimated and measured:
            seen = Observation(made.soil, estimated, measured, constants.id, stopped)
            found.append(Taught(pull.work_order, pull.verdict, pull.pulled_on, made, seen))
    return found


def _with_estimate(pulls) -> list[PullRecord]:
    latest = ForceEstimateRecord.objects.filter(
        work_order=OuterRef("work_order"), made_at__lte=OuterRef("recorded_at")
    ).order_by("-made_at", "-id")
    found = pulls.annotate(estimate=Subquery(latest.values("id")[:1]))
    return [
        pull
        for pull in found.select_related("work_order__contractor").only(*_READ).annotate(**_FIGURES)
        if pulled_as(pull.work_order.method) is Method.SPLIT
    ]


# What is read of each pull: the rest, long lists among it, would be loaded for every pull there is.
_READ = (
    *("pulled_on", "verdict", "peak_lbf", "length_ft"),
    *("work_order__number", "work_order__length_ft", "work_order__method"),
    "work_order__contractor__name",
)
_FIGURES = {name: F(f"metrics__{name}") for name in ("run_p95_lbf", "peak_1s_lbf")}
_ESTIMATES = ForceEstimateRecord.objects.defer("case", "result").annotate(
    soil=F("case__soil"),
    run_lbf=F("result__run_uncalibrated_lbf"),
    calibration=F("result__calibration"),
    bias_factor=F("result__bias_factor"),
)


def _reached_lbf(pull: PullRecord) -> float | None:
    """Return the least that a pull which is not accepted can have needed along its run, lb."""
    length_ft = pull.work_order.length_ft or 0.0
    rules = shipped_rules()
    allowed_ft = max(rules["end_tolerance_ft"], rules["end_tolerance_share"] * length_ft)
    if (pull.length_ft or 0.0) >= length_ft - allowed_ft:
        return pull.run_p95_lbf or pull.peak_lbf
    return pull.peak_1s_lbf or pull.peak_lbf


def _run_lbf(
    made: Any, inputs: ForceEstimateRecord | None, constants: ParameterSet
) -> float | None:
    """Return the greatest expected total of a kept estimate's run without joints, lb.

    inputs : the same with its case, where it was made with other constants
    """
    if inputs is None:
        return made.run_lbf
    case = case_back(inputs.case, constants)
    return run(case, central(intervals(case))).run_peak()


def learned_now(pulls: Iterable[Taught], constants: ParameterSet) -> dict[str, Calibration]:
    """Return what is believed of each soil in which a pull was logged."""
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
            "stopped": sum(
                p.observation.soil_code == code and p.observation.stopped for p in pulls
            ),
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
    seen = [pull.observation for pull in pulls]
    prior, last = planning_prior(constants["SIGMA_LN"]), len(pulls)
    before = range(max(last - SCORED, 0), last + 1)
    drawn = sorted({round(last * part / DRAWN) for part in range(DRAWN + 1)})
    counts = sorted({*before, *drawn, 0})
    every = narrowing(seen, code, prior, constants.id, counts)
    steps = dict(zip(counts, every, strict=True))
    scores = score_of(steps, seen, before)
    latest = list(zip(pulls[before[0] :], scores.pulls, strict=True))
    uses = list(ModelCalibration.objects.filter(soil=code).order_by("-made_at", "-id"))
    return {
        "soil": soils()[code],
        "constants": constants,
        "pulls": [
            (pull, steps[before[0] + place + 1], scored)
            for place, (pull, scored) in enumerate(latest)
        ][: -SHOWN - 1 : -1],
        "prior": steps[0],
        "learned": steps[last],
        "scores": scores,
        "first_width": _width(steps[0]),
        "last_width": _width(steps[last]),
        "scored_latest": SCORED if last > SCORED else 0,
        "chart": narrowing_chart_svg([steps[n] for n in drawn], seen),
        "uses": [(row, calibration_back(row.result) if row.result else None) for row in uses],
        "estimates": _estimates_by_set(code),
        **_use_shown(uses[0] if uses else None, steps[last] if pulls else None, constants),
    }


def _width(step: Calibration) -> float:
    low, high = step.next_pull
    return high / low


def score_of(
    steps: Mapping[int, Calibration], seen: Sequence[Observation], before: range
) -> Scores:
    """Return how the latest pulls lie to the range that was believed before each."""
    return score([steps[n] for n in before[:-1]], seen[before[0] :])


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
