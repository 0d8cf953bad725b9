"""A dispute is a note on a row: said, answered, closed, undone; the statement stays."""

import pytest
from django.urls import reverse

from replacements.models import StatementLine
from replacements.payments.disputes import is_open, note_write, standing
from replacements.payments.operations import statement_make
from replacements.payments.statements import totals
from services_inventory.refused import Refused
from tests.replacements.factories import REVIEW, contractor, user
from tests.replacements.payments.test_payments import APRIL, WHO, accepted, items

pytestmark = pytest.mark.django_db


@pytest.fixture
def company():
    return contractor()


@pytest.fixture
def row(company):
    items(company)
    accepted(company)
    made = statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1], **WHO)
    return made.lines.get(code="PULL")


def write(row, kind, of_contractor, said="35 ft were laid, 30 stand here"):
    return note_write(
        line=row, kind=kind, said=said, of_contractor=of_contractor, by="who", at=REVIEW
    )


def test_it_is_said_answered_closed_and_each_taken_back_by_its_own_side(row):
    before = totals(row.statement)
    write(row, "DISPUTED", True)
    assert is_open(row.notes.all())
    for kind, side in (("DISPUTED", False), ("CLOSED", False), ("UNDONE", False)):
        with pytest.raises(Refused, match="is disputed"):
            write(row, kind, side)
    write(row, "ANSWERED", False)
    write(row, "UNDONE", False)
    assert [note.kind for note in standing(row.notes.all())] == ["DISPUTED"]
    write(row, "ANSWERED", False)
    write(row, "CLOSED", True)
    assert not is_open(row.notes.all())
    write(row, "UNDONE", True)  # closed by a slip
    assert is_open(row.notes.all())
    assert row.notes.count() == 6  # nothing is rubbed out
    assert totals(row.statement) == before


def test_a_dispute_raised_by_a_slip_is_undone_and_can_be_raised_again(row):
    write(row, "DISPUTED", False)
    write(row, "UNDONE", False)
    assert not is_open(row.notes.all()) and standing(row.notes.all()) == []
    with pytest.raises(Refused, match="is not disputed"):
        write(row, "ANSWERED", True)
    with pytest.raises(Refused, match="in a sentence"):
        write(row, "DISPUTED", True, said="  ")
    write(row, "DISPUTED", True)
    assert is_open(row.notes.all())


def test_the_page_opens_a_quantity_to_its_order_and_photos_and_takes_the_note(client, company, row):
    client.force_login(user("crew", "Contractor", company))
    page = reverse("statement", args=[row.statement_id])
    shown = client.get(page, {"item": "PULL"}).content.decode()
    record = row.completion
    assert reverse("work_order", args=[record.work_order_id]) in shown
    assert reverse("work_document", args=[record.photos.first().pk]) in shown
    assert "Rows of PULL" in shown and f"?item={row.code}#rows" in shown
    where = reverse("statement_note", args=[row.pk])
    told = client.post(where, {"kind": "DISPUTED", "said": "30 ft, not 35"}, follow=True)
    told = told.content.decode()
    assert "30 ft, not 35" in told and "1 disputed" in told and "Close the dispute" in told
    client.force_login(user("manager", "Program manager"))
    answered = client.get(page).content.decode()
    assert "Answer" in answered and "Close the dispute" not in answered


def test_another_company_finds_nothing(client, row):
    client.force_login(user("others", "Contractor", contractor()))
    where = reverse("statement_note", args=[row.pk])
    assert client.post(where, {"kind": "DISPUTED", "said": "x"}).status_code == 404
    assert not StatementLine.objects.get(pk=row.pk).notes.exists()
