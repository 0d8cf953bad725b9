"""Consent: what counts, whose answer holds, what a State may add (constructed cases)."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from replacements.domain.consent import (
    Answer,
    Attempt,
    ConsentRules,
    ConsentState,
    Method,
    OwnerAnswer,
    effort,
    standing,
)
from replacements.domain.findings import Level
from replacements.domain.people import Capacity
from services_inventory.domain.regulation import Value, inventory_rules

DAY = date(2028, 5, 15)
RULES = ConsentRules.on(inventory_rules(), DAY)
FOUR = [
    Attempt(datetime(2028, 5, 1, 18, 30, tzinfo=UTC), Method.IN_PERSON, "nobody home"),
    Attempt(date(2028, 5, 2), Method.PHONE),
    Attempt(date(2028, 5, 3), Method.PHONE),
    Attempt(date(2028, 5, 4), Method.LETTER),
]


def answered(answer, on=DAY, documented=True):
    return OwnerAnswer(answer, on, "owner", documented)


def test_missing_is_said():
    assert effort(FOUR[1:3], RULES).missing == "2 more attempts and 1 further method"
    assert effort(FOUR, RULES).missing == ""


@pytest.mark.parametrize(
    ("tried", "answers", "state", "may_start"),
    [
        ([], [], ConsentState.OPEN, False),
        (FOUR, [], ConsentState.EFFORT_MADE, False),
        (FOUR, [answered(Answer.GIVEN)], ConsentState.GIVEN, True),
        ([], [answered(Answer.REFUSED)], ConsentState.REFUSED, False),
        (
            [],
            [answered(Answer.GIVEN, DAY - timedelta(days=3)), answered(Answer.REVOKED)],
            ConsentState.REFUSED,
            False,
        ),
        ([], [answered(Answer.REFUSED), answered(Answer.GIVEN)], ConsentState.GIVEN, True),
        ([], [answered(Answer.GIVEN, DAY + timedelta(days=1))], ConsentState.OPEN, False),
    ],
)
def test_standing(tried, answers, state, may_start):
    found = standing(tried, answers, RULES, DAY)
    assert (found.state, found.may_start) == (state, may_start)
    stops = [f for f in found.findings if f.level == Level.STOP]
    assert bool(stops) is not may_start


def test_a_new_owner_is_a_new_start():
    old = [answered(Answer.REFUSED, date(2028, 1, 5))]
    found = standing(FOUR, old, RULES, DAY, owner_since=date(2028, 5, 3))
    assert found.state == ConsentState.OPEN
    assert found.effort.attempts == 2


def test_an_undocumented_refusal_is_a_caution():
    found = standing([], [answered(Answer.REFUSED, documented=False)], RULES, DAY)
    assert "CONSENT_NOT_DOCUMENTED" in {f.rule for f in found.findings}


def test_spacing_where_a_state_asks_for_it():
    spaced = replace(RULES, min_days_between=7)
    assert effort(FOUR, spaced).attempts == 1
    far = [replace(a, at=date(2028, 4, 1) + timedelta(days=7 * i)) for i, a in enumerate(FOUR)]
    assert effort(far, spaced).reasonable


def test_a_state_may_ask_for_more():
    federal = inventory_rules().get("CONSENT_MIN_ATTEMPTS", DAY)
    stricter = Value(
        **{
            **vars(federal),
            "value": 6,
            "jurisdiction": "STATE",
            "author": "primacy agency",
            "reason": "State rule",
        }
    )
    rules = ConsentRules.on(inventory_rules().with_overrides([stricter]), DAY)
    assert effort(FOUR, rules).missing == "2 more attempts"


def test_a_tenant_lets_people_in_but_does_not_consent_for_the_owner():
    tenant = replace(answered(Answer.GIVEN), capacity=Capacity.TENANT)
    alone = standing([], [tenant], RULES, DAY)
    assert (alone.state, alone.may_start) == (ConsentState.OPEN, False)
    assert [f.rule for f in alone.findings] == ["NO_CONSENT", "TENANT_IS_NOT_THE_OWNER"]
    refused = replace(tenant, answer=Answer.REFUSED)
    both = standing([], [answered(Answer.GIVEN), refused], RULES, DAY)
    assert both.may_start
    manager = replace(tenant, capacity=Capacity.MANAGER)
    assert standing([], [manager], RULES, DAY).may_start
