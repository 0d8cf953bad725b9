"""Deciding between pieces of evidence that contradict each other: by a person, with a reason.

That both are true is an answer: the portion is mixed, and the more protective stands. An answer
less protective than what somebody saw is only proposed: it needs a document, and a second person
who agrees.
"""

from datetime import datetime
from typing import NamedTuple

from django.db import transaction
from django.utils.timezone import localdate

from ..domain.evidence import EvidencePolicy, EvidenceRecord, Portion, shown_by
from ..domain.evidence.reducing import (
    PROTECTIVE,
    Claim,
    about,
    claim_of,
    replaced_on,
    seen_against,
)
from ..domain.materials import Material
from ..models import Conflict, Document, Evidence, Proposal, ServiceLine
from ..policy import evidence_policy
from ..queries.evidence_rows import COLUMNS, record_of
from .evidence import EvidenceRefused, evidence_record

BOTH = "BOTH"


class Sides(NamedTuple):
    """What speaks of a portion in conflict, and what it is weighed by."""

    records: list[EvidenceRecord]
    policy: EvidencePolicy

    def overruled(self, material: str) -> list[EvidenceRecord]:
        """What was seen and would be set aside by letting a material stand."""
        if material == BOTH:
            return []
        chosen = claim_of(Material(material))
        return seen_against(self.records, chosen, self.policy, replaced_on(self.records))

    @property
    def shown(self) -> dict[Claim, EvidenceRecord]:
        """The claims that evidence shows, the most protective first, each with one record."""
        found = {shown_by(one, self.policy): one for one in self.records}
        return {claim: found[claim] for claim in PROTECTIVE if claim in found}

    @property
    def can_both_be_true(self) -> bool:
        """Whether a portion can be both: not where one side says there is no such portion."""
        return len(self.shown) > 1 and Claim.ABSENT not in self.shown


def sides(conflict: Conflict, at: datetime) -> Sides:
    """Return what speaks of the portion in conflict now, what was taken back left out."""
    rows = Evidence.objects.filter(line=conflict.line_id).exclude(batch__withdrawn_by__isnull=False)
    records = [record_of(row) for row in rows.values_list(*COLUMNS)]
    return Sides(about(records, Portion(conflict.portion)), evidence_policy(localdate(at)))


def conflict_resolve(
    *, conflict: Conflict, material: str, by: str, recorded_at: datetime, reason: str
) -> Evidence:
    """Let the evidence for one material stand, or say that both are true (`BOTH`).

    The decision is itself a row of evidence.

    Raises
    ------
    EvidenceRefused: no reason is given, the conflict is closed, no evidence shows that material, or
        it is less protective than what was seen.
    """
    with transaction.atomic():
        conflict = _open(conflict, reason)
        found = sides(conflict, recorded_at)
        _refuse_not_shown(found, material)
        if found.overruled(material):
            raise EvidenceRefused(
                f"{_words(material)} is less protective than what was seen. Give a document that "
                "shows it; a second person then agrees, or not."
            )
        return _decide(conflict, found, material, by, recorded_at, reason)


def conflict_propose(
    *, conflict: Conflict, material: str, document: Document, by: str, account: int,
    recorded_at: datetime, reason: str,
) -> Proposal:  # fmt: skip
    """Propose an answer that is less protective than what was seen; nothing changes yet.

    account : the number of the account of `by`, so that a renamed one cannot agree with itself

    Raises
    ------
    EvidenceRefused: no reason is given, the conflict is closed or has a proposal, no evidence shows
        that material, or nothing that was seen speaks against it.
    """
    with transaction.atomic():
        conflict = _open(conflict, reason)
        found = sides(conflict, recorded_at)
        _refuse_not_shown(found, material)
        overruled = found.overruled(material)
        if not overruled:
            raise EvidenceRefused("Nothing that was seen speaks against this; decide it.")
        if conflict.proposals.filter(answer="").exists():
            raise EvidenceRefused("An answer to this conflict is proposed already.")
        return Proposal.objects.create(
            conflict=conflict,
            material=material,
            reason=reason.strip(),
            document=document,
            evidence_ids=sorted(one.id for one in found.records),
            set_aside_ids=sorted(one.id for one in overruled),
            proposed_by=by,
            proposed_by_account=account,
            proposed_at=recorded_at,
        )


