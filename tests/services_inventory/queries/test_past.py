"""A past day weighed anew gives what the changes on record say of it; cases constructed."""

from datetime import date, timedelta
from itertools import product
from random import Random

import pytest

from services_inventory.asked_once import asking_once
from services_inventory.domain.classification import Category
from services_inventory.models import Batch, Evidence
from services_inventory.operations.evidence import (
    evidence_record,
    evidence_record_again,
    evidence_record_many,
    evidence_withdraw,
)
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.history import changes_of, standing_on
from services_inventory.queries.past import past_standing, recount
from tests.examples import SHARE
from tests.services_inventory.factories import MORNING, bare_line

pytestmark = pytest.mark.django_db
START = date(2028, 3, 1)
FEW = 3 if SHARE > 1 else 1  # each day is tried with all examples


def said(line, portion, material, day, basis="EXCAVATION", **more):
    """Record evidence on the day that lies so many days after the start."""
    values = {"points_seen": 2} if basis == "EXCAVATION" else {}
    return evidence_record(
        line=line, portion=portion, material=material, basis=basis, by="clerk",
        recorded_at=MORNING + timedelta(days=day), **(values | more),
    )  # fmt: skip


def on(line, day, known=None):
    moment = None if known is None else MORNING + timedelta(days=known, hours=8)
    return past_standing(line, START + timedelta(days=day), moment)


def agrees(line, days=range(-1, 15)):
    """Assert that every day, as known on every day, is the same by changes and by evidence."""
    changes = changes_of(line)
    for day, known in product(days, (None, *days[::FEW])):
        with asking_once():  # the rule's values are not what is tried here
            when = START + timedelta(days=day)
            moment = None if known is None else MORNING + timedelta(days=known, hours=8)
            found = recount(when, moment)
            assert found["differences"] == 0, (day, known, found)
            change = standing_on(changes, when, moment)
            if change and change.to_category:
                classification = past_standing(line, when, moment)["classification"]
                assert classification.category == change.to_category


def test_portions_reasons_and_sub_label_are_those_of_the_day():
    line = bare_line()
    said(line, "SYSTEM", "COPPER", 0)
    said(line, "CUSTOMER", "LEAD", 2, basis="PREDICTIVE_MODEL")
    said(line, "CUSTOMER", "COPPER", 5)
    before, then, after = on(line, 1), on(line, 2), on(line, 5)
    assert [p["material"] for p in before["portions"]][:2] == ["copper", "unknown"]
    assert before["classification"].category is Category.UNKNOWN
    assert before["label"] != then["label"]
    assert after["classification"].category is Category.NON_LEAD
    assert "no evidence is recorded" in before["portions"][1]["reason"]
    agrees(line)


def test_what_was_taken_back_stood_until_then():
    line = bare_line()
    said(line, "SYSTEM", "COPPER", 0)
    slip = said(line, "CUSTOMER", "LEAD", 1)
    evidence_withdraw(
        evidence=slip, by="clerk", recorded_at=MORNING + timedelta(days=4), reason="next door"
    )
    assert on(line, 3)["classification"].category is Category.LEAD
    assert on(line, 4)["classification"].category is Category.UNKNOWN
    assert on(line, 4, known=3)["classification"].category is Category.LEAD
    agrees(line)


def test_a_replacement_counts_from_the_day_of_the_work_once_it_is_known():
    line = bare_line()
    said(line, "SYSTEM", "LEAD", 0)
    said(line, "CUSTOMER", "COPPER", 0)
    seen = {"observed_on": START + timedelta(days=3)}
    rows = [
        {"line_id": line.pk, "portion": "SYSTEM", "material": material, "basis": basis, **seen}
        for material, basis in (("LEAD", "EXCAVATION"), ("COPPER", "REPLACEMENT"))
    ]
    rows[0]["points_seen"] = 1
    evidence_record_many(rows=rows, by="reviewer", recorded_at=MORNING + timedelta(days=9))
    assert on(line, 2)["classification"].category is Category.LEAD
    assert on(line, 3)["classification"].category is Category.NON_LEAD
    assert on(line, 3, known=8)["classification"].category is Category.LEAD
    agrees(line)


