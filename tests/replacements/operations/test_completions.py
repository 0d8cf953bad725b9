"""From a lead line to an accepted record: the category follows, each piece of work counts once."""

from datetime import date

import pytest

from replacements.models import CompletionRecord, ContactAttempt, Replacement, WorkOrder
from replacements.operations.completions import (
    CompletionError,
    completion_accept,
    completion_return,
    completions_accept_many,
)
from replacements.operations.work_orders import work_order_create
from services_inventory.models import CategoryChange, Evidence
from services_inventory.queries.counts import category_counts_on
from tests.replacements.factories import (
    DAY,
    LATER,
    REVIEW,
    contractor,
    good_quality,
    handed_in,
    order,
    pull,
    started,
    string,
)
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db


def accept(record, **more):
    return completion_accept(completion=record, by="reviewer", at=REVIEW, **more)


def test_a_lead_line_pulled_handed_in_and_accepted_is_non_lead_and_counted_once():
    work = order()
    made = string(work)
    started(work)
    pulled = pull(work)
    assert pulled.tool_string == made
    record = handed_in(work, pull=pulled)
    assert record.findings == []
    assert (work.state, record.revision) == ("HANDED_IN", 1)
    accept(record)
    work.line.refresh_from_db()
    assert work.line.category == "NON_LEAD"
    assert work.line.category_since == DAY
    counted = Replacement.objects.get()
    assert (counted.category_before, counted.category_after) == ("LEAD", "NON_LEAD")
    assert counted.facts_before.startswith("LEAD|LEAD|")
    assert counted.facts_after.startswith("PLASTIC|PLASTIC|")
    assert counted.replaced_on == DAY
    assert category_counts_on(date(2028, 4, 9))["LEAD"] == 1
    assert category_counts_on(DAY)["NON_LEAD"] == 1
    with pytest.raises(CompletionError, match="counts once"):
        accept(record)
    assert Replacement.objects.count() == 1


def test_returned_work_says_why_and_a_second_revision_is_accepted():
    work = order()
    first = handed_in(work)
    with pytest.raises(CompletionError, match="Say why"):
        completion_return(completion=first, by="reviewer", at=REVIEW, reasons=" ")
    completion_return(completion=first, by="reviewer", at=REVIEW, reasons="Photo shows no number.")
    work.refresh_from_db()
    assert work.state == "RETURNED"
    assert work.changes.order_by("-id").first().reason == "Photo shows no number."
    second = handed_in(work, at=REVIEW)
    assert second.revision == 2
    with pytest.raises(CompletionError, match="returned"):
        accept(first)
    accept(second)
    assert Replacement.objects.get().completion == second


def test_nobody_accepts_or_returns_their_own():
    record = handed_in(order(), by="pat", user_id=7)
    for name, user_id in (("pat", 8), ("other", 7)):
        with pytest.raises(CompletionError, match="own"):
            completion_accept(completion=record, by=name, user_id=user_id, at=REVIEW)
        with pytest.raises(CompletionError, match="own"):
            completion_return(completion=record, by=name, user_id=user_id, at=REVIEW, reasons="x")
    assert not Replacement.objects.exists()


def test_the_same_key_hands_in_once():
    work = order()
    first = handed_in(work, idempotency_key="k1")
    assert handed_in(work, idempotency_key="k1") == first
    assert CompletionRecord.objects.count() == 1
    with pytest.raises(CompletionError, match="another order"):
        handed_in(order(), idempotency_key="k1")


def test_only_the_lead_system_side_above_galvanized_leaves_the_line_to_be_replaced():
    work = order(line=line_of("LEAD", "GALVANIZED"))
    record = handed_in(
        work, customer_found="GALVANIZED", customer_replaced=False, system_found="LEAD"
    )
    accept(record)
    work.line.refresh_from_db()
    assert work.line.category == "GRR"
    assert work.line.system_was_lead is True
    counted = Replacement.objects.get()
    assert (counted.category_before, counted.category_after) == ("LEAD", "GRR")
    assert (counted.system_replaced, counted.customer_replaced) == (True, False)


def test_an_unknown_line_found_to_be_lead_counts_as_lead_before():
    work = order(line=line_of("UNKNOWN", "UNKNOWN", basis="NOT_STATED"))
    assert work.line.category == "UNKNOWN"
    accept(handed_in(work))
    counted = Replacement.objects.get()
    assert (counted.category_before, counted.category_after) == ("LEAD", "NON_LEAD")
    work.line.refresh_from_db()
    assert work.line.category == "NON_LEAD"
    last = CategoryChange.objects.filter(line=work.line).order_by("effective_on", "id").last()
    assert last.to_category == "NON_LEAD"


def test_a_line_found_not_to_be_lead_is_evidence_and_no_replacement():
    work = order(line=line_of("UNKNOWN", "COPPER"))
    record = handed_in(
        work,
        outcome="FOUND_NOT_LEAD",
        system_found="COPPER",
        quality={"points_seen": {"SYSTEM": 2}},
    )
    accept(record)
    work.line.refresh_from_db()
    work.refresh_from_db()
    assert (work.line.category, work.state) == ("NON_LEAD", "ACCEPTED")
    assert not Replacement.objects.exists()
    seen = Evidence.objects.filter(line=work.line, basis="EXCAVATION", observed_on=DAY).get()
    assert (seen.portion, seen.points_seen) == ("SYSTEM", 2)


