"""What follows from a period's results, on both sides of each day; cases are constructed."""

from datetime import date, datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.deadlines import (
    CopperExceedance,
    HighSite,
    Inquiry,
    LeadExceedance,
    MonitoringPeriod,
)
from program.domain.deadlines import YearlyOutreach as Outreach
from program.domain.deadlines.sampling import is_repeated
from program.domain.regulation import RULES
from program.domain.sampling_tiers import Sample, counted, deciding, ninetieth
from tests.program.domain.test_calendar import override

AS_OF = date(2031, 1, 15)


def days(fact, as_of=AS_OF, rules=RULES):
    return {due.rule_id: due.due_on for due in fact.dues(as_of, rules)}


def test_the_public_notice_is_due_a_day_after_the_hour_not_the_date():
    late = LeadExceedance("1", datetime(2030, 7, 9, 23, 50), date(2030, 6, 30))
    (notice, *_) = late.dues(AS_OF, RULES)
    assert notice.due_on == date(2030, 7, 10)
    assert "Jul 10, 2030, 11:50 PM" in notice.how_computed
    twelve = RULES.with_overrides([override("EXCEEDANCE_NOTICE_HOURS", 12)])
    assert days(late, rules=twelve)["EXCEEDANCE_NOTICE_HOURS"] == date(2030, 7, 10)
    early = LeadExceedance("1", datetime(2030, 7, 9, 8, 0), date(2030, 6, 30))
    assert days(early, rules=twelve)["EXCEEDANCE_NOTICE_HOURS"] == date(2030, 7, 9)


def test_one_exceedance_asks_for_notice_certification_education_and_treatment():
    found = days(LeadExceedance("1", datetime(2030, 7, 9, 14, 0), date(2030, 6, 30)))
    assert found == {
        "EXCEEDANCE_NOTICE_HOURS": date(2030, 7, 10),
        "EXCEEDANCE_CERTIFY_DAYS": date(2030, 7, 19),
        "EXCEEDANCE_EDUCATION_DAYS": date(2030, 8, 29),
        "EXCEEDANCE_SOURCE_MONTHS": date(2030, 12, 30),
        "EXCEEDANCE_CORROSION_MONTHS": date(2030, 12, 30),
    }


def test_the_third_within_five_years_asks_for_filters():
    ends = date(2030, 6, 30)
    third = LeadExceedance("3", datetime(2030, 7, 9), ends, (date(2028, 6, 30), date(2025, 12, 31)))
    assert days(third)["FILTER_PLAN_DAYS"] == date(2030, 8, 29)
    assert days(third)["REPEATED_OUTREACH_MONTHS"] == date(2030, 12, 30)
    assert is_repeated(ends, [date(2025, 7, 1), date(2029, 6, 30)], RULES)
    assert not is_repeated(ends, [date(2025, 6, 30), date(2029, 6, 30)], RULES)
    assert not is_repeated(ends, [date(2029, 6, 30)], RULES)
    assert not is_repeated(ends, [date(2030, 12, 31), date(2031, 6, 30)], RULES)


def test_the_sites_are_looked_at_before_each_period():
    assert days(MonitoringPeriod("4", date(2031, 1, 1))) == {
        "SITE_PLAN_REVIEW_DAYS": date(2031, 1, 1)
    }
    earlier = RULES.with_overrides([override("SITE_PLAN_REVIEW_DAYS", 30)])
    fact = MonitoringPeriod("4", date(2031, 1, 31))
    assert days(fact, rules=earlier)["SITE_PLAN_REVIEW_DAYS"] == date(2031, 1, 1)


def test_a_site_above_the_level_is_sampled_again_within_thirty_days():
    assert days(HighSite("L1", date(2031, 1, 10), "x"))["SITE_FOLLOW_UP_DAYS"] == date(2031, 2, 9)


