"""What the page of a live pull says, from samples as devices send them (constructed)."""

import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.live_pull import (
    LivePlan,
    Sample,
    Word,
    clock_zero_s,
    highest,
    live_plan,
    live_state,
    live_strip_svg,
    trace_with,
)
from replacements.domain.pull_force import Bend, Joint, JointKind, PullCase, estimate
from replacements.domain.pull_logs import shipped_rules
from tests.replacements.domain.tools import NEW, OLD

LIMIT = 4000.0
RULES = shipped_rules()
SLOW, STOP = RULES["near_limit_share"] * LIMIT, RULES["live_stop_share"] * LIMIT
PLAN = live_plan(
    35.0,
    LIMIT,
    "the cable",
    bends=[Bend(20.0, 45.0)],
    joints=[Joint(12.0), Joint(28.0, kind=JointKind.CURB_STOP)],
)
MADE = estimate(
    PullCase(OLD, NEW, 1.34, 35.0, 4.5, "STIFF_CLAY", bends=((20.0, 45.0),), joints=((12.0,),))
)
SEVERITY = [Word.OK, Word.SLOW, Word.STOP]


def steady(*forces, at_ft=5.0, step_s=1.0):
    """Return a sample a second of these forces, the head moving at 6 ft a minute."""
    return [Sample(i, i * step_s, force, at_ft + 0.1 * i) for i, force in enumerate(forces)]


def words_of(state) -> str:
    return " ".join(state.sentences)


forces = st.floats(0, 2 * LIMIT)
feeds = st.lists(
    st.builds(Sample, st.integers(0, 60), st.floats(0, 60), forces, st.floats(0, 40)),
    min_size=1,
    max_size=25,
)


class TestWord:
    @pytest.mark.parametrize(
        ("force", "word"),
        [
            (SLOW - 1, Word.OK),
            (SLOW, Word.SLOW),
            (STOP - 1, Word.SLOW),
            (STOP, Word.STOP),
            (LIMIT, Word.STOP),
        ],
    )
    def test_both_sides_of_each_share(self, force, word):
        state = live_state(PLAN, steady(force), age_s=0.5)
        assert (state.word, state.force_lbf) == (word, force)
        assert state.share == pytest.approx(force / LIMIT)

    def test_a_peak_between_two_looks_stays_for_its_seconds_and_no_longer(self):
        held = round(RULES["live_hold_s"])
        peak = steady(500, STOP, *[500] * held)
        assert live_state(PLAN, peak, age_s=0).word is Word.STOP
        assert live_state(PLAN, peak, age_s=0).force_lbf == 500
        assert live_state(PLAN, steady(500, STOP, *[500] * (held + 1)), age_s=0).word is Word.OK

    def test_a_limit_that_was_passed_is_told_until_the_feed_ends(self):
        state = live_state(PLAN, steady(500), peak=(LIMIT + 12, 13.2), age_s=0)
        assert state.word is Word.STOP
        assert "4,012 lb at 13.2 ft, 4,000 lb allowed" in words_of(state)
        over = live_state(PLAN, steady(500), peak=(LIMIT + 12, 13.2), age_s=0, ended=True)
        assert over.word is Word.ENDED
        assert "The limit was passed" in words_of(over)

    def test_without_a_limit_neither_slow_nor_stop_nor_ok_is_said(self):
        state = live_state(replace(PLAN, limit_lbf=None), steady(9000), age_s=0)
        assert (state.word, state.force_lbf, state.share) == (Word.NO_LIMIT, 9000, None)

    def test_before_the_first_sample_the_gauge_is_named(self):
        assert live_state(PLAN, [], age_s=None).word is Word.WAITING
        assert "gauge" in words_of(live_state(PLAN, []))


class TestSilence:
    def test_an_old_force_is_never_shown_as_the_present_one(self):
        state = live_state(PLAN, steady(812), age_s=12.4)
        assert (state.word, state.force_lbf, state.share) == (Word.NO_SAMPLE, None, None)
        assert (state.against, state.ahead) == ("", ())
        assert state.sentences[0].startswith("No sample for 12 s.")

    def test_a_stop_stays_a_stop_when_the_samples_cease(self):
        state = live_state(PLAN, steady(STOP), age_s=60)
        assert (state.word, state.force_lbf) == (Word.STOP, None)
        assert "No sample for 60 s." in words_of(state)

    @pytest.mark.parametrize("age_s", [None, -60.0])
    def test_an_age_that_cannot_be_told_counts_as_old(self, age_s):
        state = live_state(PLAN, steady(812), age_s=age_s)
        assert (state.word, state.force_lbf) == (Word.NO_SAMPLE, None)

    @given(feeds, st.floats(RULES["live_no_sample_s"] + 0.01, 1e6), st.booleans())
    def test_whatever_came_nothing_old_is_shown(self, samples, age_s, ended):
        state = live_state(PLAN, samples, age_s=age_s, ended=ended)
        assert state.force_lbf is None
        assert state.share is None
        assert state.word not in (Word.OK, Word.SLOW)


