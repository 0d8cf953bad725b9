"""From the records of one line to its facts, with the records that decided and what to look at."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from services_inventory.domain.classification import LineFacts, UnknownLabel
from services_inventory.domain.evidence.bases import Basis
from services_inventory.domain.evidence.records import (
    Era,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
)
from services_inventory.domain.evidence.reducing import (
    Reduced,
    after_ban,
    claim_of,
    id_order,
    reduce,
)
from services_inventory.domain.evidence.standing import (
    PoolStatus,
    PortionResult,
    Standing,
    stand,
)
from services_inventory.domain.materials import Material


@dataclass(frozen=True)
class PortionStanding:
    """The material that stands for one portion, the records behind it, and why."""

    portion: Portion
    material: Material
    record_ids: tuple[Any, ...]
    reason: str
    validation: PoolStatus | None
    points: int


@dataclass(frozen=True)
class Conflict:
    """Evidence that cannot both be true; `stands` is kept until a person decides."""

    portion: Portion
    stands: Material
    record_ids: tuple[Any, ...]
    reason: str


class ReviewKind(StrEnum):
    """Why a person should look at a line although its category is settled."""

    UNVERIFIED_LEAD = "UNVERIFIED_LEAD"
    LEAD_AFTER_BAN = "LEAD_AFTER_BAN"
    STATEMENT_ONLY = "STATEMENT_ONLY"
    LONG_CONNECTOR = "LONG_CONNECTOR"
    RESOLUTION_WITHOUT_EVIDENCE = "RESOLUTION_WITHOUT_EVIDENCE"


@dataclass(frozen=True)
class Review:
    """One thing for a person to look at."""

    portion: Portion
    kind: ReviewKind
    reason: str
    record_ids: tuple[Any, ...]


@dataclass(frozen=True)
class Weighed:
    """What all the evidence of one line amounts to."""

    facts: LineFacts
    portions: tuple[PortionStanding, ...]
    conflicts: tuple[Conflict, ...]
    reviews: tuple[Review, ...]
    unknown_label: UnknownLabel

    def portion(self, portion: Portion) -> PortionStanding:
        """The standing of one portion."""
        return next(standing for standing in self.portions if standing.portion == portion)


def weigh(
    records: Iterable[EvidenceRecord],
    policy: EvidencePolicy,
    as_of: date | None = None,
    known_at: datetime | None = None,
) -> Weighed:
    """Weigh all the evidence of one line; the order of the records does not matter.

    Evidence that speaks of a day after `as_of`, or was recorded after `known_at`, is left out.
    """
    reduced = reduce(records, policy, as_of, known_at)
    return explained(reduced, stand(reduced.signature), policy)


def explained(reduced: Reduced, standing: Standing, policy: EvidencePolicy) -> Weighed:
    """What a standing is, with the records that decided and what a person should look at."""
    kept = reduced.records
    mixed = {n for n, fact in enumerate(reduced.signature.facts) if fact.mixed}
    return Weighed(
        facts=standing.facts,
        portions=tuple(_portion(result, kept, mixed) for result in standing.portions),
        conflicts=conflicts(standing, kept),
        reviews=(
            *_unverified(standing.portions, kept),
            *_reviews(kept, policy),
            *map(_useless, reduced.useless_resolutions),
        ),
        unknown_label=standing.unknown_label,
    )


def _portion(
    result: PortionResult, kept: tuple[EvidenceRecord, ...], mixed: set[int]
) -> PortionStanding:
    return PortionStanding(
        portion=result.portion,
        material=result.material,
        record_ids=tuple(kept[number].id for number in result.support),
        reason=_reason(result, kept, mixed),
        validation=result.validation,
        points=result.points,
    )


def _reason(result: PortionResult, kept: tuple[EvidenceRecord, ...], mixed: set[int]) -> str:
    portion, name = result.portion, result.portion.label.capitalize()
    if not result.support:
        said = sorted({r.basis.label for r in kept if r.portion == portion and r.era == Era.NOW})
        if not said:
            return f"{name}: no evidence is recorded."
        return f"{name}: the evidence ({', '.join(said)}) does not show a material."
    best = max((kept[number] for number in result.support), key=_telling)
    reason = f"{name}: {result.material.label}, by {_how(best)}."
    if result.in_conflict:
        other = max((kept[number] for number in result.against), key=_telling)
        reason += f" Against it stands {_how(other)}; a person decides."
    elif also := [kept[number] for number in result.against if number in mixed]:
        other = max(also, key=_telling)
        reason += (
            f" It is {_said(other)} as well, by {_how(other)}: a person decided that both are "
            "true, and the more protective stands."
        )
    elif result.was_lead and not result.material.is_lead:
        reason += " It was lead before."
    return reason


def _telling(record: EvidenceRecord) -> tuple:
    return record.basis.traits.strength, record.speaks_of, record.points_seen, id_order(record.id)


def _how(record: EvidenceRecord) -> str:
    when = record.observed_on or record.installed_on or record.installed_year
    dated = f" of {when}" if when else ""
    return f"{record.basis.label}{dated}"


def conflicts(standing: Standing, kept: tuple[EvidenceRecord, ...]) -> tuple[Conflict, ...]:
    """The contradictions among the records that a standing came from."""
    return tuple(_conflict(result, kept) for result in standing.portions if result.in_conflict)


def _conflict(result: PortionResult, kept: tuple[EvidenceRecord, ...]) -> Conflict:
    numbers, name = result.support + result.against, result.portion.label.capitalize()
    others = sorted({_said(kept[number]) for number in result.against})
    return Conflict(
        portion=result.portion,
        stands=result.material,
        record_ids=tuple(sorted((kept[number].id for number in numbers), key=id_order)),
        reason=(
            f"{name}: some evidence says {result.material.label}, other "
            f"evidence, at least as strong, says {' or '.join(others)}. The more protective "
            f"stands until a person decides."
        ),
    )


def _said(record: EvidenceRecord) -> str:
    found = _material(record)
    return (Material.NON_LEAD if found is Material.UNKNOWN else found).label


def _material(record: EvidenceRecord) -> Material:
    return record.material or Material.UNKNOWN


def _unverified(
    portions: tuple[PortionResult, ...], kept: tuple[EvidenceRecord, ...]
) -> list[Review]:
    found = []
    for result in portions:
        support = [kept[number] for number in result.support]
        if result.material.is_lead and not any(r.basis.traits.verified for r in support):
            bases = " and ".join(sorted({record.basis.label for record in support}))
            found.append(
                Review(
                    result.portion,
                    ReviewKind.UNVERIFIED_LEAD,
                    f"{result.portion.label.capitalize()}: lead by {bases} only; it counts as "
                    "lead until a record or an inspection shows otherwise.",
                    tuple(record.id for record in support),
                )
            )
    return found


def _reviews(kept: tuple[EvidenceRecord, ...], policy: EvidencePolicy) -> list[Review]:
    found = []
    for record in kept:
        name = record.portion.label.capitalize()
        if _material(record).is_lead and record.era == Era.NOW and after_ban(record, policy):
            text = f"{name}: recorded as lead, yet laid after the lead ban; check the record."
            found.append(Review(record.portion, ReviewKind.LEAD_AFTER_BAN, text, (record.id,)))
        if _is_bare_statement(record, policy):
            text = f"{name}: only an employee's statement; it shows nothing until the State agrees."
            found.append(Review(record.portion, ReviewKind.STATEMENT_ONLY, text, (record.id,)))
        if _is_long_connector(record, policy):
            text = (
                f"{name}: {float(record.length_ft or 0):g} ft long, above "
                f"{policy.connector_limit_ft} ft; it may be a portion of the line."
            )
            found.append(Review(record.portion, ReviewKind.LONG_CONNECTOR, text, (record.id,)))
    return found


def _is_bare_statement(record: EvidenceRecord, policy: EvidencePolicy) -> bool:
    """Rule AFFIDAVIT_NEEDS_STATE."""
    return (
        record.basis == Basis.AFFIDAVIT
        and Basis.AFFIDAVIT not in policy.approved_bases
        and bool(claim_of(record.material))
        and not _material(record).is_lead
    )


def _is_long_connector(record: EvidenceRecord, policy: EvidencePolicy) -> bool:
    limit = policy.connector_limit_ft
    return bool(
        record.portion == Portion.CONNECTOR
        and limit
        and record.length_ft
        and record.length_ft > limit
    )


def _useless(record: EvidenceRecord) -> Review:
    resolved = record.resolves.label if record.resolves else "nothing"
    return Review(
        record.portion,
        ReviewKind.RESOLUTION_WITHOUT_EVIDENCE,
        f"{record.portion.label.capitalize()}: a decision for {resolved} has no "
        "evidence that shows it, so it changes nothing.",
        (record.id,),
    )
