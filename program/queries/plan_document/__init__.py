"""The replacement plan document as it would be printed now: plain data, kept when it is frozen."""

from dataclasses import asdict
from datetime import date, datetime

from django.utils.timezone import localdate

from program.models import PlanText
from program.plan_document.elements import (
    OWN_WORDS,
    Element,
    Known,
    Missing,
    blocking,
    element_of,
    elements,
)
from program.queries.plan_document import figures, procedures
from program.queries.plan_document.case import Case
from program.queries.rule_values import values_used
from services_inventory.domain.days import day_told

KNOWN = {
    "UNKNOWN_LINES": figures.unknown_lines,
    "PROCEDURE": procedures.procedure,
    "BEFORE_WORK": procedures.before_work,
    "FLUSHING": procedures.flushing,
    "PRIORITY": figures.priority,
    "FUNDING": figures.funding,
    "COMMUNICATION": procedures.communication,
    "ACCESS": procedures.access,
    "LEAD_LINED": figures.lead_lined,
    "DEFERRED": figures.deferred,
}


def latest_texts() -> dict[str, PlanText]:
    """Return what staff wrote last on each element."""
    return {text.element: text for text in PlanText.objects.order_by("version")}


def plan_document_facts(as_of: date, known_at: datetime) -> dict:
    """Return everything that a plan document prints, as plain JSON.

    as_of : today, as the document is read from the record of now
    """
    case, texts = Case(as_of, known_at), latest_texts()
    sections = [_section(one, KNOWN[one.id](case), texts.get(one.id)) for one in elements()]
    inventory, appendix = figures.inventory(case), figures.work_areas(case)
    used = [*inventory.values, "REPLACEMENT_PLAN_DUE", "PLAN_UPDATE_DAY"]
    used += [rule_id for section in sections for rule_id in section["values"]]
    values = values_used(case.rules, as_of, dict.fromkeys(used))
    return {
        "utility": {
            key: getattr(case.utility, key)
            for key in (
                "name", "pwsid", "state", "population", "connections", "contact", "phone", "email",
                "website",
            )
        },
        "as_of": as_of.isoformat(),
        "inventory": asdict(inventory),
        "sections": sections,
        "appendix": asdict(appendix),
        "values": [_value_row(value) for value in values],
        "missing": _all_missing(inventory, sections),
        "plan_id": case.plan.pk if case.plan else None,
    }  # fmt: skip


def element_facts(element_id: str, as_of: date, known_at: datetime) -> dict:
    """Return one element as the document would print it."""
    element = element_of(element_id)
    known = KNOWN[element_id](Case(as_of, known_at))
    return _section(element, known, latest_texts().get(element_id))


def _section(element: Element, known: Known, text: PlanText | None) -> dict:
    written = text if text and text.text.strip() else None
    missing = [asdict(one) for one in known.missing] if known.applies else []
    if known.applies and written is None:
        missing.insert(0, asdict(Missing(OWN_WORDS, element.supplied_by)))
    return {
        **asdict(element),
        "mark_in_words": element.mark_in_words,
        **asdict(known),
        "missing": missing,
        "waits_for": blocking(missing),
        "text": _text(written),
    }


def _text(written: PlanText | None) -> dict | None:
    if written is None:
        return None
    return {
        "text": written.text,
        "taken_from": written.taken_from,
        "version": written.version,
        "by": written.written_by,
        "on": day_told(localdate(written.written_at)),
    }


def _value_row(value) -> list[str]:
    ticked = (
        f"{value.ticked_off_by}, {day_told(value.ticked_off_on)}" if value.ticked_off_by else ""
    )
    return [value.id, value.value, value.unit, value.citation, value.source, value.mark, ticked]


def _all_missing(inventory: Known, sections: list[dict]) -> list[dict]:
    """Return what the document lacks, with the part; what several parts lack is named once."""
    found = [{"part": "The system", **asdict(one)} for one in inventory.missing]
    for section in sections:
        part = f"{section['number']}. {section['heading']}"
        found += [{"part": part, **one} for one in section["missing"]]
    named, kept = set(), []
    for one in found:
        if one["what"] == OWN_WORDS or one["what"] not in named:
            named.add(one["what"])
            kept.append(one)
    return kept
