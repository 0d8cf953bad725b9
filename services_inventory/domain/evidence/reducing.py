"""From the records of one line to the little that its standing depends on.

Many lines share the same reduced evidence, so a caller keeps the result of each signature.
Dates become their order within a portion, and the comparison with the ban is made here.
"""

from collections.abc import Hashable, Iterable
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import NamedTuple

from services_inventory.domain.evidence.bases import Basis
from services_inventory.domain.evidence.records import Era, EvidencePolicy, EvidenceRecord, Portion
from services_inventory.domain.materials import Material


class Claim(StrEnum):
    """What a piece of evidence says about a portion, most protective first."""

    LEAD = "LEAD"
    GALVANIZED = "GALVANIZED"
    NON_LEAD = "NON_LEAD"
    ABSENT = "ABSENT"
    NOTHING = ""


PROTECTIVE = tuple(Claim)[:-1]


class Fact(NamedTuple):
    """One piece of evidence, reduced.

    `claim` is what it shows; `leaning` what it says without showing it. `day` is the rank of the
    day it speaks of among those of its portion, `place` the rank of the named place (0: none).
    `mixed`: a person decided that it and what contradicts it are both true.
    """

    portion: Portion
    era: Era
    claim: Claim
    leaning: Claim
    material: Material
    strength: int
    points: int
    exterior: bool
    place: int
    day: int
    after_ban: bool
    replacement: bool
    every_earlier_pipe: bool
    below_lead: bool
    mixed: bool = False


class Signature(NamedTuple):
    """Everything that the standing of a line depends on; hashable."""

    facts: tuple[Fact, ...]
    points_needed: int
    never_had_lead: bool
    set_aside: tuple[str, ...] = ()


class Decided(NamedTuple):
    """What decisions of conflicts leave: the records that stand, and what the decisions did.

    `mixed` has the ids of records that were decided to be true beside what contradicts them;
    `set_aside` what was seen and, though more protective, was not let stand.
    """

    records: list[EvidenceRecord]
    mixed: frozenset[Hashable] = frozenset()
    set_aside: tuple[str, ...] = ()
    useless: tuple[EvidenceRecord, ...] = ()


class Reduced(NamedTuple):
    """A signature, and for each of its facts the record that it came from."""

    signature: Signature
    records: tuple[EvidenceRecord, ...]
    useless_resolutions: tuple[EvidenceRecord, ...]


def signature(
    records: Iterable[EvidenceRecord],
    policy: EvidencePolicy,
    as_of: date | None = None,
    known_at: datetime | None = None,
) -> Signature:
    """What the standing of a line depends on, whatever the order of its records."""
    return reduce(records, policy, as_of, known_at).signature


def reduce(
    records: Iterable[EvidenceRecord],
    policy: EvidencePolicy,
    as_of: date | None = None,
    known_at: datetime | None = None,
) -> Reduced:
    """Leave out what was withdrawn, set aside or not known yet, and reduce the rest."""
    known = [record for record in records if known_at is None or record.recorded_at <= known_at]
    if any(record.withdraws is not None for record in known):
        known = _without_withdrawn(known)
    decided = Decided(known)
    if any(record.resolves for record in known):
        decided = _decided(known, policy)
        known = decided.records
    if as_of is not None:
        known = [record for record in known if record.speaks_of <= as_of]
    evidence = [record for record in known if record.is_evidence]
    spoken = [(record.portion, record.speaks_of) for record in evidence]
    days = _ranks(spoken)
    places = _ranks((record.portion, record.place) for record in evidence if record.place)
    facts = sorted(
        (
            (_fact(record, policy, days[said], places, decided.mixed), record)
            for record, said in zip(evidence, spoken, strict=True)
        ),
        key=lambda pair: (pair[0], id_order(pair[1].id)),
    )
    return Reduced(
        Signature(
            tuple(fact for fact, _ in facts),
            policy.points_needed,
            policy.never_had_lead,
            decided.set_aside,
        ),
        tuple(record for _, record in facts),
        decided.useless,
    )


def id_order(record_id: Hashable) -> tuple[int, int, str]:
    """A key that puts numbers in their order and before texts, so that 9 comes before 10."""
    return (0, record_id, "") if isinstance(record_id, int) else (1, 0, str(record_id))


@cache
def claim_of(material: Material | None) -> Claim:
    """The claim that a material makes, whether or not anything supports it."""
    if material is None or material == Material.UNKNOWN:
        return Claim.NOTHING
    if material == Material.NONE:
        return Claim.ABSENT
    if material.is_lead:
        return Claim.LEAD
    return Claim.GALVANIZED if material.is_galvanized else Claim.NON_LEAD


def shown_by(record: EvidenceRecord, policy: EvidencePolicy) -> Claim:
    """The claim that the record shows on its own, by its basis, date and size.

    Lead is believed from anybody but an unapproved model; anything else needs a basis that
    can show it. A record of a date after the ban, or of a size above the State's cut-off,
    shows non-lead even where it names no material.
    """
    said = claim_of(record.material)
    approved = record.basis in policy.approved_bases
    if said is Claim.LEAD:
        believed = record.basis != Basis.PREDICTIVE_MODEL or approved
        return said if believed else Claim.NOTHING
    by_date_or_size = _late_enough(record, policy) or _wide_enough(record, policy)
    if said is Claim.NOTHING:
        return Claim.NON_LEAD if by_date_or_size else Claim.NOTHING
    traits = record.basis.traits
    shown = traits.alone_shows_non_lead or by_date_or_size or (traits.needs_approval and approved)
    return said if shown else Claim.NOTHING


