"""Orders: made from a line, one open at a time, released only when the papers are in order."""

from datetime import timedelta

import pytest

from replacements.models import WorkOrder
from replacements.operations.contractors import certificate_record, material_lot_record
from replacements.operations.work_orders import (
    ReleaseBlocked,
    WorkOrderError,
    work_order_call_off,
    work_order_change,
    work_order_create,
    work_order_release,
)
from tests.replacements.factories import AT, contractor, handed_in, order
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db


def test_an_order_takes_its_old_pipe_from_the_line_and_gets_a_number():
    line = line_of("COPPER", "LEAD")
    line.customer_nominal_in = 0.625
    line.save()
    made = work_order_create(line=line, contractor=contractor(), by="p", at=AT)
    assert made.number == f"W-{made.pk:06d}"
    assert (made.old_material, made.old_nominal_in, made.method) == ("LEAD", 0.625, "SPLIT")
    assert made.state == "PLANNED"
    galvanized = work_order_create(
        line=line_of("UNKNOWN", "GALVANIZED"), contractor=contractor(), by="p", at=AT
    )
    assert (galvanized.old_material, galvanized.method) == ("GALVANIZED", "OPEN_CUT")


def test_a_line_has_one_open_order_and_the_sentence_names_it():
    first = order(released=False)
    with pytest.raises(WorkOrderError, match=f"open order, {first.number}"):
        work_order_create(line=first.line, contractor=contractor(), by="p", at=AT)
    work_order_call_off(work_order=first, by="p", at=AT, reason="wrong house")
    again = work_order_create(line=first.line, contractor=contractor(), by="p", at=AT)
    assert again.state == "PLANNED"


def test_there_is_nothing_to_replace_on_a_non_lead_line():
    with pytest.raises(WorkOrderError, match="nothing to replace"):
        work_order_create(line=line_of("COPPER", "COPPER"), contractor=contractor(), by="p", at=AT)


def test_release_is_blocked_until_each_paper_is_there_and_says_who_must_do_what():
    company = contractor("Otter Creek", ready=False)
    made = order(company, released=False)
    with pytest.raises(ReleaseBlocked) as refused:
        work_order_release(work_order=made, by="p", at=AT)
    assert len(refused.value.sentences) == 4
    assert all("Otter Creek must" in sentence for sentence in refused.value.sentences)
    today = AT.date()
    for kind, last in (
        ("INSURANCE", today),
        ("LICENSE", today + timedelta(days=1)),
        ("COMPETENT_PERSON", today - timedelta(days=1)),
    ):
        certificate_record(contractor=company, kind=kind, expires_on=last, by="o", at=MORNING)
    material_lot_record(
        contractor=company, lot="A", material="PE", nominal_in=1.0, by="o", at=MORNING
    )
    with pytest.raises(ReleaseBlocked) as refused:
        work_order_release(work_order=made, by="p", at=AT)
    ran_out, papers = refused.value.sentences
    assert "competent person" in ran_out and "ran out" in ran_out
    assert "NSF/ANSI/CAN 61" in papers
    certificate_record(
        contractor=company, kind="COMPETENT_PERSON", expires_on=today, by="o", at=MORNING
    )
    material_lot_record(
        contractor=company, lot="B", material="PE", nominal_in=1.0, grade="CTS SDR 9",
        contact_standard=True, lead_free_standard=True, by="o", at=MORNING,
    )  # fmt: skip
    work_order_release(work_order=made, by="p", at=AT)
    assert (made.state, made.released_at) == ("RELEASED", AT)
    with pytest.raises(WorkOrderError, match="already"):
        work_order_release(work_order=made, by="p", at=AT)


def test_a_change_is_kept_with_before_and_after_and_an_impossible_one_is_refused():
    made = order()
    work_order_change(
        work_order=made, by="p", at=AT, reason="measured", length_ft=41.0,
        bends=[{"station_ft": 8, "degrees": 45}],
    )  # fmt: skip
    last = made.changes.order_by("-id").first()
    assert "length_ft: 35.0 -> 41.0" in last.reason
    for changed, said in (
        ({"bends": [{"station_ft": 80, "degrees": 45}]}, "outside the line"),
        ({"bends": [{"at": 80}]}, "A bend needs"),
        ({"joints": [{"station_ft": 8, "kind": "GLUE"}]}, "GLUE"),
        ({"length_ft": -3}, "above zero"),
        ({"length_ft": 10_668}, "at most 1,000 ft.*another unit"),
        ({"cover_ft": 1524}, "another unit"),
        ({"old_outside_in": 28}, "another unit"),
        ({"soil": "CHEESE"}, "no soil 'CHEESE'"),
        ({"new_nominal_in": 9.0}, "no size"),
        ({"old_outside_in": 0.5}, "swapped"),
        ({"method": "MAGIC"}, "no method"),
        ({"color": "red"}, "no color"),
    ):
        with pytest.raises(WorkOrderError, match=said):
            work_order_change(work_order=made, by="p", at=AT, **changed)
    kept = WorkOrder.objects.get(pk=made.pk)
    assert (kept.length_ft, len(kept.bends), kept.method) == (41.0, 1, "SPLIT")


def test_what_waits_for_review_is_neither_changed_nor_called_off():
    work = order()
    handed_in(work)
    with pytest.raises(WorkOrderError, match="handed in"):
        work_order_call_off(work_order=work, by="p", at=AT, reason="x")
    with pytest.raises(WorkOrderError, match="stays so"):
        work_order_change(work_order=work, by="p", at=AT, length_ft=3.0)
    with pytest.raises(WorkOrderError, match="Say why"):
        work_order_call_off(work_order=order(), by="p", at=AT, reason="  ")
