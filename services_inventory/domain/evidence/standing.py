"""What the reduced evidence of a line amounts to, portion by portion.

Lead stands unless the pipe was replaced since, or was seen at enough points by an inspection
that is stronger than every record of lead and not older. Anything nearer is a conflict: the
more protective material stands until a person decides, and after that too where both are true. A
portion where lead was recorded and something else is found now counts as having been lead.
"""

from enum import StrEnum
from typing import NamedTuple

from services_inventory.domain.classification import LineFacts, UnknownLabel
from services_inventory.domain.evidence.records import Era, Portion
from services_inventory.domain.evidence.reducing import PROTECTIVE, Claim, Fact, Signature
from services_inventory.domain.materials import Connector, Material


class PoolStatus(StrEnum):
    """Whether a portion still has to be validated, and what took it out (40 CFR 141.84(b)(5))."""

    IN = "IN"
    OUT_BAN = "OUT_BAN"
    OUT_TWO_POINTS = "OUT_TWO_POINTS"
    OUT_REPLACED = "OUT_REPLACED"


class PortionResult(NamedTuple):
    """The outcome for one portion; numbers are positions in the signature's facts."""

    portion: Portion
    material: Material
    support: tuple[int, ...]
    against: tuple[int, ...]
    in_conflict: bool
    was_lead: bool
    validation: PoolStatus | None
    points: int
    leaning: UnknownLabel


class Standing(NamedTuple):
    """The facts of a line with the outcome of each portion."""

    facts: LineFacts
    portions: tuple[PortionResult, ...]
    unknown_label: UnknownLabel

    def portion(self, portion: Portion) -> PortionResult:
        """The outcome for one portion."""
        return next(result for result in self.portions if result.portion == portion)


_LABELS = {
    Claim.LEAD: UnknownLabel.LIKELY_LEAD,
    Claim.GALVANIZED: UnknownLabel.LIKELY_GALVANIZED,
    Claim.NON_LEAD: UnknownLabel.LIKELY_NON_LEAD,
}
_CONNECTORS = {Material.NONE: Connector.NONE, Material.UNKNOWN: Connector.UNKNOWN}

Numbered = tuple[int, Fact]


def stand(signature: Signature) -> Standing:
    """The facts that a line's reduced evidence amounts to.

    Pure, and equal for equal signatures: `queries.weigher` keeps the results.
    """
    numbered: dict[Portion, list[Numbered]] = {portion: [] for portion in Portion}
    for number, fact in enumerate(signature.facts):
        numbered[fact.portion].append((number, fact))
    results = {
        portion: _portion(portion, facts, signature.points_needed)
        for portion, facts in numbered.items()
    }
    system = results[Portion.SYSTEM]
    facts = LineFacts(
        system=system.material,
        customer=results[Portion.CUSTOMER].material,
        connector=_connector(results[Portion.CONNECTOR].material),
        system_was_lead=_system_was_lead(numbered[Portion.SYSTEM], system, signature),
        system_below_lead=any(fact.below_lead for _, fact in _current(numbered[Portion.SYSTEM])),
        set_aside=signature.set_aside,
    )
    return Standing(facts, tuple(results.values()), _unknown_label(results))


def _portion(portion: Portion, facts: list[Numbered], points_needed: int) -> PortionResult:
    current = _current(facts)
    claim, overruled = _standing_claim(current, points_needed)
    support = [(n, fact) for n, fact in current if claim and fact.claim == claim]
    rivals = [(n, fact) for n, fact in current if fact.claim not in (Claim.NOTHING, claim)]
    points = _points(support)
    return PortionResult(
        portion=portion,
        material=_most_telling(support).material if support else Material.UNKNOWN,
        support=tuple(n for n, _ in support),
        against=tuple(n for n, _ in rivals),
        in_conflict=_in_conflict(claim, support, rivals),
        was_lead=Claim.LEAD in overruled or _had_lead(facts, current),
        validation=_pool_status(claim, support, points >= points_needed),
        points=points,
        leaning=_leaning(current),
    )


def _current(facts: list[Numbered]) -> list[Numbered]:
    """The evidence about the pipe in the ground: what the last replacement left standing."""
    now = [(n, fact) for n, fact in facts if fact.era == Era.NOW]
    replaced_on = max((fact.day for _, fact in now if fact.replacement), default=0)
    return [
        (n, fact)
        for n, fact in now
        if fact.day > replaced_on or (fact.replacement and fact.day == replaced_on)
    ]


def _had_lead(facts: list[Numbered], current: list[Numbered]) -> bool:
    """Whether an earlier pipe, or one that was replaced since, was recorded as lead."""
    there = {n for n, _ in current}
    return any(fact.claim == Claim.LEAD and n not in there for n, fact in facts)


