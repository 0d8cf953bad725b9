"""A list of many orders asks the record no more often than a list of two."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from replacements.domain.ground import OtherLine
from replacements.domain.other_lines import UtilityKind
from replacements.operations.ground import nearby_line_record
from replacements.operations.pulls import pull_start
from tests.replacements.factories import (
    LATER,
    contractor,
    order,
    ready,
    safe_answers,
    started,
    tools,
    user,
)

pytestmark = pytest.mark.django_db


def moment():
    """Return the moment the requests are made at."""
    return LATER


@pytest.fixture
def company(settings, client):
    settings.NOW, settings.TODAY = f"{__name__}.moment", ""
    found = contractor()
    tools(found)
    client.force_login(user("crew", "Contractor", found))
    return found


def started_order(company):
    """Return an order with a start on record, so that everything is checked again."""
    work = order(company)
    sewer = OtherLine(UtilityKind.SEWER, 30.0, exposed=True, rigid=True, at_ft=10.0)
    nearby_line_record(work_order=work, line=sewer, by="planner", at=LATER)
    return started(work)


def asked(client, name):
    with CaptureQueriesContext(
        connection,
    ) as found:
        answer = client.get(reverse(name))
    assert answer.status_code == 200
    rows = answer.json().get("results") or answer.json()["orders"]
    return len(found), rows


@pytest.mark.parametrize("name", ["api_orders", "phone_orders"])
def test_the_number_of_queries_does_not_grow_with_the_orders(name, client, company):
    for _ in range(2):
        started_order(company)
    asked(client, name)  # what is kept for good is kept now
    of_two, rows = asked(client, name)
    assert len(rows) == 2 and rows[0]["started_on"]
    for _ in range(6):
        started_order(company)
    of_eight, rows = asked(client, name)
    assert len(rows) == 8 and all(row["started_on"] for row in rows)
    assert of_eight <= of_two, (of_two, of_eight)


def test_what_is_shown_together_is_what_is_shown_alone(client, company):
    """Orders in every state of readiness, so that nothing of one is taken for another's."""
    works = [started_order(company), order(company), ready(order(company))]
    late = started_order(company)
    pull_start(work_order=late, facts=safe_answers(LATER.date()), by="crew",
               at=LATER + timedelta(hours=1), on=LATER.date())  # fmt: skip
    _, rows = asked(client, "api_orders")
    alone = [client.get(reverse("api_order", args=[work.pk])).json() for work in (*works, late)]
    assert sorted(rows, key=lambda row: row["id"]) == sorted(alone, key=lambda row: row["id"])
    assert [bool(row["started_on"]) for row in alone] == [True, False, False, True]
