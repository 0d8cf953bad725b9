"""What was forecast at past year ends, and what came, on a record made up with a known share."""

import random
from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from program.models import PoolFreeze, Utility
from program.operations.plans import plan_adopt, plan_draw
from program.queries.planning.back_test import back_test
from services_inventory.models import CategoryChange, Evidence, Neighborhood, ServiceLine

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, NOON, QUICK, WHO, street

pytestmark = pytest.mark.django_db
AFTER = date(2030, 3, 1)  # program years 1 and 2 are over


def seen(lines, first: date, share: float, seed: int = 1):
    """Some unknown lines are dug up, one each day, and found to be lead by chance."""
    draw = random.Random(seed)
    for number, line in enumerate(lines):
        to, day = ("LEAD" if draw.random() < share else "NON_LEAD"), first + timedelta(number)
        ServiceLine.objects.filter(pk=line.pk).update(category=to)
        CategoryChange.objects.create(
            line=line, from_category="UNKNOWN", to_category=to, effective_on=day,
            recorded_at=NOON, recorded_by="x",
        )  # fmt: skip
        Evidence.objects.create(
            line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION", recorded_at=NOON,
            recorded_by="x",
        )  # fmt: skip


def town(now: float = 0.3, then: float = 0.3):
    hood = Neighborhood.objects.create(name="East")
    lines = [line for k in range(8) for line in street(hood, f"E{k} ST", k, ["UNKNOWN"] * 50)]
    seen(lines[:150], date(2028, 1, 1), then)
    seen(lines[150:300], date(2029, 2, 1), now, 2)
    return hood


def freeze():
    for number, day in ((1, date(2027, 11, 1)), (2, date(2029, 1, 1)), (3, date(2030, 1, 1))):
        PoolFreeze.objects.create(
            program_year=number, frozen_for=day, size=400, frozen_by="x", frozen_at=NOON
        )


def test_a_share_that_stays_is_within_what_was_forecast():
    town()
    first, second = back_test(AFTER, 1)["guesses"]
    assert (first["year"], first["verified"], first["seen"]) == (1, 150, 150)
    lead = CategoryChange.objects.filter(to_category="LEAD", effective_on__gt=date(2028, 12, 31))
    assert first["came"] == lead.count()
    assert first["low"] <= 45 <= first["high"] and first["held"]
    assert first["high"] - first["low"] < 45
    assert (first["hoods"], first["hoods_held"]) == (1, 1)
    assert second["seen"] == 0 and "came" not in second


def test_a_share_that_changes_is_told_as_missed():
    town(now=0.9)
    first, _ = back_test(AFTER, 1)["guesses"]
    assert not first["held"] and first["came"] > first["high"] and first["hoods_held"] == 0


def test_before_a_year_is_over_nothing_is_told(manager):  # noqa: F811
    town()
    assert back_test(BEFORE, 1) == {"guesses": [], "rates": []}
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    plan_draw(settings={**QUICK, "crews": 1}, as_of=BEFORE, **WHO)
    page = manager.get(reverse("plan_unknowns"))
    assert b"No program year is over yet" in page.content


def test_the_rate_that_came_is_set_beside_what_the_plan_in_force_foresaw(manager):  # noqa: F811
    town()
    Utility.objects.create(name="Town", clock_stands_at=AFTER)
    plan = plan_draw(settings={**QUICK, "crews": 1}, as_of=BEFORE, name="The first", **WHO)
    plan_adopt(plan=plan, reason="As agreed.", by="x", at=datetime(2027, 6, 1, 12, tzinfo=UTC))
    freeze()
    again = plan_draw(settings={**QUICK, "crews": 1}, as_of=AFTER, **WHO)
    first, second = again.result["back_test"]["rates"]
    # Nothing was replaced, though the plan foresaw work in every year.
    assert first["plan"] == second["plan"] == "The first"
    assert first["came"] == 0 and first["low"] > 0 and not first["held"]
    page = manager.get(reverse("plan_unknowns")).content.decode()
    assert "The first" in page and "outside" in page