def test_no_access_is_a_contact_attempt_and_frees_the_line_for_a_new_order():
    work = order()
    record = handed_in(work, outcome="NO_ACCESS", note="Nobody answered, card left")
    accept(record)
    work.refresh_from_db()
    assert work.state == "CALLED_OFF"
    attempt = ContactAttempt.objects.get(line=work.line)
    assert attempt.contractor == work.contractor
    assert "card left" in attempt.outcome
    again = work_order_create(line=work.line, contractor=work.contractor, by="p", at=REVIEW)
    assert again.state == "PLANNED"
    assert not Replacement.objects.exists()


def test_a_stopped_pull_records_what_was_found_and_counts_nothing():
    work = order(line=line_of("UNKNOWN", "COPPER"))
    accept(handed_in(work, outcome="STOPPED", note="Cable slipped", system_found="LEAD"))
    work.line.refresh_from_db()
    assert work.line.category == "LEAD"
    assert not Replacement.objects.exists()


def test_records_that_contradict_themselves_are_refused_with_a_sentence_and_nothing_is_kept():
    work = order()
    for changed, said in (
        ({"system_replaced": False, "customer_replaced": False}, "Tick which portion"),
        ({"finished_on": date(2029, 1, 1)}, "not come yet"),
        ({"finished_on": date(2028, 1, 1)}, "before the order was released"),
        ({"outcome": "NO_ACCESS"}, "Say in the note"),
        ({"outcome": "FOUND_NOT_LEAD", "system_found": "LEAD"}, "found to be lead"),
        ({"customer_material_after": "LEAD"}, "cannot be replaced by lead"),
        ({"system_found": "CHEESE"}, "no material 'CHEESE'"),
        ({"quality": {"presure": 1}}, "no presure"),
        ({"color": "red"}, "no color"),
        ({"pull": pull(order())}, "another order"),
    ):
        with pytest.raises(CompletionError, match=said):
            handed_in(work, **changed)
    assert not CompletionRecord.objects.filter(work_order=work).exists()
    work.refresh_from_db()
    assert work.state == "RELEASED"


def test_open_stops_hold_acceptance_until_somebody_says_why_they_may_stand():
    record = handed_in(order(), quality={}, photos=[])
    assert {f["rule"] for f in record.findings if f["level"] == "STOP"} >= {
        "PRESSURE_TEST", "PHOTO_OLD_PIPE", "CREW_FLUSH"
    }  # fmt: skip
    with pytest.raises(CompletionError, match="No pressure test"):
        accept(record)
    review = accept(record, despite="Seen on site by the inspector")
    assert "Seen on site" in review.reasons


def test_many_at_once_take_the_good_and_say_why_of_the_rest():
    company = contractor()
    good = [handed_in(order(company)) for _ in range(3)]
    bad = handed_in(order(company), quality={}, photos=[])
    own = handed_in(order(company), by="reviewer")
    done = completions_accept_many(
        completion_ids=[r.pk for r in (*good, bad, own)] + [0, good[0].pk],
        by="reviewer",
        at=REVIEW,
    )
    assert done.accepted == tuple(r.pk for r in good)
    assert [pk for pk, _ in done.refused] == [bad.pk, own.pk, 0]
    assert Replacement.objects.count() == 3
    again = completions_accept_many(completion_ids=done.accepted, by="reviewer", at=REVIEW)
    assert (again.accepted, len(again.refused)) == ((), 3)
    assert Replacement.objects.count() == 3
    assert WorkOrder.objects.filter(state="ACCEPTED").count() == 3


def test_a_lead_connector_found_and_replaced_is_evidence_of_both():
    work = order()
    accept(handed_in(work, connector_found="LEAD", connector_replaced=True))
    work.line.refresh_from_db()
    assert work.line.connector == "NON_LEAD"
    said = Evidence.objects.filter(line=work.line, portion="CONNECTOR").order_by("id")
    assert [(e.material, e.basis) for e in said] == [
        ("LEAD", "EXCAVATION"), ("NON_LEAD", "REPLACEMENT")
    ]  # fmt: skip


def test_work_finished_before_it_was_handed_in_counts_on_its_own_day():
    work = order()
    accept(handed_in(work, finished_on=date(2028, 3, 20), at=LATER))
    assert category_counts_on(date(2028, 3, 20))["NON_LEAD"] == 1
    assert category_counts_on(date(2028, 3, 19))["LEAD"] == 1


def test_what_the_trench_showed_otherwise_is_told_and_becomes_evidence():
    work = order()  # ordered: split in place, 0.75 in.; on record: lead on both sides
    record = handed_in(
        work,
        system_found="COPPER",
        system_replaced=False,
        method_used="OPEN_CUT",
        quality=good_quality() | {"found_in": {"SYSTEM": 1.0, "CUSTOMER": 0.75}},
    )
    rules = [f["rule"] for f in record.findings if f["level"] == "CAUTION"]
    assert rules == ["METHOD_CHANGED", "FOUND_OTHERWISE", "SIZE_DIFFERS"]
    accept(record)
    found = {
        e.portion: (e.material, e.diameter_in)
        for e in Evidence.objects.filter(source=f"{work.number} revision 1", basis="EXCAVATION")
    }
    assert found["SYSTEM"] == ("COPPER", 1.0)
    assert found["CUSTOMER"] == ("LEAD", 0.75)