def after_ban(record: EvidenceRecord, policy: EvidencePolicy) -> bool:
    """Whether a record dates the pipe on the day of the lead ban or later."""
    laid = record.laid_on
    return bool(laid and laid >= policy.lead_ban_date and record.basis.traits.record)


def _late_enough(record: EvidenceRecord, policy: EvidencePolicy) -> bool:
    cutoff, laid = policy.nonlead_install_cutoff, record.laid_on
    accepted = bool(cutoff and laid and laid >= cutoff and record.basis.traits.record)
    return accepted or after_ban(record, policy)


def _wide_enough(record: EvidenceRecord, policy: EvidencePolicy) -> bool:
    limit, traits = policy.diameter_nonlead_over_in, record.basis.traits
    usable = traits.verified or record.basis == Basis.DIAMETER
    return bool(limit and usable and record.diameter_in and record.diameter_in > limit)


def _fact(
    record: EvidenceRecord, policy: EvidencePolicy, day: int, places: dict, mixed: frozenset
) -> Fact:
    traits = record.basis.traits
    claim = shown_by(record, policy)
    named = record.material if claim_of(record.material) == claim else Material.NON_LEAD
    points = max(record.points_seen, 1 if record.place else 0) if traits.inspection else 0
    return Fact(
        portion=record.portion,
        era=record.era,
        claim=claim,
        leaning=claim or claim_of(record.material),
        material=named if claim and named else Material.UNKNOWN,
        strength=traits.strength,
        points=min(points, policy.points_needed),
        exterior=traits.exterior,
        place=places.get((record.portion, record.place), 0) if traits.exterior else 0,
        day=day,
        after_ban=after_ban(record, policy),
        replacement=record.basis == Basis.REPLACEMENT and record.era == Era.NOW,
        every_earlier_pipe=record.every_earlier_pipe,
        below_lead=record.below_lead,
        mixed=record.id in mixed,
    )


def _ranks(pairs: Iterable[tuple[Portion, object]]) -> dict[tuple[Portion, object], int]:
    ranks: dict[tuple[Portion, object], int] = {}
    count: dict[Portion, int] = {}
    for portion, key in sorted(set(pairs)):
        count[portion] = count.get(portion, 0) + 1
        ranks[portion, key] = count[portion]
    return ranks


def _latest_first(records: Iterable[EvidenceRecord]) -> list[EvidenceRecord]:
    return sorted(
        records, key=lambda record: (record.recorded_at, id_order(record.id)), reverse=True
    )


def _without_withdrawn(records: list[EvidenceRecord]) -> list[EvidenceRecord]:
    """A withdrawal holds unless a later row withdraws it; it reaches only earlier rows."""
    gone = set()
    kept = []
    for record in _latest_first(records):
        if record.id in gone:
            continue
        kept.append(record)
        if record.withdraws is not None:
            gone.add(record.withdraws)
    return kept


def _decided(records: list[EvidenceRecord], policy: EvidencePolicy) -> Decided:
    """Apply the latest decision of each portion to the evidence recorded before it."""
    decisions: dict[Portion, EvidenceRecord] = {}
    for record in _latest_first(records):
        if record.resolves:
            decisions.setdefault(record.portion, record)
    gone, mixed, set_aside, useless = set(), set(), [], []
    for portion, decision in sorted(decisions.items()):
        covered = [one for one in records if _covers(decision, one)]
        chosen = claim_of(decision.resolves)
        if not any(shown_by(record, policy) == chosen for record in covered):
            useless.append(decision)
        elif decision.both_true:
            mixed |= {record.id for record in covered}
        else:
            aside = [r for r in covered if claim_of(r.material) not in (chosen, Claim.NOTHING)]
            gone |= {record.id for record in aside}
            laid_on = replaced_on(r for r in records if r.portion == portion)
            if seen := seen_against(covered, chosen, policy, laid_on):
                shown = min((shown_by(one, policy) for one in seen), key=PROTECTIVE.index)
                set_aside.append(f"{portion.label}: {_WORDS[shown]}")
    kept = [record for record in records if record.id not in gone]
    return Decided(kept, frozenset(mixed), tuple(set_aside), tuple(useless))


def _covers(decision: EvidenceRecord, record: EvidenceRecord) -> bool:
    return (
        record.portion == decision.portion
        and record.era == Era.NOW
        and record.is_evidence
        and record.recorded_at <= decision.recorded_at
    )


def seen_against(
    records: Iterable[EvidenceRecord], chosen: Claim, policy: EvidencePolicy, laid_on: date
) -> list[EvidenceRecord]:
    """Those of a portion's records by which pipe was seen that is more protective than `chosen`.

    What was seen up to `laid_on`, when the pipe was last replaced, is in the ground no more.
    """
    more = PROTECTIVE[: PROTECTIVE.index(chosen)]
    return [
        one
        for one in records
        if one.basis.traits.inspection and shown_by(one, policy) in more and one.speaks_of > laid_on
    ]


def replaced_on(records: Iterable[EvidenceRecord]) -> date:
    """The day of the last replacement that a portion's records tell of; the first day without."""
    works = (one.speaks_of for one in records if one.basis == Basis.REPLACEMENT)
    return max(works, default=date.min)


def about(records: Iterable[EvidenceRecord], portion: Portion) -> list[EvidenceRecord]:
    """Those of a line's records that speak of a portion in the ground and were not taken back."""
    return [
        record
        for record in _without_withdrawn(list(records))
        if record.portion == portion and record.era == Era.NOW and record.is_evidence
    ]


_WORDS = {Claim.LEAD: "lead", Claim.GALVANIZED: "galvanized", Claim.NON_LEAD: "non-lead"}
