"""Owner and access of a line: what is typed there is recorded, and shown again."""

import pytest
from django.urls import reverse

from replacements.models import Consent, ContactAttempt, OwnerChange
from tests.replacements.factories import user
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def staff(client):
    client.force_login(user("office", "Compliance staff"))
    return client


@pytest.fixture
def line():
    return line_of("LEAD", "LEAD")


def send(client, line, action, **given):
    return client.post(reverse("line_access_act", args=[line.pk, action]), given, follow=True)


def test_attempt_answer_and_change_of_owner_come_back_on_the_page(staff, line):
    send(staff, line, "attempt", at="2026-01-05T10:00", method="PHONE", addressed_to="OWNER")
    send(staff, line, "answer", answer="REFUSED", answered_on="2026-01-06", capacity="OWNER")
    page = send(staff, line, "owner", changed_on="2026-02-01", source="deed 118-4")
    said = page.content.decode()
    assert "deed 118-4" in said and "before the present owner: does not count" in said
    assert (ContactAttempt.objects.count(), Consent.objects.count()) == (1, 1)
    taken = reverse("owner_change_withdraw", args=[OwnerChange.objects.get().pk])
    page = staff.post(taken, {"reason": "wrong house"}, follow=True).content.decode()
    assert "wrong house" in page and "does not count" not in page


@pytest.mark.parametrize(
    ("action", "given", "sentence"),
    [
        ("owner", {"changed_on": "2999-01-01", "source": "deed"}, "has not come yet"),
        ("owner", {"changed_on": "2026-01-01"}, "How it is known"),
        ("attempt", {"at": "2999-01-01T10:00", "method": "PHONE", "addressed_to": "OWNER"},
         "has not come yet"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_a_sentence_and_nothing_is_kept(staff, line, action, given, sentence):
    assert sentence in send(staff, line, action, **given).content.decode()
    assert not OwnerChange.objects.exists() and not ContactAttempt.objects.exists()


def test_the_line_page_leads_here(staff, line):
    page = staff.get(reverse("line", args=[line.pk])).content.decode()
    assert reverse("line_access", args=[line.pk]) in page
