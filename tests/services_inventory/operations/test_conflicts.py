"""Deciding a conflict: both true, and the less protective answer over what was seen.

Constructed cases: lead seen at the meter, copper at the curb stop of one customer side.
"""

from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from services_inventory.models import Conflict, Proposal
from services_inventory.operations.conflicts import (
    BOTH,
    conflict_propose,
    conflict_resolve,
    proposal_agree,
    proposal_decline,
)
from services_inventory.operations.documents import document_store
from services_inventory.operations.evidence import (
    EvidenceRefused,
    evidence_record,
    evidence_withdraw,
)
from services_inventory.operations.restate import standings_compare
from services_inventory.queries.checks import checks
from services_inventory.queries.past import recount
from services_inventory.queries.set_aside import set_aside
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db
NOON = MORNING + timedelta(hours=3)
NEXT = MORNING + timedelta(days=1)
PAT, SAM = {"by": "pat", "account": 1}, {"by": "sam", "account": 2}


def see(line, material, place="", at=MORNING, basis="EXCAVATION", **said):
    return evidence_record(
        line=line, portion="CUSTOMER", material=material, basis=basis, place=place, by="crew",
        recorded_at=at, **({"points_seen": 1} if basis == "EXCAVATION" else {}), **said,
    )  # fmt: skip


@pytest.fixture
def line():
    found = line_of("COPPER", "UNKNOWN", basis="RECORD_TAP_CARD")
    see(found, "LEAD", "at the meter")
    see(found, "COPPER", "at the curb stop")
    found.refresh_from_db()
    return found


@pytest.fixture
def conflict(line):
    return Conflict.objects.get()


@pytest.fixture
def document():
    return document_store(
        file=ContentFile(b"%PDF-1"), name="meter.pdf", kind="PAPER", by="pat", at=MORNING,
        allowed=("application/pdf",), limit_bytes=99,
    )  # fmt: skip


def decide(conflict, material, at=NOON, **said):
    said = {"by": "pat", "reason": "looked at both photos", **said}
    return conflict_resolve(conflict=conflict, material=material, recorded_at=at, **said)


def propose(conflict, document, at=NOON, **said):
    said = {**PAT, "reason": "the photo is of another house", "material": "COPPER", **said}
    return conflict_propose(conflict=conflict, document=document, recorded_at=at, **said)


def sound(line):
    assert [sentence for check in checks() for sentence in check()] == []
    assert standings_compare(recorded_at=NEXT)["differences"] == 0
    assert recount(NEXT.date())["differences"] == 0
    line.refresh_from_db()
    return line


def test_both_true_settles_it_for_the_protective_material_and_sets_nothing_aside(line, conflict):
    decision = decide(conflict, BOTH)
    assert (decision.resolves, decision.both_true) == ("LEAD", True)
    assert (sound(line).category, line.in_conflict) == ("LEAD", False)
    assert list(set_aside()) == []
    assert "set aside" not in line.decision.reason


def test_after_both_true_the_copper_alone_overrules_no_lead_and_new_evidence_is_new(line, conflict):
    decide(conflict, BOTH)
    see(line, "COPPER", "in the yard", at=NEXT)
    assert (sound(line).category, line.in_conflict) == ("LEAD", True)


def test_when_the_lead_of_a_mixed_portion_was_never_true_the_copper_stands(line, conflict):
    decide(conflict, BOTH)
    lead = line.evidence.get(material="LEAD")
    evidence_withdraw(
        evidence=lead, by="pat", recorded_at=NEXT, reason="next door", never_true=True
    )
    assert sound(line).customer_material == "COPPER"


def test_there_is_no_portion_that_is_lead_and_is_not_there():
    line = line_of("COPPER", "UNKNOWN", basis="RECORD_TAP_CARD")
    see(line, "LEAD", "at the meter")
    see(line, "NONE")
    with pytest.raises(EvidenceRefused, match="cannot both be true"):
        decide(Conflict.objects.get(), BOTH)


def test_one_person_and_a_sentence_do_not_overrule_lead_that_was_dug_up(line, conflict):
    with pytest.raises(EvidenceRefused, match="less protective than what was seen"):
        decide(conflict, "COPPER")
    assert sound(line).category == "LEAD"
    decide(conflict, "LEAD")
    assert sound(line).in_conflict is False


def test_a_record_of_lead_alone_is_decided_by_one_person():
    line = line_of("COPPER", "LEAD", basis="RECORD_TAP_CARD")
    see(line, "COPPER", "at the curb stop")
    decide(Conflict.objects.get(), "COPPER")
    assert sound(line).category == "NON_LEAD"


