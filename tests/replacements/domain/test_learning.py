"""What pulls teach: how far a few may move the estimate, and what is kept apart."""

import math

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.learning import (
    AgainstRange,
    Observation,
    after_agreeing,
    calibrate,
    narrowing,
    planning_prior,
    posterior,
    score,
)
from replacements.domain.learning.belief import bias_interval
from replacements.domain.pull_force import Bore, Limit, ParameterSet, PullCase, estimate
from tests.examples import examples

SHIPPED = ParameterSet().id
RATIOS = [0.31, -0.22, 0.55, 0.08, 0.41, 0.12, -0.05]


def pulls(ratios, soil="STIFF_CLAY", parameter_set=SHIPPED):
    return [Observation(soil, 1000, 1000 * math.exp(ratio), parameter_set) for ratio in ratios]


class TestShrinkage:
    def test_no_pull_leaves_the_plain_range(self):
        (before,) = narrowing([], "STIFF_CLAY")
        assert before.bias_factor == 1
        assert before.sigma_ln == pytest.approx(0.55)
        assert before.next_pull == pytest.approx((1 / 2.0235, 2.0235), rel=1e-3)

    def test_one_pull_moves_a_third_of_the_way(self):
        """The prior is worth two pulls."""
        (one,) = calibrate(pulls([0.6])).values()
        assert math.log(one.bias_factor) == pytest.approx(0.2)

    def test_interval_narrows_with_agreeing_pulls(self):
        steps = narrowing(pulls([0.3, 0.25, 0.35] * 10), "STIFF_CLAY")
        widths = [math.log(step.interval[1] / step.interval[0]) for step in steps]
        assert [step.n for step in steps] == list(range(31))
        assert widths == sorted(widths, reverse=True)
        assert widths[-1] < widths[0] / 5
        assert steps[-1].sigma_ln < 0.3

    def test_scattered_pulls_widen_the_next(self):
        (wild,) = calibrate(pulls([1.5, -1.5] * 5)).values()
        assert wild.sigma_ln > 0.8

    def test_many_pulls_find_the_scatter(self):
        draws = numpy.random.default_rng(7).normal(math.log(1.4), 0.3, 400)
        (found,) = calibrate(pulls(draws)).values()
        assert found.bias_factor == pytest.approx(1.4, rel=0.05)
        assert found.sigma_ln == pytest.approx(0.3, rel=0.1)

    def test_the_interval_holds_the_truth_eight_times_in_ten_and_at_nine_nine(self):
        """Truths drawn from the prior, five pulls each: the share held is the level stated."""
        generator, prior, held = numpy.random.default_rng(11), planning_prior(), [0, 0]
        for _ in range(1500):
            variance = prior.scale / generator.gamma(prior.shape)
            bias = generator.normal(prior.mean, math.sqrt(variance / prior.pulls))
            belief = posterior(list(generator.normal(bias, math.sqrt(variance), 5)), prior)
            for at, level in enumerate((0.8, 0.9)):
                low, high = bias_interval(belief, level)
                held[at] += low < math.exp(bias) < high
            assert bias_interval(belief) == bias_interval(belief, 0.8)
        assert held[0] / 1500 == pytest.approx(0.8, abs=0.03)
        assert held[1] / 1500 == pytest.approx(0.9, abs=0.025)

    @examples(60)
    @given(st.lists(st.floats(-2, 2), min_size=1, max_size=20))
    def test_bias_lies_between_prior_and_data(self, ratios):
        belief = posterior(ratios, planning_prior())
        mean = sum(ratios) / len(ratios)
        assert min(0, mean) - 1e-9 <= belief.mean <= max(0, mean) + 1e-9


class TestKeepingApart:
    def test_soils_do_not_mix(self):
        found = calibrate([*pulls([0.9, 0.9]), *pulls([-0.9, -0.9], soil="LOOSE_SAND")])
        assert found["STIFF_CLAY"].bias_factor > 1 > found["LOOSE_SAND"].bias_factor

    def test_pulls_estimated_with_other_constants_are_counted_out(self):
        (found,) = calibrate([*pulls([0.1]), *pulls([2.0, 2.0], parameter_set="older")]).values()
        assert (found.n, found.left_out) == (1, 2)
        assert math.log(found.bias_factor) == pytest.approx(0.1 / 3)

    def test_id_changes_with_what_was_learned(self):
        steps = narrowing(pulls(RATIOS), "STIFF_CLAY")
        assert len({step.id for step in steps}) == len(steps)

    @pytest.mark.parametrize("measured", [0, -5, float("nan")])
    def test_a_force_has_a_logarithm(self, measured):
        with pytest.raises(ValueError, match="measured force of a pull must be above zero"):
            Observation("STIFF_CLAY", 1000, measured, SHIPPED)


