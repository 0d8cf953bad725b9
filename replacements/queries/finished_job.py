"""A completion record in the domain's terms, and what its quality record must hold."""

from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from typing import get_args, get_type_hints

from services_inventory.domain.materials import Material
from services_inventory.policy import rules_in_force

from ..domain.completion import AfterRules, CompletionFacts, Quality
from ..domain.completion import check as check_completion
from ..domain.findings import Finding, Level
from ..domain.gate import OFFICE, REVIEWER
from ..domain.methods import Method, is_pulled
from ..domain.pipes import PipeError, pipe
from ..models import CompletionRecord, LiveFeed, PullRecord, WorkOrder
from .gate import start_on_record
from .planned_pull import old_pipe_of
from .pull_review import pull_told, unexplained, weighed_by_order
from .stored import stops

PHOTO = "PHOTO_"
_HINTS = {name: get_args(hint) or (hint,) for name, hint in get_type_hints(Quality).items()}
_PARTS = {name: kinds[0] for name, kinds in _HINTS.items() if is_dataclass(kinds[0])}
_PLAIN = _HINTS.keys() - _PARTS.keys()
QUALITY_KEYS = frozenset({*_HINTS, "points_seen", "found_in", "attempt"})


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
        pulled=is_pulled(completion.method_used or order.method),
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
    return check_completion(facts, rules, as_of, lead_weight_lb_per_ft=_lead_weight(completion))


def _lead_weight(completion: CompletionRecord) -> float | None:
    order = completion.work_order
    if order.old_material != "LEAD" or not (order.old_grade or order.old_outside_in):
        return None
    try:
        return old_pipe_of(order).weight_lb_per_ft
    except PipeError:
        return None


_SOURCE = "planning rule of this program [judgment]"


def pull_findings(completion: CompletionRecord) -> list[Finding]:
    """Return what the pulls of an order say of a record, whichever of them it names, or none.

    Each pull that nobody has explained is a stop; a pull without a log still needs its start.
    """
    order = completion.work_order
    pulls = weighed_by_order([order.pk])[order.pk]
    found = [_unexplained(pull) for pull in unexplained(pulls)]
    if not is_pulled(completion.method_used) or completion.outcome not in _PULLED:
        return found
    if completion.pull is None:
        do = "Attach the log, or say in the note why there is none."
        said = "The record names no pull log."
        found.append(Finding(Level.CAUTION, "NO_PULL_LOG", said, _SOURCE, do))
    logs = [pull for pull in pulls if isinstance(pull, PullRecord)]
    if not any(pull.withdrawn_at is None for pull in logs):
        found += _without_start(order)
    return found


_PULLED = (CompletionRecord.Outcome.REPLACED, CompletionRecord.Outcome.STOPPED)


def _unexplained(pull: PullRecord | LiveFeed) -> Finding:
    if isinstance(pull, LiveFeed):
        rule = "PULL_UNLOGGED"
    else:
        rule = "PULL_STOP" if stops(pull.findings) else f"PULL_{pull.verdict}"
    do = "Look at the pull; say at it why the work may stand, or return the work."
    return Finding(Level.STOP, rule, pull_told(pull), _SOURCE, do, who=REVIEWER)


def _without_start(order: WorkOrder) -> list[Finding]:
    """Return a stop where nothing on record shows that the pull was started safely."""
    start = start_on_record(order)
    if start is not None and start.holds:
        return []
    what = "holds no more" if start else "is not on record"
    why = f" {start.lapsed[0].message}" if start else ""
    said = f"The safe start of a pull {what}, and there is no log to look at.{why}"
    do = "Record the safe start as it was, or say in the note who checked what before the pull."
    return [Finding(Level.STOP, "NO_START", said, _SOURCE, do, who=OFFICE)]


def differences(completion: CompletionRecord) -> list[Finding]:
    """Return where the trench or the work was other than the order and the record said."""
    do = "Look whether photos and note bear it out; accepted, it becomes evidence."
    said = [*_method_changed(completion)]
    for side in ("system", "customer"):
        said += [*_found_otherwise(completion, side), *_size_differs(completion, side)]
    return [Finding(Level.CAUTION, rule, sentence, _SOURCE, do) for rule, sentence in said]


def _method_changed(completion: CompletionRecord) -> Iterable[tuple[str, str]]:
    used, ordered = completion.method_used, completion.work_order.method
    if used and used != ordered and completion.outcome == CompletionRecord.Outcome.REPLACED:
        yield "METHOD_CHANGED", f"Done by {_method(used)}; the order says {_method(ordered)}."


def _found_otherwise(completion: CompletionRecord, side: str) -> Iterable[tuple[str, str]]:
    found = getattr(completion, f"{side}_found")
    known = getattr(completion.work_order.line, f"{side}_material")
    if found and known not in ("", "UNKNOWN", found):
        words = Material(found).label, Material(known).label
        yield "FOUND_OTHERWISE", f"The {side} side was {words[0]}; the record says {words[1]}."


def _size_differs(completion: CompletionRecord, side: str) -> Iterable[tuple[str, str]]:
    found = (completion.quality.get("found_in") or {}).get(side.upper())
    ordered = completion.work_order.old_nominal_in
    if found and ordered and abs(found - ordered) > 0.01:
        yield "SIZE_DIFFERS", f"The {side} side is {found:g} in.; the order says {ordered:g} in."


def _method(code: str) -> str:
    return Method(code).label.lower() if code in set(Method) else code.lower()