def test_a_proposal_changes_nothing_until_another_account_agrees(line, conflict, document):
    proposal = propose(conflict, document)
    assert (sound(line).category, line.in_conflict) == ("LEAD", True)
    with pytest.raises(EvidenceRefused, match="your own"):
        proposal_agree(proposal=proposal, by="pat_renamed", account=1, recorded_at=NOON)
    with pytest.raises(EvidenceRefused, match="proposed already"):
        propose(conflict, document, **SAM)
    decision = proposal_agree(proposal=proposal, recorded_at=NOON, **SAM)
    assert (sound(line).category, line.in_conflict) == ("NON_LEAD", False)
    assert (decision.document, decision.recorded_by) == (document, "pat")
    assert line.decision.reason.endswith(
        "Pipe seen on the customer side as lead was set aside by a documented decision of two "
        "people."
    )
    (row,) = set_aside()
    assert (row.by, row.agreed_by, row.document, row.holds) == ("pat", "sam", "meter.pdf", True)
    assert row.seen == "lead, by excavation, at: at the meter, 1 point"
    with pytest.raises(EvidenceRefused, match="agreed already"):
        proposal_agree(proposal=proposal, recorded_at=NOON, by="kim", account=3)


def test_the_database_too_refuses_ones_own_agreement(line, conflict, document):
    proposal = propose(conflict, document)
    same = {"answer": "AGREED", "answered_by_account": 1}
    with pytest.raises(IntegrityError), transaction.atomic():
        Proposal.objects.filter(pk=proposal.pk).update(**same)


def test_evidence_that_came_since_has_to_be_looked_at_first(line, conflict, document):
    proposal = propose(conflict, document)
    see(line, "LEAD", "at the main", at=NOON + timedelta(hours=1))
    with pytest.raises(EvidenceRefused, match="Evidence came"):
        proposal_agree(proposal=proposal, recorded_at=NEXT, **SAM)
    assert sound(line).category == "LEAD"
    conflict.refresh_from_db()
    assert len(conflict.evidence_ids) == 3, "the page shows what came since"
    proposal_decline(proposal=proposal, recorded_at=NEXT, reason="dug again", **SAM)
    with pytest.raises(EvidenceRefused, match="declined already"):
        proposal_decline(proposal=proposal, recorded_at=NEXT, reason="again", **SAM)
    again = propose(conflict, document, at=NEXT)
    proposal_decline(proposal=again, recorded_at=NEXT, reason="thought better of it", **PAT)
    answers = [found.answer for found in Proposal.objects.order_by("id")]
    assert answers == ["DECLINED", "TAKEN_BACK"]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"reason": " "}, "reason"),
        ({"material": "LEAD"}, "decide it"),
        ({"material": "NONE"}, "No evidence shows"),
    ],
)
def test_what_needs_no_second_person_or_has_no_evidence_is_not_proposed(
    line, conflict, document, said, words
):
    with pytest.raises(EvidenceRefused, match=words):
        propose(conflict, document, **said)
    assert not Proposal.objects.exists()


def test_the_decision_taken_back_opens_the_conflict_again(line, conflict, document):
    decision = proposal_agree(proposal=propose(conflict, document), recorded_at=NOON, **SAM)
    evidence_withdraw(evidence=decision, by="pat", recorded_at=NEXT, reason="it is this house")
    assert (sound(line).category, line.in_conflict) == ("LEAD", True)
    assert "set aside" not in line.decision.reason
    (row,) = set_aside()
    assert row.holds is False
    assert [row.holds for row in set_aside(NOON.date(), NOON)] == [True]


def test_pipe_laid_since_makes_the_decision_about_the_old_one_no_matter(line, conflict, document):
    proposal_agree(proposal=propose(conflict, document), recorded_at=NOON, **SAM)
    evidence_record(
        line=line, portion="CUSTOMER", material="PLASTIC", basis="REPLACEMENT", by="reviewer",
        observed_on=NEXT.date(), recorded_at=NEXT,
    )  # fmt: skip
    assert "set aside" not in sound(line).decision.reason


def test_a_seen_finding_of_lead_that_was_taken_back_is_on_the_list(line):
    lead = line.evidence.get(material="LEAD")
    evidence_withdraw(
        evidence=lead, by="pat", recorded_at=NEXT, reason="next door", never_true=True
    )
    (row,) = set_aside()
    assert (row.how, row.by, row.reason) == ("taken back: never true", "pat", "next door")
    see(line, "LEAD", "at the meter", at=NEXT + timedelta(hours=1))
    assert [row.holds for row in set_aside()] == [False]
