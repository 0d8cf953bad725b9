"""The category follows from the evidence, is explained, and can be taken back and replayed."""

from datetime import UTC, date, datetime, timedelta

import pytest

from services_inventory.domain.classification import classify, decision_table, facts_key
from services_inventory.models import CategoryChange, Conflict, Evidence, ServiceLine
from services_inventory.operations.conflicts import conflict_resolve
from services_inventory.operations.evidence import (
    EvidenceRefused,
    evidence_record,
    evidence_withdraw,
)
from services_inventory.operations.standings import standings_derive
from services_inventory.operations.weighing import NumberingWeigher, decisions_of
from services_inventory.policy import classification_policy
from services_inventory.queries.counts import category_counts, category_counts_on
from tests.services_inventory.factories import MORNING, bare_line, line_of

pytestmark = pytest.mark.django_db


def see(line, portion, material, *, at, basis="EXCAVATION", **said):
    return evidence_record(
        line=line,
        portion=portion,
        material=material,
        basis=basis,
        by="crew",
        recorded_at=at,
        **said,
    )


def test_two_sides_of_copper_seen_make_the_line_non_lead():
    line = line_of("COPPER", "COPPER")
    assert line.category == "NON_LEAD"
    assert line.decision.citation


def test_a_line_with_one_side_unknown_says_what_would_settle_it():
    line = line_of("COPPER", "UNKNOWN")
    assert line.category == "UNKNOWN"
    assert line.decision.would_settle


def test_a_replacement_takes_effect_on_the_day_of_the_work():
    line = line_of("LEAD", "COPPER")
    later = MORNING + timedelta(days=60)
    see(line, "SYSTEM", "COPPER", at=later, basis="REPLACEMENT", observed_on=date(2028, 4, 10))
    assert line.category == "NON_LEAD"
    assert line.category_since == date(2028, 4, 10)
    assert category_counts_on(date(2028, 4, 9))["LEAD"] == 1
    assert category_counts_on(date(2028, 4, 10)) == category_counts()


def test_replacing_the_lead_above_galvanized_leaves_it_requiring_replacement():
    line = line_of("LEAD", "GALVANIZED")
    assert line.category == "LEAD"
    later = MORNING + timedelta(days=60)
    see(line, "SYSTEM", "COPPER", at=later, basis="REPLACEMENT", observed_on=date(2028, 4, 10))
    assert line.category == "GRR"
    assert line.system_was_lead is True


def test_evidence_taken_back_gives_the_earlier_standing_again_and_history_shows_both():
    line = line_of("COPPER", "COPPER")
    found = see(line, "CUSTOMER", "LEAD", at=MORNING + timedelta(days=1))
    assert line.category == "LEAD"
    evidence_withdraw(
        evidence=found, by="clerk", recorded_at=MORNING + timedelta(days=2), reason="other house"
    )
    line.refresh_from_db()
    assert line.category == "NON_LEAD"
    steps = CategoryChange.objects.filter(line=line).order_by("id").values_list("to_category")
    assert [to for (to,) in steps][-2:] == ["LEAD", "NON_LEAD"]
    with pytest.raises(EvidenceRefused, match="already"):
        evidence_withdraw(evidence=found, by="clerk", recorded_at=MORNING, reason="again")


def test_contradicting_evidence_stays_protective_until_a_person_decides_with_a_reason():
    line = line_of("LEAD", "COPPER", basis="RECORD_TAP_CARD")
    see(line, "SYSTEM", "COPPER", at=MORNING + timedelta(days=1), points_seen=1)
    assert (line.category, line.in_conflict) == ("LEAD", True)
    conflict = Conflict.objects.get(line=line)
    with pytest.raises(EvidenceRefused, match="reason"):
        conflict_resolve(
            conflict=conflict, material="COPPER", by="c", recorded_at=MORNING, reason=" "
        )
    conflict_resolve(
        conflict=conflict,
        material="COPPER",
        by="c",
        recorded_at=MORNING + timedelta(days=2),
        reason="photo shows copper at both ends",
    )
    line.refresh_from_db()
    conflict.refresh_from_db()
    assert (line.category, line.in_conflict) == ("NON_LEAD", False)
    assert (conflict.resolved_by, conflict.reason) == ("c", "photo shows copper at both ends")


