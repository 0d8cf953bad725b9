"""Inspections ordered: once, of unknown lines only, answered by what is seen at the pipe."""

from datetime import timedelta

import pytest
from django.db.models import Q
from django.http import QueryDict

from services_inventory.filters import choose
from services_inventory.models import InspectionOrder, ServiceLine
from services_inventory.operations import inspections
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.operations.inspections import inspections_order, inspections_take_back
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.services_inventory.factories import MORNING, line_of
from tests.services_inventory.people import MANAGER, browser_of

NOON = MORNING + timedelta(hours=3)
WHO = {"by": "clerk", "at": NOON}


def order(chosen=None):
    return inspections_order(chosen=chosen or Q(), look_at=" basement ", **WHO)


def seen(line, hours, basis="VISUAL_INSPECTION"):
    looked = basis == "VISUAL_INSPECTION"
    return evidence_record(
        line=line, portion="CUSTOMER", material="COPPER", basis=basis, by="crew",
        points_seen=int(looked), observed_on=MORNING.date() if looked else None,
        recorded_at=MORNING + timedelta(hours=hours),
    )  # fmt: skip


def waiting():
    kept = choose(QueryDict("inspection=waiting")).condition()
    return list(ServiceLine.objects.filter(kept).values_list("pk", flat=True))


@pytest.fixture
def unknown(db):
    return line_of("UNKNOWN", "UNKNOWN", basis="NOT_STATED")


def test_only_unknown_lines_are_ordered_and_each_once(unknown):
    line_of("COPPER", "COPPER")
    assert order() == "1 inspection ordered."
    assert InspectionOrder.objects.get().look_at == "basement"
    assert waiting() == [unknown.pk]
    with pytest.raises(Refused, match="without an inspection ordered"):
        order()


def test_too_many_are_refused_whole(unknown, monkeypatch):
    line_of("UNKNOWN", "UNKNOWN", basis="NOT_STATED")
    monkeypatch.setattr(inspections, "MOST", 1)
    with pytest.raises(Refused, match="More than 1 lines"):
        order()
    assert not InspectionOrder.objects.exists()


def test_what_is_seen_later_answers_and_its_withdrawal_opens_it_again(unknown):
    seen(unknown, hours=1)  # before anybody was sent
    order(Q(pk=unknown.pk))
    seen(unknown, hours=4, basis="RECORD_TAP_CARD")  # nobody looked
    assert waiting() == [unknown.pk]
    found = seen(unknown, hours=5)
    assert waiting() == []
    evidence_withdraw(
        evidence=found, reason="another house", never_true=True, by="clerk",
        recorded_at=MORNING + timedelta(hours=6),
    )  # fmt: skip
    assert waiting() == [unknown.pk]


def test_one_taken_back_sends_nobody_and_another_can_be_ordered(unknown):
    order()
    take_back(row=InspectionOrder.objects.get(), reason="wrong street", **WHO)
    assert waiting() == []
    assert order() == "1 inspection ordered."


def test_nobody_is_sent_to_a_line_that_a_record_settled_until_that_is_withdrawn(unknown):
    order()
    said = [
        evidence_record(
            line=unknown, portion=portion, material="LEAD", basis="RECORD_TAP_CARD", by="clerk",
            recorded_at=MORNING + timedelta(hours=4),
        )
        for portion in ("SYSTEM", "CUSTOMER")
    ]  # fmt: skip
    assert waiting() == []
    for row in said:
        evidence_withdraw(
            evidence=row, reason="another house", never_true=True, by="clerk",
            recorded_at=MORNING + timedelta(hours=6),
        )  # fmt: skip
    assert waiting() == [unknown.pk]


def test_many_are_ordered_from_their_list_and_a_refusal_keeps_what_was_typed(unknown):
    client, page = browser_of(MANAGER), "/program/chosen/inspections/?category=UNKNOWN"
    done = client.post(page, {"look_at": "ring first"})
    assert done.url.endswith("?category=UNKNOWN&inspection=waiting")
    again = client.post(page, {"look_at": "ring twice"})
    orders, looks = again.content.decode().split('id="inspections"')
    assert again.status_code == 422 and "ring twice" in looks and "Nothing to order" in looks
    assert "Nothing to order" not in orders
    assert InspectionOrder.objects.get().look_at == "ring first"


def test_all_that_wait_of_a_list_are_taken_back_with_a_reason(unknown):
    other = line_of("UNKNOWN", "UNKNOWN", basis="NOT_STATED")
    order()
    client, page = browser_of(MANAGER), "/program/chosen/inspections/back/"
    only = f"?location={other.location_id}"
    assert "inspection waits" in client.get(f"/program/chosen/{only}").content.decode()
    client.post(page + only, {"reason": " "})
    assert len(waiting()) == 2
    done = client.post(page + only, {"reason": "the wrong street"}, follow=True).content.decode()
    assert "1 inspection taken back" in done and waiting() == [unknown.pk]
    assert InspectionOrder.objects.get(line=other).withdrawn_reason == "the wrong street"
    again = client.post(page + only, {"reason": "once more"}, follow=True).content.decode()
    assert "no inspection of these lines waits" in again
    with pytest.raises(Refused, match="Say why"):
        inspections_take_back(chosen=Q(), reason="", **WHO)