def proposal_agree(
    *, proposal: Proposal, by: str, account: int, recorded_at: datetime, reason: str = ""
) -> Evidence:
    """Agree, as a second person, with an answer less protective than what was seen.

    Raises
    ------
    EvidenceRefused: it is one's own, was answered already, or other evidence has come since.
    """
    with transaction.atomic():
        proposal = _waiting(proposal)
        if proposal.proposed_by_account == account:
            raise EvidenceRefused("It is your own proposal; a second person agrees, or not.")
        conflict = _open(proposal.conflict, proposal.reason)
        found = sides(conflict, recorded_at)
        if sorted(one.id for one in found.records) != proposal.evidence_ids:
            raise EvidenceRefused(
                "Evidence came or was taken back since this was proposed. Decline it, look at "
                "both sides again, and propose anew."
            )
        decision = _decide(
            conflict, found, proposal.material, proposal.proposed_by, recorded_at, proposal.reason,
            document=proposal.document,
        )  # fmt: skip
        proposal.decision = decision
        _answer(proposal, Proposal.Answer.AGREED, by, account, recorded_at, reason)
    return decision


def proposal_decline(
    *, proposal: Proposal, by: str, account: int, recorded_at: datetime, reason: str
) -> Proposal:
    """Decline a proposal, or take one's own back; the conflict stays open.

    Raises
    ------
    EvidenceRefused: no reason is given, or it was answered already.
    """
    if not reason.strip():
        raise EvidenceRefused("Say why.")
    with transaction.atomic():
        proposal = _waiting(proposal)
        own = proposal.proposed_by_account == account
        answer = Proposal.Answer.TAKEN_BACK if own else Proposal.Answer.DECLINED
        return _answer(proposal, answer, by, account, recorded_at, reason)


_NOT_SHOWN = (
    "No evidence shows that material, so the decision would change nothing. Record the evidence "
    "first."
)


def _open(conflict: Conflict, reason: str) -> Conflict:
    """Return the conflict as it stands, its line held against others who decide or record."""
    if not reason.strip():
        raise EvidenceRefused("Give the reason for the decision.")
    ServiceLine.objects.select_for_update().get(pk=conflict.line_id)
    conflict = Conflict.objects.select_related("line").get(pk=conflict.pk)
    if conflict.resolved_at is not None:
        raise EvidenceRefused("This conflict was decided already.")
    return conflict


def _refuse_not_shown(found: Sides, material: str) -> None:
    if material != BOTH and claim_of(Material(material)) not in found.shown:
        raise EvidenceRefused(_NOT_SHOWN)


def _decide(
    conflict: Conflict, found: Sides, material: str, by: str, at: datetime, reason: str,
    document: Document | None = None,
) -> Evidence:  # fmt: skip
    both = material == BOTH
    if both and not found.can_both_be_true:
        raise EvidenceRefused("These cannot both be true of one portion; choose what stands.")
    protective = next((one.material for one in found.shown.values()), None)
    decision = evidence_record(
        line=conflict.line,
        portion=conflict.portion,
        basis="NOT_STATED",
        resolves=(protective or Material.NON_LEAD) if both else material,
        both_true=both,
        note=reason.strip(),
        document=document,
        by=by,
        recorded_at=at,
    )
    conflict.refresh_from_db()
    if conflict.resolved_at is None:
        raise EvidenceRefused(_NOT_SHOWN)
    conflict.resolution = decision
    conflict.resolved_by = by
    conflict.reason = reason.strip()
    conflict.save()
    return decision


def _waiting(proposal: Proposal) -> Proposal:
    ServiceLine.objects.select_for_update().get(pk=proposal.conflict.line_id)
    proposal = Proposal.objects.select_related("conflict", "document").get(pk=proposal.pk)
    if proposal.answer:
        raise EvidenceRefused(f"This proposal was {proposal.get_answer_display()} already.")
    return proposal


def _answer(
    proposal: Proposal, answer: str, by: str, account: int, at: datetime, reason: str
) -> Proposal:
    proposal.answer, proposal.answer_reason = answer, reason.strip()
    proposal.answered_by, proposal.answered_by_account = by, account
    proposal.answered_at = at
    proposal.save()
    return proposal


def _words(material: str) -> str:
    return Material(material).label.capitalize()
