"""Conflicts on their pages: where things were seen, both true, and the second person."""

import pytest
from django.contrib.auth.models import Group, User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from services_inventory.models import Conflict
from services_inventory.operations.evidence import evidence_record
from tests.services_inventory.factories import MORNING, line_of
from tests.services_inventory.people import BACKEND, STAFF, browser_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _a_day_of_its_own(settings):
    settings.TODAY = "tests.services_inventory.people.today"
    settings.NOW = "tests.services_inventory.people.now"


@pytest.fixture
def line():
    """Return a line of copper by its cards."""
    return line_of("COPPER", "COPPER", basis="RECORD_TAP_CARD")


def seen_both(line):
    """Let somebody have seen lead at the meter, and another copper at the curb stop."""
    for material, place in (("LEAD", "at the meter"), ("COPPER", "at the curb stop")):
        evidence_record(
            line=line, portion="CUSTOMER", material=material, basis="EXCAVATION", points_seen=1,
            place=place, by="crew", recorded_at=MORNING,
        )  # fmt: skip
    return Conflict.objects.get(line=line, portion="CUSTOMER")


def test_a_conflict_shows_where_each_thing_was_seen_and_both_can_be_true(line):
    conflict, browser = seen_both(line), browser_of(STAFF)
    address = reverse("conflict", args=[conflict.pk])
    page = " ".join(browser.get(address).content.decode().split())
    for words in ("at the meter", "at the curb stop", "1 point", "Both are true"):
        assert words in page, words
    done = browser.post(address, {"material": "BOTH", "reason": "The joint is in between."})
    assert done.status_code == 302
    line.refresh_from_db()
    assert (line.category, line.customer_material) == ("LEAD", "LEAD")
    page = browser.get(reverse("line", args=[line.pk])).content.decode()
    assert "a person decided that both are true" in page


def second_person():
    """Return another browser of compliance staff."""
    other = User.objects.create(username="second")
    other.groups.set([Group.objects.get(name=STAFF)])
    browser = Client()
    browser.force_login(other, backend=BACKEND)
    return browser


def test_the_less_protective_answer_takes_a_document_and_a_second_person(line):
    conflict, browser = seen_both(line), browser_of(STAFF)
    address = reverse("conflict", args=[conflict.pk])
    said = {"material": "COPPER", "reason": "The meter photo shows another house."}
    alone = browser.post(address, said)
    assert alone.status_code == 422
    assert "Attach the document" in alone.content.decode()
    photo = SimpleUploadedFile("meter.jpg", b"\xff\xd8\xff\xe0 a photo")
    assert browser.post(address, {**said, "document": photo}).status_code == 302
    line.refresh_from_db()
    assert (line.category, line.in_conflict) == ("LEAD", True)
    (proposal,) = conflict.proposals.all()
    answer = reverse("proposal", args=[proposal.pk])
    browser.post(answer, {"answer": "AGREE"})
    proposal.refresh_from_db()
    assert proposal.answer == "", "nobody agrees with themselves"
    other = second_person()
    assert address in other.get(reverse("conflict_list")).content.decode()
    assert other.post(answer, {"answer": "AGREE"}).status_code == 302
    line.refresh_from_db()
    assert line.customer_material == "COPPER"
    assert "set aside by a documented decision of two people" in line.decision.reason
    listed = browser.get(reverse("set_aside")).content.decode()
    for words in ("meter.jpg", "agreed by second", "lead, by excavation", "at the meter"):
        assert words in listed, words
    text = browser.get(reverse("set_aside_csv")).content.decode()
    assert "The meter photo shows another house." in text
