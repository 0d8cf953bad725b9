"""How often pages ask the record, and that what one page leaves out stands on the next."""

from datetime import timedelta
from itertools import pairwise

import pytest
from django.contrib.auth.models import Group, User
from django.db import connection
from django.urls import reverse

from program.roles import PROGRAM_MANAGER
from program.views import deadlines
from services_inventory.models import ServiceLine
from services_inventory.operations.evidence import evidence_record
from tests.program.operations.factories import NOW, standing_town

pytestmark = pytest.mark.django_db
MOST_QUESTIONS = 18


@pytest.fixture
def manager(client):
    standing_town()
    user = User.objects.create_user("manager", password="a long pass phrase")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client.force_login(user)
    return client


def questions(client, address: str) -> list[str]:
    """Return the statements that one page sends."""
    asked = []

    def noted(execute, sql, *rest):
        asked.append(sql)
        return execute(sql, *rest)

    with connection.execute_wrapper(noted):
        assert client.get(address).status_code == 200
    return asked


def test_a_lines_page_asks_few_questions_and_the_utility_once(manager):
    asked = questions(manager, reverse("line", args=[ServiceLine.objects.first().pk]))
    assert len(asked) <= MOST_QUESTIONS
    assert sum('FROM "program_utility"' in sql for sql in asked) == 1
    assert sum('FROM "program_ownvalue"' in sql for sql in asked) == 1


def test_a_lines_page_asks_no_more_with_much_evidence(manager):
    line = ServiceLine.objects.first()
    before = len(questions(manager, reverse("line", args=[line.pk])))
    for day in range(1, 6):
        evidence_record(
            line=line, portion="SYSTEM", material="COPPER", basis="RECORD_TAP_CARD", by="clerk",
            recorded_at=NOW + timedelta(days=day), note=f"card {day}",
        )  # fmt: skip
    assert len(questions(manager, reverse("line", args=[line.pk]))) <= before + 1


def test_every_deadline_stands_on_one_of_the_pages_in_order(manager, monkeypatch):
    monkeypatch.setattr(deadlines, "SHOWN", 1_000)
    whole = manager.get(reverse("deadline_list")).context["rows"]
    monkeypatch.setattr(deadlines, "SHOWN", 3)
    address, pages = reverse("deadline_list"), []
    while address:
        context = manager.get(address).context
        pages.append([row["due"].key for row in context["rows"]])
        onward = context["onward"]
        address = onward and reverse("deadline_list") + onward
    assert [key for page in pages for key in page] == [row["due"].key for row in whole]
    assert len(pages) > 1 and all(len(page) == 3 for page, _ in pairwise(pages))


def test_a_place_in_the_deadlines_that_is_gone_leads_to_the_first_page(manager):
    first = manager.get(reverse("deadline_list")).context["rows"]
    lost = manager.get(reverse("deadline_list") + "?after=gone").context["rows"]
    assert lost == first
