"""Rates and counted work for a constructed history."""

from datetime import date
from fractions import Fraction

import pytest

from program.domain.counting import CountKind
from program.domain.deferral import deadline_in_force
from program.models import Utility
from program.operations.own_values import OwnValueRefused, ending_proposal
from program.operations.pools import pools_freeze_due
from program.queries.rates import counts_on, rate_on, year_records
from program.queries.replacements import counted_works, full_replacements, kinds_by_year
from program.rules import rules_in_force
from services_inventory.models import ServiceLine
from tests.program.operations.factories import (
    NOW,
    TODAY,
    found,
    lines,
    moment,
    own_value,
    recorded,
    replaced,
    standing_town,
    town,
    utility,
)

pytestmark = pytest.mark.django_db
LAST_DAY = date(2030, 12, 31)


def test_each_program_year_has_the_work_done_in_it():
    town()
    assert {year: dict(kinds) for year, kinds in kinds_by_year(LAST_DAY).items()} == {
        1: {CountKind.FULL_LEAD: 2},
        2: {CountKind.FULL_LEAD: 1, CountKind.FULL_GRR: 1, CountKind.PARTIAL_LEAD: 1},
        3: {CountKind.FULL_LEAD: 2, CountKind.FULL_GRR: 1},
    }
    assert full_replacements() == 7


def test_a_lines_full_replacement_counts_once():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2028, 6, 7))
    found(only, "CUSTOMER", "LEAD", date(2029, 2, 1), moment(date(2029, 2, 2)))
    replaced(only, date(2029, 6, 7))
    kinds = [work.kind for work in counted_works(LAST_DAY)]
    assert kinds == [CountKind.FULL_LEAD, CountKind.NEITHER]


def test_a_partial_and_then_the_rest_is_one_full_replacement_by_its_own_day():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2028, 6, 7), sides=("SYSTEM",))
    replaced(only, date(2029, 6, 7), sides=("CUSTOMER",))
    assert [(work.kind, work.program_year) for work in counted_works(LAST_DAY)] == [
        (CountKind.PARTIAL_LEAD, 1),
        (CountKind.FULL_LEAD, 2),
    ]


def test_a_remaining_unknown_portion_shown_non_lead_makes_the_work_full_by_its_day():
    (only,) = lines([("LEAD", "UNKNOWN", "")])
    replaced(only, date(2028, 6, 7), sides=("SYSTEM",))
    assert kinds_by_year(LAST_DAY) == {1: {CountKind.PARTIAL_LEAD: 1}}
    found(only, "CUSTOMER", "COPPER", date(2029, 3, 1), moment(date(2029, 3, 2)))
    assert kinds_by_year(LAST_DAY) == {1: {CountKind.FULL_LEAD: 1}}
    assert kinds_by_year(date(2029, 3, 1)) == {1: {CountKind.PARTIAL_LEAD: 1}}


def test_work_before_the_compliance_date_is_in_no_program_year():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2027, 10, 31), accepted=moment(date(2027, 11, 9)))
    (work,) = counted_works(LAST_DAY)
    assert (work.kind, work.program_year) == (CountKind.NEITHER, None)


def test_only_what_was_accepted_by_the_moment_counts():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2028, 6, 7), accepted=moment(date(2028, 6, 20)))
    assert not list(counted_works(LAST_DAY, moment(date(2028, 6, 19))))
    assert len(list(counted_works(LAST_DAY, moment(date(2028, 6, 21))))) == 1


def test_the_rate_of_a_constructed_history():
    standing_town()
    pools_freeze_due(as_of=TODAY, by="manager", at=NOW)
    rate = rate_on(TODAY, counts_on(TODAY, TODAY))
    figures = [(row.record.pool, row.record.replaced) for row in rate.years]
    assert figures == [(20, 2), (19, 2), (20, 3), (20, 0)]
    cumulative = (Fraction(2, 20) + Fraction(2, 19) + Fraction(3, 20)) / 3
    assert rate.years[2].assessment.cumulative == cumulative
    assert rate.standing.sentence.startswith(
        "Program year 3: 3 of 20 lines replaced, 15%; cumulative average 11.84%"
    )
    # 4 years at 10% are 0.4; 0.3552... are done, so 0.0447... of 20 lines: one
    assert rate.standing.to_replace == 1
    assert rate.standing.numerator == 3
    assert rate.standing.denominator == 20


