"""What pulls taught goes into use by a named person, and never changes an old estimate."""

import pytest

from fixtures.pull_logs import Bump, synthetic_log
from replacements.domain.pull_force import ParameterSet
from replacements.models import ForceConstants, ForceEstimateRecord, ModelCalibration
from replacements.operations.calibration import (
    calibration_put_in_use,
    calibration_take_out,
    constants_put_in_use,
)
from replacements.operations.completions import completion_accept
from replacements.operations.pulls import estimate_make, pull_withdraw
from replacements.queries.learning import learned_now, soil_shown, soils_shown, taught
from replacements.queries.pulls import estimate_back
from services_inventory.refused import Refused
from tests.kept import kept
from tests.replacements.factories import AT, LATER, REVIEW, handed_in, order, pull, started, string

pytestmark = pytest.mark.django_db
WHO = {"by": "m", "at": REVIEW, "reason": "first pulls"}


@pytest.fixture
@kept
def accepted():
    """Return an estimate whose pull was accepted at REVIEW."""
    work = order(joints=[])
    string(work)
    started(work)
    made = work.estimates.get()
    record = handed_in(work, pull=pull(work, seed=3))
    with pytest.raises(Refused, match="accepted yet"):
        calibration_put_in_use(soil="STIFF_CLAY", **WHO | {"at": LATER})
    completion_accept(completion=record, by="r", at=REVIEW)
    return made


def measured_over_estimated(made) -> float:
    """Return the ratio of the estimate's own order, from its kept figures."""
    measured = made.work_order.pulls.get().metrics["run_p95_lbf"]
    return measured / made.result["run_uncalibrated_lbf"]


def another():
    """Return an estimate of another order in the same soil, made now."""
    return estimate_make(work_order=order(joints=[]), by="crew", at=REVIEW)


def test_a_factor_counts_only_once_somebody_put_it_into_use(accepted):
    assert another().result["bias_factor"] == 1.0
    row = calibration_put_in_use(soil="STIFF_CLAY", **WHO)
    assert (row.pulls, row.put_in_use_by, row.reason) == (1, "m", "first pulls")
    # the prior is worth two pulls without bias, so one pull moves a third of the way
    expected = measured_over_estimated(accepted) ** (1 / 3)
    assert another().result["bias_factor"] == pytest.approx(expected)
    kept = ForceEstimateRecord.objects.get(pk=accepted.pk)
    assert (kept.expected_lbf, kept.result) == (accepted.expected_lbf, accepted.result)
    with pytest.raises(Refused, match="in use already"):
        calibration_put_in_use(soil="STIFF_CLAY", **WHO)


def test_a_soil_is_taken_back_to_the_plain_model_by_name_and_reason(accepted):
    calibration_put_in_use(soil="STIFF_CLAY", **WHO)
    with pytest.raises(Refused, match="Say why"):
        calibration_take_out(soil="STIFF_CLAY", by="m", at=REVIEW, reason=" ")
    calibration_take_out(soil="STIFF_CLAY", **WHO | {"reason": "one odd gauge"})
    assert another().result["bias_factor"] == 1.0
    assert ModelCalibration.objects.count() == 2
    with pytest.raises(Refused, match="No learned factor"):
        calibration_take_out(soil="STIFF_CLAY", **WHO)
    with pytest.raises(Refused, match="no soil 'CHEESE'"):
        calibration_put_in_use(soil="CHEESE", **WHO)


def test_constants_count_from_their_moment_and_old_estimates_can_still_be_drawn(accepted):
    values = {"BLADE_THICKNESS": (0.15, 0.16, 0.17)}
    row = constants_put_in_use(values=values, by="m", at=REVIEW, reason="blades measured")
    made = another()
    assert made.parameter_set == row.parameter_set != accepted.parameter_set
    assert made.expected_lbf < accepted.expected_lbf
    for record in (made, accepted):
        assert estimate_back(record).expected_lbf == pytest.approx(record.expected_lbf)
    constants_put_in_use(values={}, by="m", at=REVIEW, reason="back")
    assert another().parameter_set == ParameterSet().id
    assert estimate_back(made).expected_lbf == pytest.approx(made.expected_lbf)


