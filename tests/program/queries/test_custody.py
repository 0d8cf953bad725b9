"""Custody of a line: everything from evidence to payment, each with person, time and digest."""

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse

from program.queries.custody import custody
from program.roles import COMPLIANCE
from services_inventory.models import Evidence
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def staff(client):
    """A client of compliance staff."""
    user = User.objects.create_user("pat")
    user.groups.add(Group.objects.get(name=COMPLIANCE))
    client.force_login(user)
    return client


def test_a_line_without_work_shows_its_evidence_and_an_altered_row_another_digest(staff):
    line = line_of("LEAD", "COPPER", address="12 Mill St")
    before = {step.what: step.sha256 for step in custody(line)}
    assert len(before) == line.evidence.count() > 0
    row = line.evidence.first()
    Evidence.objects.filter(pk=row.pk).update(note="altered")
    after = {step.what: step.sha256 for step in custody(line)}
    assert len({*after.items()} - {*before.items()}) == 1
    page = staff.get(reverse("custody", args=[line.pk])).content.decode()
    assert "not sealed yet" in page
    assert staff.get(reverse("custody", args=[line.pk + 1])).status_code == 404