def test_a_file_taken_back_counted_until_then():
    line = bare_line()
    said(line, "SYSTEM", "COPPER", 0)
    batch = Batch.objects.create(
        kind="INTAKE", state="APPLIED", requested_by="clerk",
        created_at=MORNING + timedelta(days=2),
    )  # fmt: skip
    row = said(line, "CUSTOMER", "COPPER", 2, batch=batch)
    Batch.objects.filter(pk=batch.pk).update(first_evidence_id=row.pk, last_evidence_id=row.pk)
    batch.refresh_from_db()
    intake_undo(batch=batch, by="clerk", at=MORNING + timedelta(days=6))
    assert on(line, 5)["classification"].category is Category.NON_LEAD
    assert on(line, 6)["classification"].category is Category.UNKNOWN
    assert on(line, 6, known=5)["classification"].category is Category.NON_LEAD
    agrees(line)


def test_a_line_on_record_without_evidence_is_unknown_and_a_changed_record_is_found():
    line = bare_line()
    said(line, "SYSTEM", "LEAD", 0)
    assert recount(START)["counts"]["LEAD"] == 1
    Evidence.objects.all().delete()
    found = recount(START)
    assert found["examples"] == [(line.pk, "LEAD", "UNKNOWN")]


def test_what_is_known_once_late_work_is_recorded_holds_from_the_day_of_the_work():
    line = bare_line()
    said(line, "SYSTEM", "LEAD", 0)
    said(line, "CUSTOMER", "UNKNOWN", 0, basis="RECORD_OTHER")
    said(line, "CUSTOMER", "COPPER", 6)
    said(line, "SYSTEM", "COPPER", 9, basis="REPLACEMENT", observed_on=START + timedelta(days=3))
    assert on(line, 2)["classification"].category is Category.LEAD
    assert on(line, 4)["classification"].category is Category.NON_LEAD
    assert on(line, 4, known=8)["classification"].category is Category.LEAD
    line.refresh_from_db()
    assert line.category_since == START + timedelta(days=3)
    agrees(line)


def test_late_work_on_a_line_that_was_found_non_lead_meanwhile_moves_its_day():
    line = bare_line()
    said(line, "SYSTEM", "LEAD", 0, basis="RECORD_OTHER")
    said(line, "CUSTOMER", "COPPER", 0)
    said(line, "SYSTEM", "COPPER", 6)  # two points overrule the weaker record
    said(line, "SYSTEM", "COPPER", 9, basis="REPLACEMENT", observed_on=START + timedelta(days=3))
    line.refresh_from_db()
    assert (line.category, line.category_since) == ("NON_LEAD", START + timedelta(days=3))
    agrees(line)


@pytest.mark.parametrize("seed", range(12 // FEW))
def test_any_order_of_findings_withdrawals_and_work_recounts_to_the_same(seed):
    """Constructed at random: a fixed seed gives the same story each time."""
    choose = Random(seed)
    line, standing, gone = bare_line(), [], []
    said(line, "SYSTEM", choose.choice(["LEAD", "UNKNOWN", "COPPER"]), 0)
    for day in sorted(choose.sample(range(1, 14), 6)):
        act = choose.choice(["see", "see", "since", "work", "back", "never", "again"])
        portion = choose.choice(["SYSTEM", "CUSTOMER"])
        if act == "see":
            material = choose.choice(["LEAD", "COPPER", "GALVANIZED"])
            basis = choose.choice(["EXCAVATION", "RECORD_TAP_CARD"])
            standing.append(said(line, portion, material, day, basis=basis))
        elif act == "work":
            done_on = START + timedelta(days=choose.randrange(day + 1))
            said(line, portion, "PLASTIC", day, basis="REPLACEMENT", observed_on=done_on)
        elif act == "since":
            since = START + timedelta(days=choose.randrange(day + 1))
            material = choose.choice(["LEAD", "COPPER"])
            standing.append(said(line, portion, material, day, counts_from=since))
        elif act == "again" and gone:
            evidence_record_again(
                evidence=gone.pop(), by="clerk", recorded_at=MORNING + timedelta(days=day),
                reason="it was this house after all",
            )  # fmt: skip
        elif standing:
            slip = standing.pop(choose.randrange(len(standing)))
            evidence_withdraw(
                evidence=slip, by="clerk", recorded_at=MORNING + timedelta(days=day, hours=1),
                reason="slip", never_true=act == "never",
            )  # fmt: skip
            gone.append(slip)
    agrees(line)