class TestInTheEstimate:
    case = PullCase(
        old_pipe=Bore(0.625, 1.05),
        new_pipe=Bore(0.745, 0.875),
        expander_in=1.25,
        length_ft=35,
        cover_ft=5,
        soil="STIFF_CLAY",
        limits_lbf=dict.fromkeys(Limit, 4000.0),
        pipe_allowable_lbf=900,
        grip_efficiency=0.9,
    )

    def test_a_calibration_moves_the_total(self):
        learned = calibrate(pulls([0.4] * 12))
        plain, made = estimate(self.case), estimate(self.case, learned)
        factor = learned["STIFF_CLAY"].bias_factor
        assert made.expected_lbf == pytest.approx(plain.expected_lbf * factor)
        assert made.parts.total == pytest.approx(made.expected_lbf)
        assert made.high_lbf / made.low_lbf < plain.high_lbf / plain.low_lbf
        assert made.calibration == learned["STIFF_CLAY"].id
        assert plain.calibration == ""

    def test_a_factor_learned_from_totals_never_moves_the_drag_which_no_log_measures(self):
        plain = estimate(self.case)
        low, high = (estimate(self.case, calibrate(pulls([sign * 0.4] * 12))) for sign in (-1, 1))
        assert low.expected_lbf < plain.expected_lbf < high.expected_lbf
        assert low.drag == plain.drag == high.drag
        assert low.parts.drag == plain.parts.drag == high.parts.drag
        assert low.parts.learned < 0 == plain.parts.learned < high.parts.learned
        assert [p.drag_lbf for p in low.profile] == [p.drag_lbf for p in high.profile]

    def test_another_soil_teaches_nothing_here(self):
        learned = calibrate(pulls([0.4] * 12, soil="LOOSE_SAND"))
        assert estimate(self.case, learned) == estimate(self.case)

    def test_other_constants_are_refused(self):
        learned = calibrate(pulls([0.4], parameter_set="older"), parameter_set="older")
        with pytest.raises(ValueError, match="calibrate again"):
            estimate(self.case, learned)


class TestStoppedPulls:
    def mixed(self, ratios, stopped):
        """Return pulls of which those at the given places stopped."""
        return [
            Observation("STIFF_CLAY", 1000, 1000 * math.exp(ratio), SHIPPED, place in stopped)
            for place, ratio in enumerate(ratios)
        ]

    def test_a_stopped_pull_widens_the_range_and_raises_the_factor(self):
        plain, after = narrowing(self.mixed([0.1, -0.1, 0.05, 0.9], {3}), "STIFF_CLAY")[3:]
        assert after.sigma_ln > plain.sigma_ln
        assert after.bias_factor > plain.bias_factor
        assert after.next_pull[1] > plain.next_pull[1]
        assert (plain.stopped, after.stopped, after.n) == (0, 1, 4)

    def test_it_says_more_than_the_same_force_known_exactly(self):
        (exact,) = calibrate(self.mixed([0.1, -0.1, 0.05, 0.9], set())).values()
        (held,) = calibrate(self.mixed([0.1, -0.1, 0.05, 0.9], {3})).values()
        assert held.bias_factor > exact.bias_factor
        assert held.next_pull[1] > exact.next_pull[1]

    def test_stopped_pulls_alone_are_believed_too(self):
        (found,) = calibrate(self.mixed([0.8, 0.7, 1.0], {0, 1, 2})).values()
        assert found.bias_factor > 1.3
        assert found.sigma_ln > 0.55

    @examples(25)
    @given(st.lists(st.floats(-1, 1), min_size=1, max_size=6), st.floats(-1, 1.5), st.floats(0, 1))
    def test_a_harder_stop_never_lowers_the_factor(self, ratios, at, more):
        first, second = (
            calibrate(self.mixed([*ratios, stop], {len(ratios)}))["STIFF_CLAY"]
            for stop in (at, at + more)
        )
        assert second.bias_factor >= first.bias_factor * (1 - 5e-3)

    def test_beliefs_after_some_of_the_pulls_are_those_after_each(self):
        seen = self.mixed([0.2, 0.6, -0.3, 0.4, 0.1], {1, 3})
        every = narrowing(seen, "STIFF_CLAY")
        some = narrowing(seen, "STIFF_CLAY", counts=[0, 3, 5])
        for found, at in zip(some, (0, 3, 5), strict=True):
            assert found.bias_factor == pytest.approx(every[at].bias_factor, rel=1e-6)


class TestScore:
    def scored(self, ratios, stopped=()):
        """Return the score of pulls with these ratios of which some stopped."""
        seen = [
            Observation("STIFF_CLAY", 1000, 1000 * math.exp(ratio), SHIPPED, place in stopped)
            for place, ratio in enumerate(ratios)
        ]
        return score(narrowing(seen, "STIFF_CLAY")[:-1], seen)

    def test_each_pull_is_held_against_the_range_before_it(self):
        """The plain range is a factor of 2.02: 0.7 (2.01) lies inside, 0.72 (2.05) above."""
        assert [p.outcome for p in self.scored([0.70]).pulls] == [AgainstRange.INSIDE]
        assert [p.outcome for p in self.scored([0.72]).pulls] == [AgainstRange.ABOVE]
        assert [p.outcome for p in self.scored([-0.72]).pulls] == [AgainstRange.BELOW]

    def test_a_stopped_pull_counts_above_or_decides_nothing(self):
        scores = self.scored([0.3, 1.9], {0, 1})
        assert [p.outcome for p in scores.pulls] == [AgainstRange.OPEN, AgainstRange.ABOVE]
        assert (scores.judged, scores.inside, scores.above) == (1, 0, 1)

    def test_coverage_and_sharpness(self):
        """Pulls with the scatter that is believed: eight in ten, and a range that narrows."""
        draws = numpy.random.default_rng(5).normal(0, 0.3, 200)
        scores = self.scored(draws)
        low, high = scores.usual
        assert low <= scores.inside <= high
        assert low < 160 < high
        assert scores.pulls[0].width == pytest.approx(2.0235**2, rel=1e-3)
        assert scores.pulls[-1].width < scores.sharpness < scores.pulls[0].width

    def test_nothing_is_scored_before_any_pull(self):
        scores = self.scored([])
        assert (scores.judged, scores.sharpness) == (0, None)
        assert scores.usual == (0, 0)


def test_what_a_few_agreeing_logs_would_bring():
    assert after_agreeing(0, 0.3) == pytest.approx(0.55)
    assert after_agreeing(10, 0.3) < 0.45 < after_agreeing(10, 0.8)