def test_outreach_is_due_every_year_until_the_running_one():
    done = {"HEALTH_AGENCY_OUTREACH_LAST_DAY": {2029: date(2029, 10, 4)}}
    found = Outreach(2028, done).dues(AS_OF, RULES)
    health = [due for due in found if due.rule_id.startswith("HEALTH")]
    assert [(due.due_on.year, due.done_on) for due in health] == [
        (2028, None), (2029, date(2029, 10, 4)), (2030, None), (2031, None),
    ]  # fmt: skip
    assert len({due.key for due in found}) == len(found) == 8


def test_an_inquiry_has_two_steps_and_an_answer_is_an_offer():
    asked = date(2031, 3, 1)
    assert days(Inquiry("1", "L", asked)) == {
        "DISPUTE_RESPONSE_DAYS": date(2031, 4, 30),
        "DISPUTE_OFFER_DAYS": date(2031, 3, 31),
    }

    def offered(**said):
        return Inquiry("1", "L", asked, **said).dues(AS_OF, RULES)[1].done_on

    assert offered() is None
    assert offered(offered_on=date(2031, 3, 9), answered_on=date(2031, 4, 1)) == date(2031, 3, 9)
    assert offered(inspected_on=date(2031, 3, 20)) == date(2031, 3, 20)


@pytest.mark.parametrize(
    ("micrograms", "below", "counts"),
    [(0, True, 0), (1, True, 0), (2, True, 2), (1, False, 1), (Fraction(1, 2), False, 0.5)],
)
def test_below_a_low_limit_counts_as_zero_below_a_high_one_as_the_limit(micrograms, below, counts):
    assert counted("LEAD", Fraction(micrograms), below) == counts


@given(st.lists(st.integers(0, 60), min_size=1, max_size=40))
def test_the_percentile_lies_between_the_results_of_its_ranks(values):
    found, ascending = ninetieth(values), sorted(values)
    assert ascending[found.low - 1] <= found.value <= ascending[found.high - 1]
    assert found.low <= found.rank <= found.high <= found.number == len(values)


def test_the_way_to_the_percentile_is_told():
    assert ninetieth(range(1, 21)).way == "0.9 × 20 = 18: the result of rank 18."
    assert ninetieth(range(1, 13)).way == (
        "0.9 × 12 = 10.8: between the results of rank 10 and 11, in proportion."
    )
    assert ninetieth([1, 2, 3, 4, 5]).way == "5 results: the mean of the two highest."
    assert (ninetieth([1, 2, 3, 4, 5]).low, ninetieth([1, 2, 3, 4, 5]).high) == (4, 5)
    assert ninetieth([1, 2]).low == 2
    alone = RULES.with_overrides([override("PERCENTILE_SMALL_SET", 1)])
    assert ninetieth([7], rules=alone).value == 7


def test_a_site_without_a_tier_never_decides():
    samples = [Sample(1, Fraction(3), "a"), Sample(None, Fraction(99), "b"),
               Sample(4, Fraction(8), "c")]  # fmt: skip
    assert [one.key for one in deciding(samples, 5)] == ["a", "c"]
    assert [one.key for one in deciding(samples, 1)] == ["a"]
    assert not deciding([samples[1]], 5)


def test_copper_asks_for_source_water_and_corrosion_control_and_for_no_notice_in_a_day():
    """Six months after exceeding lead or copper: 40 CFR 141.83(a)(1), text of July 1, 2006."""
    found = days(CopperExceedance("5", date(2026, 12, 31)))
    assert found == {
        "EXCEEDANCE_SOURCE_MONTHS": date(2027, 6, 30),
        "EXCEEDANCE_CORROSION_MONTHS": date(2027, 6, 30),
    }
    lead = LeadExceedance("5", datetime(2027, 1, 9), date(2026, 12, 31))
    both = [due.key for fact in (lead, CopperExceedance("5", date(2026, 12, 31)))
            for due in fact.dues(AS_OF, RULES)]  # fmt: skip
    assert len(both) == len(set(both))