def test_a_change_of_constants_throws_no_pull_away_but_takes_the_old_factor_out_of_use(accepted):
    calibration_put_in_use(soil="STIFF_CLAY", **WHO)
    changed = ParameterSet().with_ranges({"FLOW_STRESS": (2500, 3000, 3500)})
    constants_put_in_use(
        values={"FLOW_STRESS": (2500, 3000, 3500)}, by="m", at=REVIEW, reason="harder lead"
    )
    assert another().result["bias_factor"] == 1.0
    clay = next(row for row in soils_shown(REVIEW) if row["soil"].code == "STIFF_CLAY")
    assert (clay["of_other_constants"], clay["newer"], clay["pulls"]) == (True, True, 1)
    # Harder lead expects more force, so the same pull says less.
    plain, harder = taught(ParameterSet()), taught(changed)
    assert harder[0].ratio < plain[0].ratio
    learned = learned_now(harder, changed)["STIFF_CLAY"]
    calibration_put_in_use(soil="STIFF_CLAY", **WHO)
    assert another().result["bias_factor"] == pytest.approx(learned.bias_factor)


def stopped_in_the_same_soil():
    """Return a pull that stopped halfway at 2,800 lb, on an order in the soil of `accepted`."""
    work = order(joints=[])
    string(work)
    estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    halfway = synthetic_log(18.0, force_start_lbf=2600, force_end_lbf=2800, seed=5)
    made = pull(work, halfway)
    assert made.verdict != "ACCEPT"
    return made


def test_a_pull_that_stopped_counts_as_needing_at_least_its_force_and_widens(accepted):
    before = soil_shown("STIFF_CLAY", REVIEW)["learned"]
    made = stopped_in_the_same_soil()
    shown = soil_shown("STIFF_CLAY", REVIEW)
    learned = shown["learned"]
    assert (learned.n, learned.stopped) == (2, 1)
    assert learned.bias_factor > before.bias_factor
    assert learned.sigma_ln > before.sigma_ln
    seen = next(p.observation for p, _, _ in shown["pulls"] if p.observation.stopped)
    assert seen.measured_lbf == pytest.approx(made.metrics["peak_1s_lbf"])
    assert (shown["scores"].judged, shown["scores"].above) == (2, 1)
    row = calibration_put_in_use(soil="STIFF_CLAY", **WHO)
    assert row.pulls == 2
    now = another().result["standing"]
    assert "from 2 logs of pulls in stiff clay, 1 of them stopped or not accepted" in now
    pull_withdraw(pull=made, by="crew", at=REVIEW, reason="log of another house")
    assert soil_shown("STIFF_CLAY", REVIEW)["learned"].sigma_ln == pytest.approx(before.sigma_ln)


def test_a_pull_held_at_its_end_counts_with_the_force_along_its_run(accepted):
    work = order(joints=[])
    string(work)
    estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    made = pull(work, synthetic_log(35.2, seed=9, bumps=(Bump(20.0, 2.0, 4600.0),)))
    assert made.verdict in ("HOLD", "REJECT") and made.peak_lbf > 4000
    (seen,) = [t.observation for t in taught(ParameterSet()) if t.observation.stopped]
    assert seen.measured_lbf == pytest.approx(made.metrics["run_p95_lbf"])
    assert seen.measured_lbf < 1500


def test_a_page_of_a_soil_tells_prior_pulls_and_what_each_estimate_was_made_with(accepted):
    calibration_put_in_use(soil="STIFF_CLAY", **WHO)
    another()
    shown = soil_shown("STIFF_CLAY", REVIEW)
    assert shown["prior"].bias_factor == 1
    assert [step.n for _, step, _ in shown["pulls"]] == [1]
    assert sorted(row["count"] for row in shown["estimates"]) == [1, 1]
    assert {row["bias_factor"] == 1.0 for row in shown["estimates"]} == {True, False}
    assert "After 1 it is" in shown["chart"]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"COLOR": (1, 2, 3)}, "no parameter 'COLOR'"),
        ({"FLOW_STRESS": (3000, 2500, 3500)}, "must rise"),
        ({"FLOW_STRESS": (0, 2500, 3500)}, "above zero"),
        ({"USE_STOP": (1.5, 1.5, 1.5)}, "cannot be above 1"),
        ({"FLOW_STRESS": (13, 17, 24)}, "another unit"),
        ({"USE_STOP": (0.7, 0.7, 0.7)}, "Caution must come before stop"),
        ({}, "nothing is changed"),
    ],
)
def test_constants_that_cannot_be_are_refused(values, said):
    with pytest.raises(Refused, match=said):
        constants_put_in_use(values=values, by="m", at=REVIEW, reason="x")
    assert not ForceConstants.objects.exists()