def test_the_rate_as_was_known_before_the_work_was_accepted_and_the_pool_frozen():
    """Work of program year 3 that was accepted after its end was not known at its end."""
    utility()
    (only, _) = lines([("LEAD", "LEAD", ""), ("LEAD", "LEAD", "")])
    pools_freeze_due(as_of=LAST_DAY, by="manager", at=moment(date(2030, 6, 1)))
    replaced(only, date(2030, 12, 20), accepted=moment(date(2031, 1, 9)))

    def rows(known_at=None):
        found = rate_on(LAST_DAY, counts_on(LAST_DAY, TODAY, known_at), known_at)
        return found.counts["LEAD"], [(row.record.pool, row.record.replaced) for row in found.years]

    assert rows() == (1, [(2, 0), (2, 0), (2, 1)])
    assert rows(moment(date(2031, 1, 8))) == (2, [(2, 0), (2, 0), (2, 0)])
    assert rows(moment(date(2030, 5, 31))) == (2, [(None, 0), (None, 0), (None, 0)])


def test_without_a_frozen_pool_there_is_no_rate_and_never_zero_per_cent():
    standing_town()
    assert [record.pool for record in year_records(LAST_DAY)] == [None, None, None]
    rate = rate_on(LAST_DAY, counts_on(LAST_DAY, TODAY))
    assert rate.years[2].assessment.cumulative is None
    assert "missing" in rate.standing.sentence


def test_counts_of_today_and_of_a_past_day():
    town()
    assert counts_on(TODAY, TODAY)["LEAD"] == ServiceLine.objects.filter(category="LEAD").count()
    assert counts_on(date(2027, 11, 1), TODAY)["LEAD"] == 10


def test_a_states_earlier_day_is_a_shortened_deadline_at_its_own_rate():
    own_value("REPLACEMENT_DEADLINE", "2032-12-31")
    deadline = deadline_in_force(rules_in_force())
    assert (deadline.kind, deadline.last_day) == ("SHORTENED", date(2032, 12, 31))
    assert deadline.rate == Fraction(1, 5)
    own_value("REQUIRED_RATE", "1/4")
    assert deadline_in_force(rules_in_force()).rate == Fraction(1, 4)


def test_a_states_later_day_is_a_deferred_deadline():
    own_value("REPLACEMENT_DEADLINE", "2040-09-30")
    own_value("REQUIRED_RATE", "39/500")
    deadline = deadline_in_force(rules_in_force())
    assert (deadline.kind, deadline.rate) == ("DEFERRED", Fraction(39, 500))


@pytest.mark.parametrize(
    ("value_id", "value"), [("REQUIRED_RATE", "a tenth"), ("REPLACEMENT_DEADLINE", "soon")]
)
def test_a_value_of_another_kind_is_refused_and_nothing_is_recorded(value_id, value):
    with pytest.raises(OwnValueRefused):
        own_value(value_id, value)
    assert rules_in_force().latest(value_id).jurisdiction == "FEDERAL"


def test_a_newer_value_of_one_jurisdiction_ends_the_older():
    utility()
    own_value("REQUIRED_RATE", "1/5")
    own_value("REQUIRED_RATE", "1/4", effective_from=date(2030, 1, 1))
    rules = rules_in_force()
    assert rules.value("REQUIRED_RATE", date(2029, 12, 31)) == Fraction(1, 5)
    assert rules.value("REQUIRED_RATE", date(2030, 1, 1)) == Fraction(1, 4)
    assert rules.latest("REQUIRED_RATE").value == Fraction(1, 4)


def test_a_value_that_ends_later_is_the_rate_until_then():
    utility()
    row = own_value("REQUIRED_RATE", "1/5")
    recorded([ending_proposal(row=row, day=date(2032, 1, 1))])
    assert deadline_in_force(rules_in_force()).rate == Fraction(1, 5)
    Utility.objects.update(clock_stands_at=date(2032, 1, 1))
    assert deadline_in_force(rules_in_force()).rate == Fraction(1, 10)


def test_a_states_repetition_of_the_federal_day_is_no_deferral():
    own_value("REPLACEMENT_DEADLINE", "2037-12-31")
    assert deadline_in_force(rules_in_force()).kind == "STANDARD"