class TestSamples:
    @given(feeds, st.randoms(), st.floats(0, 4))
    def test_order_and_repetition_change_nothing(self, samples, random, age_s):
        unlike = {sample.sequence: sample for sample in samples}
        again = [*unlike.values(), *random.choices(list(unlike.values()), k=5)]
        random.shuffle(again)
        assert live_state(PLAN, again, age_s=age_s) == live_state(
            PLAN, unlike.values(), age_s=age_s
        )
        assert trace_with(trace_with({}, again[:3]), again[3:]) == trace_with({}, unlike.values())
        assert highest(None, again)[0] == highest(None, unlike.values())[0]

    @given(feeds, st.integers(0, 24), st.floats(0, LIMIT))
    def test_more_force_never_softens_the_word(self, samples, place, more):
        place %= len(samples)
        raised = [
            s._replace(force_lbf=s.force_lbf + more) if s.sequence == samples[place].sequence else s
            for s in samples
        ]
        before, after = (live_state(PLAN, s, age_s=0).word for s in (samples, raised))
        assert SEVERITY.index(after) >= SEVERITY.index(before)

    @given(feeds, st.floats(1, LIMIT), st.floats(0.1, 1))
    def test_a_lower_limit_never_softens_the_word(self, samples, limit, share):
        words = [
            live_state(replace(PLAN, limit_lbf=lbf), samples, age_s=0).word
            for lbf in (limit, share * limit)
        ]
        assert SEVERITY.index(words[1]) >= SEVERITY.index(words[0])

    @given(feeds)
    def test_at_the_limit_it_is_a_stop_and_ok_means_below_the_slow_share(self, samples):
        word = live_state(PLAN, samples, age_s=0).word
        counted = {}
        for sample in samples:
            counted.setdefault(sample.sequence, sample.force_lbf)
        if max(counted.values()) >= LIMIT:
            assert word is Word.STOP
        if word is Word.OK:
            assert counted[max(counted)] < SLOW

    @given(st.lists(st.tuples(st.floats(0, 30), st.floats(0, 30)), min_size=1, max_size=10))
    def test_a_late_sample_never_looks_younger_than_it_is(self, posts):
        """Posts of one device whose clock began at 1,000 s of ours, each with its own delay."""
        began, zero, newest = 1000.0, None, 0.0
        for taken_s, delay_s in posts:
            zero = clock_zero_s(zero, began + taken_s + delay_s, [Sample(1, taken_s, 0, 0)])
            newest = max(newest, taken_s)
        promptest = min(delay_s for _, delay_s in posts)
        true_age = 2000.0 - (began + newest)
        assert 2000.0 - (zero + newest) == pytest.approx(true_age - promptest)


class TestAlongTheRun:
    def test_what_lies_ahead_is_told_with_its_distance_nearest_first(self):
        ahead = live_state(PLAN, steady(500, at_ft=10.5), age_s=0).ahead
        assert [(a.name, a.in_ft) for a in ahead] == [
            ("wiped joint", pytest.approx(1.5)),
            ("bend 45°", pytest.approx(9.5)),
        ]
        assert live_state(PLAN, steady(500, at_ft=13.0), age_s=0).ahead[0].in_ft == 0
        names = [a.name for a in live_state(PLAN, steady(500, at_ft=27.0), age_s=0).ahead]
        assert names == ["curb stop", "end of the run"]

    def test_the_band_is_that_of_the_estimate_and_a_joint_raises_it_where_it_is(self):
        plan = live_plan(35.0, LIMIT, "", joints=[Joint(12.0)], made=MADE)
        quiet, joint = plan.band_at(5.0, 2.0), plan.band_at(12.0, 2.0)
        assert quiet.low_lbf < quiet.expected_lbf < quiet.high_lbf < joint.high_lbf
        assert joint.high_lbf == pytest.approx(
            MADE.joints[0].total_lbf * MADE.high_lbf / MADE.expected_lbf
        )
        assert plan.band_at(35.0).expected_lbf == pytest.approx(MADE.end_lbf)
        assert plan.band_at(35.1) is None

    @pytest.mark.parametrize(("times", "against"), [(0.9, "below"), (1.0, "within"), (3, "above")])
    def test_the_force_is_held_against_the_band(self, times, against):
        plan = live_plan(35.0, 1e6, "", made=MADE)
        here = plan.band_at(5.0)
        force = here.low_lbf * 0.9 if against == "below" else here.expected_lbf * times
        assert live_state(plan, steady(force), age_s=0).against == against

    def test_a_head_that_stands_under_load_is_told(self):
        still = [Sample(i, float(i), 900.0, 9.0) for i in range(17)]
        assert "has not moved for 15 s" in words_of(live_state(PLAN, still, age_s=0))
        rest = [s._replace(force_lbf=50.0) for s in still]
        told = words_of(live_state(PLAN, rest, peak=(900.0, 9.0), age_s=0))
        assert "has not moved" not in told
        assert "has not moved" not in words_of(live_state(PLAN, steady(*[900] * 17), age_s=0))

    def test_a_counter_that_was_not_set_to_zero_is_asked_about(self):
        told = words_of(live_state(PLAN, steady(500, at_ft=120.0), age_s=0))
        assert "120.0 ft and the run has 35 ft" in told


@given(feeds, st.sampled_from([PLAN, live_plan(35.0, None, "", made=MADE)]), st.floats(0, 60))
def test_the_strip_is_drawn_whatever_came(samples, plan, age_s):
    state = live_state(plan, samples, age_s=age_s)
    drawn = ElementTree.fromstring(live_strip_svg(plan, state, trace_with({}, samples)))
    assert "Force along the run of 35 ft" in drawn.attrib["aria-label"]
    assert "nan" not in "".join(drawn.itertext())


def test_shares_are_in_order_and_say_where_they_come_from():
    assert 0 < RULES["near_limit_share"] < RULES["live_stop_share"] < 1
    assert RULES.source_of("LIVE").startswith("proposed here")
    assert isinstance(PLAN, LivePlan)
