"""Customers' own work; dates of the clocks from 40 CFR 141.84(f), cases constructed."""

from datetime import date

import pytest

from program.models import CustomerWork, CustomerWorkStep
from program.operations.customer_work import (
    customer_step_withdraw,
    customer_work_record,
    customer_work_step,
)
from program.operations.inquiries import inquiry_receive
from program.queries.deadlines import NothingFound, chosen_by, deadlines_on
from replacements.operations.access import consent_record, contact_attempt_record
from replacements.operations.owners import owner_change_record
from services_inventory.domain.addresses import normalize
from services_inventory.models import Premise
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.program.operations.factories import NOW, TODAY, line, moment, replaced, utility

pytestmark = pytest.mark.django_db
TOLD = date(2030, 12, 2)
WHO = {"by": "office", "at": NOW}


@pytest.fixture
def lead():
    utility()
    return line("LEAD", "LEAD")


def told(of, **given):
    return customer_work_record(
        line=of, **({"told_on": TOLD, "source": "call", "today": TODAY} | WHO | given)
    )


def step(work, kind, day, source="letter 4"):
    return customer_work_step(
        work=work, kind=kind, happened_on=day, source=source, today=TODAY, **WHO
    )


def dues(of, as_of=TODAY):
    found = deadlines_on(as_of, chosen_by(of.location_id)).dues
    return {due.what: due.due_on for due in found}


def test_a_planned_work_is_on_the_calendar_and_moves_when_it_is_done(lead):
    work = told(lead, planned_on=date(2031, 1, 10))
    assert dues(lead) == {
        "Both sides replaced together": date(2031, 1, 10),
        "System side replaced": date(2031, 2, 24),
    }
    step(work, "CUSTOMER_DONE", date(2031, 1, 4))
    assert dues(lead) == {"System side replaced": date(2031, 2, 18)}


def test_the_extension_opens_the_longer_clock_and_the_states_notice_closes_its_day(lead):
    work = told(lead, done_on=TOLD)
    step(work, "EXTENDED", date(2030, 12, 20), "frozen ground")
    assert dues(lead) == {
        "System side replaced": date(2031, 1, 16),
        "State told that the shorter clock is missed": date(2031, 1, 1),
        "System side replaced, outermost day": date(2031, 5, 31),
    }
    step(work, "STATE_TOLD", date(2030, 12, 21))
    assert dues(lead) == {"System side replaced, outermost day": date(2031, 5, 31)}
    step(work, "SYSTEM_DONE", date(2031, 1, 14))
    assert dues(lead) == {}


def test_an_accepted_replacement_of_the_system_side_closes_it(lead):
    told(lead, done_on=TOLD)
    replaced(lead, date(2031, 1, 3), sides=("SYSTEM",))
    assert lead.category == "LEAD"  # the record of the customer side is not evidence yet
    assert "System side replaced" not in dues(lead)


def test_a_step_taken_back_is_as_if_it_had_not_been_and_stays_readable(lead):
    work = told(lead, planned_on=date(2031, 1, 10))
    done = step(work, "CUSTOMER_DONE", date(2031, 1, 4))
    customer_step_withdraw(step=done, reason="other house", **WHO)
    assert dues(lead)["System side replaced"] == date(2031, 2, 24)
    step(work, "CUSTOMER_DONE", date(2031, 1, 5))
    assert CustomerWorkStep.objects.count() == 2
    assert dues(lead)["System side replaced"] == date(2031, 2, 19)


def test_the_whole_record_taken_back_ends_its_clocks_and_another_may_follow(lead):
    work = told(lead, planned_on=date(2031, 1, 10))
    take_back(row=work, reason="gave it up", **WHO)
    assert dues(lead) == {}
    told(lead, done_on=date(2030, 12, 1))
    assert CustomerWork.objects.count() == 2


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"done_on": date(2031, 1, 16)}, "has not come yet"),
        ({"told_on": date(2031, 1, 16), "done_on": TOLD}, "has not come yet"),
        ({}, "Give the day for which"),
        ({"planned_on": date(2030, 12, 1)}, "give it as done"),
        ({"done_on": TOLD, "source": " "}, "Say how it is known"),
    ],
)
def test_what_contradicts_itself_is_refused_and_nothing_is_kept(lead, given, sentence):
    with pytest.raises(Refused, match=sentence):
        told(lead, **given)
    assert not CustomerWork.objects.exists()


