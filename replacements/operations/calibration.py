"""Learning from accepted pulls, soil by soil. Old estimates keep what they were made with."""

from datetime import datetime

from django.db.models import OuterRef, Subquery

from ..domain.learning import Calibration, Observation, calibrate
from ..models import ForceEstimateRecord, ModelCalibration
from ..queries.pulls import accepted_pulls
from ..queries.stored import plain


def observations() -> list[Observation]:
    """Return estimated and measured force of each accepted pull that had an estimate before it.

    Both leave the joints out: the 95th percentile of the run against the expected run, before
    any earlier learning.
    """
    latest = ForceEstimateRecord.objects.filter(
        work_order=OuterRef("work_order"), made_at__lte=OuterRef("recorded_at")
    ).order_by("-made_at", "-id")
    pulls = list(accepted_pulls().annotate(estimate=Subquery(latest.values("id")[:1])))
    estimates = {
        made.pk: made
        for made in ForceEstimateRecord.objects.filter(
            work_order__completions__review__answer="ACCEPTED"
        )
    }
    found = []
    for pull in pulls:
        made, measured = estimates.get(pull.estimate), pull.metrics.get("run_p95_lbf")
        estimated = made and made.result.get("run_uncalibrated_lbf")
        if estimated and measured:
            found.append(Observation(made.case["soil"], estimated, measured, made.parameter_set))
    return found


def calibrate_soils(*, at: datetime) -> dict[str, Calibration]:
    """Learn from all accepted pulls and keep what is believed of each soil as of now.

    A soil about which nothing new was learned gets no new row.
    """
    learned = calibrate(observations())
    last = {row.soil: row.result for row in ModelCalibration.objects.order_by("made_at", "id")}
    ModelCalibration.objects.bulk_create(
        ModelCalibration(soil=soil, made_at=at, pulls=found.n, result=plain(found))
        for soil, found in learned.items()
        if last.get(soil) != plain(found)
    )
    return learned