def _standing_claim(current: list[Numbered], points_needed: int) -> tuple[Claim, list[Claim]]:
    """The most protective claim that nothing overrules, and those that were overruled."""
    overruled: list[Claim] = []
    for claim in PROTECTIVE:
        holders = [fact for _, fact in current if fact.claim == claim]
        if not holders:
            continue
        rivals = [
            fact
            for _, fact in current
            if fact.claim in PROTECTIVE[PROTECTIVE.index(claim) + 1 :] and not fact.mixed
        ]
        if not any(_overrules(rival, holders, points_needed) for rival in rivals):
            return claim, overruled
        overruled.append(claim)
    return Claim.NOTHING, overruled


def _overrules(rival: Fact, holders: list[Fact], points_needed: int) -> bool:
    return rival.points >= points_needed and all(
        rival.strength > holder.strength and rival.day >= holder.day for holder in holders
    )


def _in_conflict(claim: Claim, support: list[Numbered], rivals: list[Numbered]) -> bool:
    """Whether a person decides: less protective evidence that is at least as strong stands by."""
    strongest = max((fact.strength for _, fact in support), default=0)
    place = PROTECTIVE.index(claim) if claim else -1
    return any(
        fact.strength >= strongest and PROTECTIVE.index(fact.claim) > place and not fact.mixed
        for _, fact in rivals
    )


def _most_telling(support: list[Numbered]) -> Fact:
    """The strongest evidence that names a material, the latest of equals."""
    return max(
        (fact for _, fact in support),
        key=lambda fact: (
            fact.material != Material.NON_LEAD, fact.strength, fact.day, fact.points, fact.material
        ),
    )  # fmt: skip


def _points(support: list[Numbered]) -> int:
    """Points of the outside seen; two rows of one place, or of no named place, are one."""
    seen = [fact for _, fact in support if fact.exterior]
    places = {fact.place for fact in seen if fact.place}
    return max([len(places), *(fact.points for fact in seen)])


def _pool_status(claim: Claim, support: list[Numbered], enough_points: bool) -> PoolStatus | None:
    if claim not in (Claim.GALVANIZED, Claim.NON_LEAD):
        return None
    if any(fact.replacement for _, fact in support):
        return PoolStatus.OUT_REPLACED
    if any(fact.after_ban for _, fact in support):
        return PoolStatus.OUT_BAN
    return PoolStatus.OUT_TWO_POINTS if enough_points else PoolStatus.IN


def _leaning(current: list[Numbered]) -> UnknownLabel:
    said = {fact.leaning for _, fact in current}
    return next(
        (label for claim, label in _LABELS.items() if claim in said), UnknownLabel.NO_INDICATION
    )


def _unknown_label(results: dict[Portion, PortionResult]) -> UnknownLabel:
    """The most protective supposition among the portions that are unknown."""
    said = {
        results[portion].leaning
        for portion in (Portion.SYSTEM, Portion.CUSTOMER)
        if results[portion].material == Material.UNKNOWN
    }
    for label in (UnknownLabel.LIKELY_LEAD, UnknownLabel.LIKELY_GALVANIZED):
        if label in said:
            return label
    alike = said == {UnknownLabel.LIKELY_NON_LEAD}
    return UnknownLabel.LIKELY_NON_LEAD if alike else UnknownLabel.NO_INDICATION


def _connector(material: Material) -> Connector:
    if material.is_lead:
        return Connector.LEAD
    return _CONNECTORS.get(material, Connector.NON_LEAD)


def _system_was_lead(
    facts: list[Numbered], system: PortionResult, signature: Signature
) -> bool | None:
    if system.was_lead:
        return True
    if signature.never_had_lead or _shown_never_lead(facts):
        return False
    return None


def _shown_never_lead(facts: list[Numbered]) -> bool:
    """Whether records speak of every earlier pipe and show each to be other than lead.

    A record made before the last replacement says nothing of the pipe that was then taken out,
    so that pipe must itself have been shown to be other than lead.
    """
    complete = [
        fact.day
        for _, fact in facts
        if fact.era == Era.BEFORE and fact.every_earlier_pipe and fact.claim != Claim.NOTHING
    ]
    if not complete:
        return False
    replaced_on = max((fact.day for _, fact in facts if fact.replacement), default=0)
    taken_out = [
        fact for _, fact in facts
        if fact.era == Era.NOW and fact.day <= replaced_on and not fact.replacement
    ]  # fmt: skip
    return max(complete) >= replaced_on or any(fact.claim for fact in taken_out)
