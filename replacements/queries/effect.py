"""What accepting a record will change in the inventory, before anybody accepts it."""

from dataclasses import dataclass, replace
from datetime import date

from services_inventory.domain.classification import (
    Classification,
    LineFacts,
    classify,
    facts_from_key,
)
from services_inventory.domain.materials import Connector, Material
from services_inventory.models import ServiceLine
from services_inventory.policy import classification_policy

from ..models import CompletionRecord

FULL = (
    "full",
    "Leaves every portion non-lead: counts once, on the day of the work, as a full replacement.",
)
PARTIAL = (
    "partial",
    "Leaves a portion that must still be replaced: recorded as partial, not in the rate.",
)
OPEN = (
    "partial so far",
    "A portion of unknown material remains: full only once it is shown to be non-lead.",
)
NONE = "none", "Counts as no replacement."


@dataclass(frozen=True)
class Effect:
    """The line's facts and category before the work, as dug up, and after it."""

    before: LineFacts
    before_verdict: Classification
    after: LineFacts
    after_verdict: Classification
    sentence: str
    short: str


def line_facts(line: ServiceLine) -> LineFacts:
    """Return the facts that stand for a line."""
    if line.decision_id:
        return facts_from_key(line.decision.facts_key)
    return LineFacts(Material.UNKNOWN, Material.UNKNOWN)


def effect_of(record: CompletionRecord, as_of: date) -> Effect:
    """Return what a record says before and after; evidence against it may yet hold it back."""
    policy = classification_policy(as_of)
    known = line_facts(record.work_order.line)
    found = _as_found(known, record)
    replaced = record.outcome == CompletionRecord.Outcome.REPLACED
    before, after = (found, _as_laid(found, record)) if replaced else (known, found)
    was, now = classify(before, policy), classify(after, policy)
    short, sentence = _counts(record, was, now)
    return Effect(before, was, after, now, sentence, short)


def _as_found(facts: LineFacts, record: CompletionRecord) -> LineFacts:
    """What the trench shows adds to the record; it takes lead back only by weighing."""
    changed = {}
    for side in ("system", "customer"):
        found = getattr(record, f"{side}_found")
        known = getattr(facts, side)
        if found and found != "UNKNOWN" and not known.is_lead:
            changed[side] = Material(found)
    if record.connector_found and record.connector_found != "UNKNOWN":
        changed["connector"] = Connector(record.connector_found)
    return replace(facts, **changed)


def _as_laid(facts: LineFacts, record: CompletionRecord) -> LineFacts:
    changed = {}
    if record.system_replaced:
        changed["system"] = Material(record.system_material_after)
        changed["system_below_lead"] = False
        if facts.system.is_lead:
            changed["system_was_lead"] = True
    if record.customer_replaced:
        changed["customer"] = Material(record.customer_material_after)
    if record.connector_replaced:
        changed["connector"] = Connector(record.connector_after)
    return replace(facts, **changed)


def _counts(record: CompletionRecord, was: Classification, now: Classification) -> tuple[str, str]:
    if record.outcome != CompletionRecord.Outcome.REPLACED or was.category not in ("LEAD", "GRR"):
        return NONE
    if not (record.system_replaced or record.customer_replaced):
        return NONE
    return {"NON_LEAD": FULL, "UNKNOWN": OPEN}.get(now.category, PARTIAL)