def test_the_day_of_telling_may_be_the_planned_day(lead):
    assert told(lead, planned_on=TOLD).planned_on == TOLD


def test_steps_out_of_order_are_refused(lead):
    work = told(lead, done_on=TOLD)
    with pytest.raises(Refused, match="why the shorter time"):
        step(work, "STATE_TOLD", TODAY)
    with pytest.raises(Refused, match="from then"):
        step(work, "EXTENDED", date(2030, 12, 1))
    extended = step(work, "EXTENDED", TOLD)
    step(work, "STATE_TOLD", TODAY)
    with pytest.raises(Refused, match="Take back first"):
        customer_step_withdraw(step=extended, reason="wrong", **WHO)
    with pytest.raises(Refused, match="on record already"):
        step(work, "EXTENDED", TODAY)
    with pytest.raises(Refused, match="on record for this line"):
        told(lead, done_on=TOLD)


def test_nothing_is_left_to_do_at_a_non_lead_line(lead):
    copper = line("COPPER", "COPPER")
    with pytest.raises(Refused, match="non-lead"):
        told(copper, done_on=TOLD)


def test_a_message_starts_the_clock_until_a_record_of_it_is_made_or_taken_back(lead):
    inquiry = inquiry_receive(
        kind="REPLACED_BY_OWNER", address_given="1 Mill St", line=lead, received_on=TOLD,
        replaced_on=date(2030, 12, 1), at=moment(TOLD),
    )  # fmt: skip
    assert dues(lead)["System side replaced"] == date(2031, 1, 16)
    work = told(lead, done_on=date(2030, 12, 10), told_on=date(2030, 12, 15), inquiry=inquiry)
    assert dues(lead)["System side replaced"] == date(2031, 1, 29)
    take_back(row=work, reason="it was the neighbor's", **WHO)
    assert set(dues(lead)) == {"Offer to inspect the line", "Response to an inquiry"}


def test_a_new_owner_is_offered_and_asked_within_the_rules_time(lead):
    sold = {"source": "deed", "by": "office", "recorded_at": NOW}
    owner_change_record(premise=lead.premise, changed_on=date(2030, 8, 31), **sold)
    asked = dues(lead)
    assert asked == {
        "Replacement offered to the new owner": date(2031, 2, 28),
        "Reasonable effort to get the new owner's consent": date(2031, 8, 31),
    }
    said = {"line": lead, "by": "office", "recorded_at": NOW}
    contact_attempt_record(at=moment(date(2030, 8, 30)), method="PHONE", **said)
    assert dues(lead) == asked  # the owner before
    contact_attempt_record(at=moment(date(2030, 9, 5)), method="PHONE", **said)
    assert set(dues(lead)) == {"Reasonable effort to get the new owner's consent"}
    consent_record(answer="REFUSED", answered_on=date(2031, 1, 5), **said)
    assert dues(lead) == {}


def test_a_second_change_starts_the_time_anew_and_a_replaced_line_owes_nothing(lead):
    sold = {"source": "deed", "by": "office", "recorded_at": NOW}
    owner_change_record(premise=lead.premise, changed_on=date(2030, 8, 31), **sold)
    owner_change_record(premise=lead.premise, changed_on=date(2030, 10, 1), **sold)
    assert dues(lead)["Replacement offered to the new owner"] == date(2031, 4, 1)
    replaced(lead, date(2031, 1, 3))
    assert "Replacement offered to the new owner" not in dues(lead)


def test_the_calendar_of_an_address_an_inquiry_or_nothing(lead):
    other = line("LEAD", "LEAD")
    place = normalize(lead.premise.address)
    Premise.objects.filter(pk=lead.premise_id).update(
        address_key=place.key, street_key=place.street_key, house_number=int(place.number)
    )
    told(lead, done_on=TOLD)
    told(other, done_on=TOLD)
    of_address = deadlines_on(TODAY, chosen_by(lead.premise.address.lower())).dues
    assert {due.subject.id for due in of_address} == {lead.location_id}
    inquiry = inquiry_receive(
        kind="WRONG_CATEGORY", address_given="here", line=other, received_on=TOLD, at=moment(TOLD)
    )
    of_inquiry = deadlines_on(TODAY, chosen_by(f"Inquiry {inquiry.pk}")).dues
    assert {due.due_on for due in of_inquiry} == {date(2031, 1, 1), date(2031, 1, 31)}
    for text in ("inquiry 999999", "no such place"):
        with pytest.raises(NothingFound):
            chosen_by(text)
