"""Outreach: a yearly duty is done once everybody on its list was reached in the year."""

import io
from datetime import date

import pytest

from program.models import OutreachPartner
from program.operations.outreach import outreach_record, partner_add
from program.queries.deadlines import deadlines_on
from program.queries.outreach import outreach_done, reached_in
from services_inventory.operations.documents import DocumentRefused
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.program.operations.factories import NOW, TODAY, line, utility

pytestmark = pytest.mark.django_db
BY = {"by": "compliance", "at": NOW, "today": TODAY}
HEALTH = "HEALTH_AGENCY_OUTREACH_LAST_DAY"


def partner(name="County health department", audience="HEALTH", since=date(2028, 1, 1)):
    return partner_add(audience=audience, name=name, reached_at="", since=since, **BY)


def tell(*partners, on=date(2030, 10, 4), **said):
    given = {"what": "letter", "proof_words": "folder of the year"} | said
    return outreach_record(partners=partners, done_on=on, **given, **BY)


def due_years():
    return [due.due_on.year for due in deadlines_on(TODAY).dues if due.rule_id == HEALTH]


def test_an_empty_list_does_nothing_and_one_more_agency_opens_the_year_again():
    utility()
    line("LEAD", "COPPER")
    assert due_years() == [2028, 2029, 2030, 2031]
    county = partner()
    tell(county)
    assert due_years() == [2028, 2029, 2031]
    state = partner("State department", since=date(2030, 1, 1))
    assert due_years() == [2028, 2029, 2030, 2031]
    tell(state, on=date(2030, 12, 3))
    assert due_years() == [2028, 2029, 2031]
    assert outreach_done()[HEALTH] == {2030: date(2030, 12, 3)}
    take_back(row=state, reason="merged with the county", by="compliance", at=NOW)
    assert outreach_done()[HEALTH] == {2030: date(2030, 10, 4)}


def test_who_came_later_was_not_owed_before():
    partner()
    later = partner("State department", since=date(2031, 1, 1))
    (health, *_) = reached_in(2030)
    assert [one.name for one in health.missing] == ["County health department"]
    (health, *_) = reached_in(2031)
    assert later in health.missing


def test_what_was_done_is_taken_back_with_a_reason():
    act = tell(partner())
    take_back(row=act, reason="another year", by="compliance", at=NOW)
    assert outreach_done()[HEALTH] == {}
    for reason in ("again", " "):
        with pytest.raises(Refused):
            take_back(row=act, reason=reason, by="compliance", at=NOW)


def test_what_can_not_be_recorded():
    county = partner()
    with pytest.raises(Refused, match="on the list already"):
        partner("county HEALTH department")
    with pytest.raises(Refused, match="lies ahead"):
        tell(county, on=date(2031, 1, 16))
    with pytest.raises(Refused, match="proof"):
        tell(county, proof_words=" ")
    page = io.BytesIO(b"<html>")
    page.name = "proof.pdf"
    with pytest.raises(DocumentRefused):
        tell(county, proof=page)
    assert OutreachPartner.objects.count() == 1
