"""A completion record in the domain's terms, and what its quality record must hold."""

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date

from services_inventory.policy import rules_in_force

from ..domain.completion import (
    AfterRules,
    CompletionFacts,
    Disinfection,
    Flush,
    Household,
    LeadRemoved,
    PressureTest,
    TracerTest,
)
from ..domain.completion import check as check_completion
from ..domain.findings import Finding, Level
from ..domain.pipes import PipeError, pipe
from ..models import CompletionRecord
from .planned_pull import old_pipe_of

PHOTO = "PHOTO_"
_PARTS = {
    "pressure_test": PressureTest,
    "tracer": TracerTest,
    "disinfection": Disinfection,
    "crew_flush": Flush,
    "premise_flush": Flush,
    "lead": LeadRemoved,
    "household": Household,
}
_PLAIN = {
    "static_psi",
    "depths_ft",
    "leading_outside_in",
    "cut_off_ft",
    "bonding_checked",
    "restored_on",
    "returned_to_service_on",
}
QUALITY_KEYS = frozenset({*_PARTS, *_PLAIN, "points_seen", "attempt"})


class BadQuality(ValueError):
    """A part of the quality record is not understood; the message says which."""


def facts_of(completion: CompletionRecord, photo_kinds: Iterable[str]) -> CompletionFacts:
    """Return what is on record about a finished job as the domain judges it.

    Raises
    ------
    BadQuality: a key of the quality record, or of a part of it, is not known.
    """
    order, quality = completion.work_order, completion.quality
    material = order.new_material
    try:
        new = pipe(material, completion.new_nominal_in or order.new_nominal_in,
                   completion.new_grade or order.new_grade)  # fmt: skip
    except PipeError as error:
        raise BadQuality(str(error)) from error
    strange = sorted(set(quality) - QUALITY_KEYS)
    if strange:
        raise BadQuality(f"The quality record has no {', '.join(strange)}.")
    known = {name: quality[name] for name in _PLAIN & set(quality)}
    return CompletionFacts(
        completed_on=completion.finished_on,
        line_length_ft=completion.length_ft or order.length_ft or 0.0,
        new_material=material,
        new_inside_in=new.inside_in,
        new_outside_in=new.outside_in,
        photos=frozenset(kind.removeprefix(PHOTO) for kind in photo_kinds),
        old_pipe_is_lead=order.old_material == "LEAD",
        **{name: _day(name, value) for name, value in known.items()},
        **{name: _part(name, quality[name]) for name in _PARTS if quality.get(name)},
    )


def _part(name: str, values: Mapping):
    kind = _PARTS[name]
    names = {field.name for field in fields(kind)}
    strange = sorted(set(values) - names)
    if strange:
        raise BadQuality(f"{name} has no {', '.join(strange)}; it has {', '.join(sorted(names))}.")
    try:
        return kind(**{key: _day(key, value) for key, value in values.items()})
    except TypeError as error:
        raise BadQuality(f"{name} is not complete: {error}.") from error


def _day(name: str, value):
    try:
        return date.fromisoformat(value) if name.endswith("_on") and isinstance(value, str) else (
            value
        )  # fmt: skip
    except ValueError as error:
        raise BadQuality(f"{name} is {value!r}; write a day such as 2030-06-14.") from error


def completion_findings(
    completion: CompletionRecord, photo_kinds: Iterable[str], as_of: date
) -> list[Finding]:
    """Return what is missing or wrong in a record of replaced pipe.

    Raises
    ------
    BadQuality: the quality record is not understood.
    """
    facts = facts_of(completion, photo_kinds)
    rules = AfterRules.on(rules_in_force(), as_of)
    found = check_completion(facts, rules, as_of, lead_weight_lb_per_ft=_lead_weight(completion))
    return [*found, *_pull_findings(completion)]


def _lead_weight(completion: CompletionRecord) -> float | None:
    order = completion.work_order
    if order.old_material != "LEAD" or not (order.old_grade or order.old_outside_in):
        return None
    try:
        return old_pipe_of(order).weight_lb_per_ft
    except PipeError:
        return None


_SOURCE = "planning rule of this program [judgement]"


def _pull_findings(completion: CompletionRecord) -> list[Finding]:
    pull = completion.pull
    if pull is None:
        if completion.method_used not in ("SPLIT", "ROD_SPLIT", "PULL_OUT"):
            return []
        do = "Attach the log, or say in the note why there is none."
        return [Finding(Level.CAUTION, "NO_PULL_LOG", "No pull log is on record.", _SOURCE, do)]
    stopped = any(f["level"] == "STOP" for f in pull.findings)
    if stopped or pull.verdict != "ACCEPT":
        level = Level.STOP if stopped else Level.CAUTION
        stops = [f["message"] for f in pull.findings if f["level"] == level.value]
        said = stops[0] if stops else "See its findings."
        do = "Look at the pull's findings; return the work or say why it may stand."
        rule = "PULL_STOP" if stopped else f"PULL_{pull.verdict}"
        return [Finding(level, rule, f"The pull asks for a person: {said}", _SOURCE, do)]
    return []
