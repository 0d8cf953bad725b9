"""The pages of the plan document: who writes, what comes back when something is wrong."""

from datetime import date

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse

from program.models import PlanDocument, PlanStatement, PlanText
from program.roles import ADMINISTRATOR, COMPLIANCE, PROGRAM_MANAGER
from tests.program.operations.factories import standing_town

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _town():
    standing_town()


@pytest.fixture
def sign_in(client):
    def signed_in(role):
        user, _ = User.objects.get_or_create(username=role[:4])
        user.groups.set([Group.objects.get(name=role)])
        client.force_login(user)

    signed_in(COMPLIANCE)
    return signed_in


def write(client, text="Ordinance 12-3.", element="ACCESS", **more):
    return client.post(reverse("plan_element_write", args=[element]), {"text": text, **more})


@pytest.mark.usefixtures("sign_in")
def test_the_board_names_what_is_missing_and_who_supplies_it(client):
    page = client.get(reverse("plan_document")).content.decode()
    assert "0 of 8 that apply" in page
    assert "Utility&#x27;s counsel" in page and "An adopted plan of work areas" in page
    answer = write(client)
    assert answer.status_code == 302
    assert "1 of 8 that apply" in client.get(reverse("plan_document")).content.decode()


@pytest.mark.usefixtures("sign_in")
def test_words_that_cannot_be_printed_come_back_in_the_form(client):
    answer = write(client, "Ordinance \u4e2d")
    page = answer.content.decode()
    assert answer.status_code == 422 and "U+4E2D" in page and "Ordinance \u4e2d" in page
    assert write(client, element="WEATHER").status_code == 404
    assert not PlanText.objects.exists()


@pytest.mark.usefixtures("sign_in")
def test_versions_can_be_read_compared_and_brought_back(client):
    write(client, "One.")
    write(client, "Two.", based_on=1)
    page = client.get(reverse("plan_element", args=["ACCESS"])).content.decode()
    assert "-One." in page and "+Two." in page
    client.post(reverse("plan_element_restore", args=["ACCESS", 1]))
    assert PlanText.objects.order_by("-version").first().text == "One."
    answer = write(client, "Three.", based_on=2)
    assert "Somebody saved other words" in answer.content.decode()


@pytest.mark.usefixtures("sign_in")
def test_a_draft_is_frozen_only_if_it_is_meant(client):
    answer = client.post(reverse("plan_document_freeze"), {"what_changed": "First."})
    assert answer.status_code == 422 and "Missing: " in answer.content.decode()
    client.post(reverse("plan_document_freeze"), {"is_draft_meant": "on"})
    assert PlanDocument.objects.get().is_draft
    page = client.get(reverse("plan_document_frozen", args=[1])).content.decode()
    assert "give it again to the byte" in page
    file = client.get(reverse("plan_document_file", args=[1]))
    assert b"".join(file.streaming_content).startswith(b"%PDF")
    said = {"year": 2030, "says": "UPDATED", "name": "A", "title": "B", "statement": "C"}
    answer = client.post(reverse("plan_statement", args=[1]), said)
    assert "Nothing is certified of a draft" in answer.content.decode()
    assert not PlanStatement.objects.exists()
    client.post(reverse("plan_document_publish", args=[1]))
    assert PlanDocument.objects.get().published_at is None


def test_managers_write_and_only_compliance_staff_certify(client, sign_in):
    sign_in(PROGRAM_MANAGER)
    assert write(client).status_code == 302
    client.post(reverse("plan_document_freeze"), {"is_draft_meant": "on"})
    assert client.post(reverse("plan_document_publish", args=[1])).status_code == 403
    assert client.post(reverse("plan_statement", args=[1])).status_code == 403
    sign_in(ADMINISTRATOR)
    assert write(client).status_code == 403
    assert client.get(reverse("plan_document_print"))["Content-Type"] == "application/pdf"
    assert PlanDocument.objects.get().as_of == date(2031, 1, 15)
