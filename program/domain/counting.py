"""What a finished piece of work counts as: a full replacement, a partial one, or neither.

A full replacement leaves the entire line, both sides, non-lead. What matters is the line before
and after, and the day on which its last lead or galvanized-requiring-replacement (GRR) portion
was taken out of service; that one day decides the program year (40 CFR 141.84(d)).
"""

from dataclasses import dataclass, replace
from datetime import date

from program.domain.calendar import program_year
from program.domain.regulation import RULES
from services_inventory.domain.classification import FEDERAL, Category, LineFacts, Policy, classify
from services_inventory.domain.days import day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.regulation import Rules

_CITATION = "40 CFR 141.84(d)"
_PARTIAL_CITATION = "40 CFR 141.84(a)(2), (h)"


class Event(Labeled):
    """What was done."""

    REPLACED = "REPLACED", "Portions replaced by the system"
    CUSTOMER_REPLACED = "CUSTOMER_REPLACED", "Portion replaced by the customer or a third party"
    NEW_LINE = "NEW_LINE", "Cut from the main, new line laid"
    CONNECTOR_REPLACED = "CONNECTOR_REPLACED", "Connector replaced"
    DUG_UP = "DUG_UP", "Dug up and looked at"
    DISCONNECTED = "DISCONNECTED", "Disconnected, no new line"
    SHUT_OFF = "SHUT_OFF", "Valve shut or building vacant"
    REFUSED = "REFUSED", "Refused by the owner"


class CountKind(Labeled):
    """What the work counts as."""

    FULL_LEAD = "FULL_LEAD", "Full replacement of a lead line"
    FULL_GRR = "FULL_GRR", "Full replacement of a GRR line"
    PARTIAL_LEAD = "PARTIAL_LEAD", "Partial replacement of a lead line"
    PARTIAL_GRR = "PARTIAL_GRR", "Partial replacement of a GRR line"
    CONNECTOR_ONLY = "CONNECTOR_ONLY", "Connector only"
    NEITHER = "NEITHER", "Neither"

    @property
    def is_full(self) -> bool:
        """Whether the rate counts it."""
        return self in (CountKind.FULL_LEAD, CountKind.FULL_GRR)

    @property
    def is_partial(self) -> bool:
        """Whether it belongs in the totals of partial replacements."""
        return self in (CountKind.PARTIAL_LEAD, CountKind.PARTIAL_GRR)


@dataclass(frozen=True)
class Counted:
    """What the work counts as, in which program year, and why; no year before program year 1."""

    kind: CountKind
    program_year: int | None
    reason: str
    citation: str


@dataclass(frozen=True)
class Work:
    """A finished piece of work on one line.

    `before` and `after` are the facts about the line on either side of it, `before` including
    what the trench showed; `done_on` the day the last lead or GRR portion this work removed went
    out of service; `reuse_prohibited`: law, tariff or a policy that the State accepts forbids to
    use a disconnected line again.
    """

    event: Event
    before: LineFacts
    after: LineFacts
    done_on: date
    reuse_prohibited: bool = False


def count(work: Work, as_of: date, *, policy: Policy = FEDERAL, rules: Rules = RULES) -> Counted:
    """Say what a finished piece of work counts as.

    Raises
    ------
    ValueError: the work is dated after the day of the count.

    Source: 40 CFR 141.84(d); rule value DISCONNECTED_COUNTS.
    """
    if work.done_on > as_of:
        raise ValueError(
            f"The work is dated {day_told(work.done_on)}, after {day_told(as_of)}; correct the day."
        )
    was, now = classify(work.before, policy).category, classify(work.after, policy).category
    kind, reason, citation = _judged(work, was, now, rules)
    year = program_year(work.done_on, rules)
    if year is None and kind is not CountKind.NEITHER:
        start = rules.latest("COMPLIANCE_DATE").value
        reason = f"{reason} It was done before {start}, so it counts in no program year's rate."
        kind = CountKind.NEITHER if kind.is_full else kind
    return Counted(kind, year, reason, citation)