def test_a_conflict_decided_for_a_material_nobody_saw_changes_nothing():
    line = line_of("LEAD", "COPPER")
    see(line, "SYSTEM", "COPPER", at=MORNING + timedelta(days=1), points_seen=1)
    before = Evidence.objects.count()
    with pytest.raises(EvidenceRefused, match="Record the evidence first"):
        conflict_resolve(
            conflict=Conflict.objects.get(line=line),
            material="GALVANIZED",
            by="c",
            recorded_at=MORNING + timedelta(days=2),
            reason="I think so",
        )
    assert Evidence.objects.count() == before
    assert Conflict.objects.filter(resolved_at__isnull=True).count() == 1


def test_impossible_evidence_is_refused_with_a_sentence_and_nothing_changes():
    line = line_of("COPPER", "COPPER")
    before = Evidence.objects.count()
    with pytest.raises(EvidenceRefused, match="20255"):
        see(line, "SYSTEM", "COPPER", at=MORNING, installed_year=20255)
    with pytest.raises(EvidenceRefused, match="recorded"):
        see(line, "SYSTEM", "COPPER", at=MORNING, observed_on=date(2031, 1, 1))
    assert Evidence.objects.count() == before


def test_work_recorded_late_corrects_the_days_after_it_too():
    line = line_of("LEAD", "UNKNOWN")
    found = MORNING + timedelta(days=30)
    see(line, "CUSTOMER", "COPPER", at=found)
    see(line, "SYSTEM", "COPPER", at=found + timedelta(days=1))  # opens a conflict, stays lead
    late = datetime(2028, 6, 1, 12, tzinfo=UTC)
    see(line, "SYSTEM", "COPPER", at=late, basis="REPLACEMENT", observed_on=date(2028, 3, 15))
    assert category_counts_on(date(2028, 3, 14))["LEAD"] == 1
    for day in (date(2028, 3, 15), date(2028, 4, 1), date(2028, 7, 1)):
        assert category_counts_on(day)["NON_LEAD"] == 1, day
    assert category_counts_on(date(2028, 4, 1), known_at=MORNING + timedelta(days=40))["LEAD"] == 1


def test_the_database_table_equals_the_pure_function_on_every_combination():
    policy = classification_policy(date(2028, 3, 1))
    rows = list(decision_table(policy))
    kept = decisions_of(policy, [facts_key(facts) for facts, _ in rows])
    stored = {decision.facts_key: decision for decision in kept.values()}
    assert len(stored) == len(rows)
    for facts, classification in rows:
        found = stored[facts_key(facts)]
        assert (found.category, found.reason) == (classification.category, classification.reason)
        assert classify(facts, policy) == classification


def test_a_decision_is_asked_for_once_however_many_lines_have_it(django_assert_num_queries):
    key = facts_key(next(iter(decision_table(classification_policy(date(2028, 1, 1)))))[0])
    weigher = NumberingWeigher.on(date(2028, 1, 1))
    first = weigher.decision(key)
    with django_assert_num_queries(0):
        assert weigher.decision(key) is first


def test_deriving_everything_again_changes_nothing():
    for system, customer in (("LEAD", "COPPER"), ("COPPER", "GALVANIZED"), ("UNKNOWN", "COPPER")):
        line_of(system, customer)
    bare_line()
    standings_derive(line_ids=None, recorded_at=MORNING + timedelta(days=3), by="restate")
    changes = CategoryChange.objects.count()
    before = list(ServiceLine.objects.order_by("id").values())
    assert (
        standings_derive(line_ids=None, recorded_at=MORNING + timedelta(days=4), by="restate") == 0
    )
    assert CategoryChange.objects.count() == changes
    assert list(ServiceLine.objects.order_by("id").values()) == before
