"""Pages of a tool's life, as its company and as the utility's staff."""

from datetime import UTC, datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from replacements.models import Component, RatingPaper, ToolSetFacts
from tests.replacements.factories import contractor, order, string, user
from tests.replacements.operations.test_tool_life import over
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _day(monkeypatch):
    moment = datetime(2028, 4, 14, 16, tzinfo=UTC)
    monkeypatch.setattr("program.clock.now", lambda: moment)
    monkeypatch.setattr("program.clock.today", lambda: moment.date())


@pytest.fixture
def company():
    return contractor("Quarry Lane Underground")


@pytest.fixture
def crew(client, company):
    client.force_login(user("crew2", "Contractor", company))
    return client


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_an_overload_shows_on_list_page_and_string_until_a_competent_person_passes_it(
    crew, company
):
    work = order(company, joints=[])
    made = string(work)
    over(work)
    jaws = made.parts.get(component__kind="JAW_SET").component
    page = text(crew.get(reverse("component", args=[jaws.pk])))
    for said in ("out of use until a competent person passes it", work.number, "4,6", "Over the"):
        assert said in page, said
    assert "out of use until" in text(crew.get(reverse("component_list")))
    second = order(company, line_of("LEAD", "LEAD"), joints=[])
    form = text(crew.get(reverse("work_order_string", args=[second.pk])))
    assert "Not offered until a competent person has inspected it" in form
    assert f'<option value="{jaws.pk}"' not in form
    told = {"inspected_on": "2028-04-13", "inspected_by": "Rowan Fell", "passed": "on",
            "looked_at": "all faces", "wear_O_RINGS": "GOOD"}  # fmt: skip
    refused = text(crew.post(reverse("component", args=[jaws.pk]), told))
    assert "Only a competent person can pass it" in refused and "all faces" in refused
    crew.post(reverse("component", args=[jaws.pk]), told | {"by_competent_person": "on"})
    page = text(crew.get(reverse("component", args=[jaws.pk])))
    assert "passed on Apr 13, 2028" in page and "Looked at: all faces" in page
    record = jaws.inspections.get(by_competent_person=True)
    crew.post(reverse("component_act", args=[jaws.pk, "withdraw"]),
              {"kind": "inspection", "number": record.pk, "reason": "wrong set"})  # fmt: skip
    assert "out of use until" in text(crew.get(reverse("component", args=[jaws.pk])))


def test_a_doubted_rating_is_confirmed_by_the_utility_from_its_paper(crew, client, company):
    form = {"kind": "CABLE", "mark": "C-1", "pulling_end_in": "0.375", "length_ft": "100",
            "construction": "7X19 GALVANIZED", "breaking_force_lbf": "144000"}  # fmt: skip
    crew.post(reverse("component_new"), form | {"construction": "7x19 galvanised"})
    assert not Component.objects.exists()
    crew.post(reverse("component_new"), form)
    cable = Component.objects.get()
    page = reverse("component", args=[cable.pk])
    assert "144,000 lb, the table 14,400 lb" in text(crew.get(page))
    paper = SimpleUploadedFile("tag.pdf", b"%PDF-1.4 made for this test")
    crew.post(reverse("component_act", args=[cable.pk, "paper"]), {"paper": paper})
    kept = RatingPaper.objects.get()
    told = {"number": kept.pk, "read_lbf": "144000"}
    confirm = reverse("component_act", args=[cable.pk, "confirm"])
    assert "second person" in text(crew.post(confirm, told, follow=True))
    client.force_login(user("compliance2", "Compliance staff"))
    assert client.get(page).status_code == 200
    answer = text(client.post(confirm, told | {"read_lbf": "14400"}, follow=True))
    assert "You read 14,400 lb, the entry says 144,000 lb" in answer
    client.post(confirm, told)
    kept.refresh_from_db()
    assert kept.confirmed_by == "compliance2"
    renewal = reverse("component_act", args=[cable.pk, "renewal"])
    assert client.post(renewal, {}).status_code == 403


def test_a_tool_set_is_entered_used_and_taken_back(crew, client, company):
    crew.post(reverse("tool_set_list"), {"name": "Blue case"})
    own = company.tool_sets.get()
    page = reverse("tool_set", args=[own.pk])
    shown = text(crew.get(page))
    assert "Jaws seated" in shown and "common practice, no source" in shown
    told = {"instructions": "Instructions, p. 4", "CABLE_TAIL_low": "0.375",
            "CABLE_TAIL_high": "0.5", "old_1": ["0.75"], "new_1": ["1.0"]}  # fmt: skip
    refused = text(crew.post(page, told | {"CABLE_TAIL_high": "5"}))
    assert "between 0 and 1 in" in refused and not ToolSetFacts.objects.exists()
    crew.post(page, told)
    entry = ToolSetFacts.objects.get()
    assert entry.facts == {"CABLE_TAIL": {"low": 0.375, "high": 0.5, "words": ""}}
    assert 'value="0.375"' in text(crew.get(page))
    work = order(company, joints=[])
    made = string(work)
    jaws = made.parts.get(component__kind="JAW_SET").component
    jaws.tool_set = own
    jaws.save()
    checklist = text(crew.get(reverse("work_order_checklist", args=[work.pk])))
    assert (
        "3/8 in. to 1/2 in." in checklist and "Instructions, p. 4 (tool set Blue case)" in checklist
    )
    crew.post(page, {"take_back": entry.pk, "reason": "of another set"})
    assert "1/4 in.; never more" in text(crew.get(reverse("work_order_checklist", args=[work.pk])))
    client.force_login(user("rival", "Contractor", contractor("Ferndale Pipe Works")))
    assert client.get(page).status_code == 404