def _judged(work: Work, was: Category, now: Category, rules: Rules) -> tuple[CountKind, str, str]:
    if work.event in _NO_WORK:
        return CountKind.NEITHER, _NO_WORK[work.event], _CITATION
    if work.event is Event.DUG_UP:
        return CountKind.NEITHER, _dug_up(was, now), "40 CFR 141.84(d)(5)"
    if work.event is Event.DISCONNECTED:
        return _disconnected(work, was, rules)
    if work.event is Event.CONNECTOR_REPLACED or _only_connector(work):
        return CountKind.CONNECTOR_ONLY, _connector(work.after), "40 CFR 141.84(d)"
    return _replaced(work, was, now)


def _replaced(work: Work, was: Category, now: Category) -> tuple[CountKind, str, str]:
    if was not in (Category.LEAD, Category.GRR):
        return CountKind.NEITHER, _not_lead(was), _CITATION
    if not _took_out(work):
        reason = "No lead or galvanized portion was taken out; what changed is what is known of it."
        return CountKind.NEITHER, reason, _CITATION
    if now is Category.NON_LEAD:
        by = " by the customer or a third party" if work.event is Event.CUSTOMER_REPLACED else ""
        reason = f"The line was {was.label}; it was replaced{by} and is now non-lead."
        return CountKind(f"FULL_{was}"), reason, _CITATION
    if now is Category.UNKNOWN:
        reason = (
            f"The line was {was.label}; a portion of unknown material remains. Once that portion "
            "is shown to be non-lead, the line counts as full, by this same day."
        )
    else:
        reason = f"The line was {was.label}; it is still {now.label} after the work."
    return CountKind(f"PARTIAL_{was}"), reason, _PARTIAL_CITATION


def _disconnected(work: Work, was: Category, rules: Rules) -> tuple[CountKind, str, str]:
    if was not in (Category.LEAD, Category.GRR):
        return CountKind.NEITHER, _not_lead(was), _CITATION
    if work.reuse_prohibited and rules.value("DISCONNECTED_COUNTS", work.done_on):
        reason = f"The line was {was.label}; it is disconnected and may not be used again."
        return CountKind(f"FULL_{was}"), reason, _CITATION
    reason = (
        "The line is disconnected, but its re-use is not prohibited in a way the State accepts."
    )
    return CountKind.NEITHER, reason, _CITATION


def _dug_up(was: Category, now: Category) -> str:
    if was is Category.UNKNOWN and now is Category.NON_LEAD:
        return "An unknown line was found to be non-lead; it leaves the pool and is no replacement."
    if now in (Category.LEAD, Category.GRR):
        return f"The line was found to be {now.label}; it is still to be replaced."
    return "The line was looked at, not replaced."


def _not_lead(was: Category) -> str:
    if was is Category.UNKNOWN:
        return (
            "The old line's material is not known, so this is no lead or GRR replacement; "
            "record what was taken out of the ground as evidence."
        )
    return "The line was non-lead before the work; there was nothing to replace."


def _connector(after: LineFacts) -> str:
    state = "lead still" if after.connector is Connector.LEAD else after.connector.label
    return f"Only the connector was replaced (now: {state}); its category changes, the line's not."


def _took_out(work: Work) -> bool:
    sides = (
        (work.before.system, work.after.system),
        (work.before.customer, work.after.customer),
    )
    return any(
        (old.is_lead or old.is_galvanized) and (new.is_non_lead or new is Material.NONE)
        for old, new in sides
    )


def _only_connector(work: Work) -> bool:
    return work.before.connector != work.after.connector and work.before == replace(
        work.after, connector=work.before.connector
    )


_NO_WORK = {
    Event.SHUT_OFF: "A shut valve or a vacant building leaves the line in the ground.",
    Event.REFUSED: (
        "The owner refused. A documented refusal after a reasonable effort is no violation for "
        "this line, and no replacement."
    ),
}
