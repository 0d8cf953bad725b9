"""Custody of a line: everything from evidence to payment, each with person, time and digest."""

from datetime import date

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse

from program.queries.custody import custody
from program.roles import COMPLIANCE
from replacements.models import CompletionReview
from services_inventory.models import Evidence
from services_inventory.operations.evidence import evidence_withdraw
from tests.program.operations.factories import NOW, TODAY, lines, replaced, utility
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
    before = {step.what: step.sha256 for step in custody(line, TODAY)}
    assert len(before) == line.evidence.count() > 0
    row = line.evidence.first()
    Evidence.objects.filter(pk=row.pk).update(note="altered")
    after = {step.what: step.sha256 for step in custody(line, TODAY)}
    assert len({*after.items()} - {*before.items()}) == 1
    page = staff.get(reverse("custody", args=[line.pk])).content.decode()
    assert "not sealed yet" in page
    assert staff.get(reverse("custody", args=[line.pk + 1])).status_code == 404


def test_what_was_taken_back_is_said_beside_the_work_and_the_evidence():
    utility()
    (line,) = lines([("LEAD", "LEAD", "")])
    work = replaced(line, date(2028, 6, 7))
    CompletionReview.objects.create(
        completion=work.completion, answer="ACCEPTED", reviewed_by="manager", reviewed_at=NOW
    )
    told = [step.what for step in custody(line, TODAY) if step.part == "Replacement"]
    assert len(told) == 1 and "counts nowhere" not in told[0]
    for row in Evidence.objects.filter(line=line, basis="REPLACEMENT", withdraws=None):
        evidence_withdraw(
            evidence=row, by="manager", recorded_at=NOW, reason="It was 14", never_true=True
        )
    steps = custody(line, TODAY)
    assert [s.what for s in steps if s.part == "Replacement"] == [
        f"{told[0]}; its record was taken back, so it counts nowhere"
    ]
    assert any("an earlier row is taken back: It was 14" in step.what for step in steps)
