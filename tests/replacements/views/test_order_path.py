"""The order's page as a path: where each step stands, the one next act, and what happened."""

from datetime import date

import pytest
from django.urls import reverse

from replacements.operations.access import consent_record
from replacements.operations.pulls import pull_start
from replacements.operations.tools import assembly_answer_many
from replacements.operations.work_orders import work_order_change
from tests.replacements.factories import (
    AT,
    DAY,
    LATER,
    contractor,
    good_answers,
    handed_in,
    order,
    pull,
    ready,
    safe_answers,
    started,
    string,
    user,
)

pytestmark = pytest.mark.django_db


def moment():
    """Return the moment that everything is looked at."""
    return LATER


def the_day():
    """Return the day of it."""
    return LATER.date()


@pytest.fixture(autouse=True)
def clock(settings):
    settings.NOW, settings.TODAY = f"{__name__}.moment", f"{__name__}.the_day"


@pytest.fixture
def work(client):
    company = contractor()
    client.force_login(user("crew", "Contractor", company))
    return order(company)


def path(client, work):
    return client.get(reverse("work_order", args=[work.pk])).context["path"]


def next_of(client, work) -> str:
    return "".join(step.key for step in path(client, work).values() if step.is_next)


def test_each_act_leads_to_the_next_step(client, work):
    assert next_of(client, work) == "access"
    consent_record(
        line=work.line, answer="GIVEN", answered_on=date(2028, 3, 1), given_by="The owner",
        by="clerk", recorded_at=AT,
    )  # fmt: skip
    assert next_of(client, work) == "string"
    made = string(work)
    step = path(client, work)["string"]
    assert (step.is_next, step.act, step.level) == (True, "work_order_checklist", "")
    assembly_answer_many(tool_string=made, answers=good_answers(), by="crew", at=AT)
    assert next_of(client, work) == "estimate"
    ready(work)
    assert next_of(client, work) == "start"
    pull_start(work_order=work, facts=safe_answers(DAY), by="crew", at=LATER, on=DAY)
    assert next_of(client, work) == "pulls"
    pull(work)
    assert next_of(client, work) == "completions"
    handed_in(work)
    assert next_of(client, work) == ""


def test_a_failed_row_and_a_changed_order_lead_back(client, work):
    started(work)
    assert next_of(client, work) == "pulls"
    no = [{"check_key": "CABLE_WHOLE", "passed": False}]
    assembly_answer_many(tool_string=work.tool_strings.get(), answers=no, by="crew", at=LATER)
    steps = path(client, work)
    assert (steps["string"].is_next, steps["string"].level) == (True, "STOP")
    assert (steps["start"].level, steps["start"].done) == ("STOP", False)
    ready(work, LATER)
    work_order_change(work_order=work, by="planner", at=LATER, length_ft=38.0)
    steps = path(client, work)
    assert (steps["estimate"].is_next, steps["estimate"].level) == (True, "STOP")


def test_an_open_cut_has_neither_string_nor_estimate_nor_pull(client):
    company = contractor()
    client.force_login(user("crew", "Contractor", company))
    steps = path(client, order(company, method="OPEN_CUT"))
    assert list(steps) == ["before", "access", "ground", "start", "completions"]


def test_only_the_next_act_is_a_dark_button(client, work):
    page = client.get(reverse("work_order", args=[work.pk])).content.decode()
    assert page.count('class="button no-print"') == 1
    assert 'class="button" href' not in page


def test_the_history_tells_all_that_happened_with_person_and_time(client, work):
    started(work)
    made = pull(work)
    handed_in(work, pull=made)
    told = client.get(reverse("work_order", args=[work.pk])).context["history"]
    assert [one.at for one in told] == sorted(one.at for one in told)
    said = " | ".join(f"{one.by}: {one.what}" for one in told)
    for what in (
        "planner: ", "clerk: Consent given on Mar 1, 2028", "crew: Tool string recorded",
        "rows of the checklist answered", "crew: Estimate: Caution, up to",
        "Safe start recorded for Apr 10, 2028", "crew: Log of the pull of Apr 10, 2028",
        "revision 1: replaced",
    ):  # fmt: skip
        assert what in said, what
