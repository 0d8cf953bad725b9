"""Handing a completion record in. A returned one gets a new revision; none is edited."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from itertools import chain

from django.db import IntegrityError, transaction
from django.db.models import Max

from services_inventory.domain.days import day_told
from services_inventory.domain.materials import Connector, Material
from services_inventory.models import Document

from ...domain.findings import Finding, Level
from ...models import CompletionRecord, PhotoFacts, PullRecord, ToolStringRecord, WorkOrder
from ...queries.finished_job import BadQuality, completion_findings, differences, pull_findings
from ...queries.photo_doubts import photo_doubts
from ...queries.stored import findings_kept, plain
from ..work_orders import State, change_append, day_of, locked
from .errors import CompletionError, StopsShownFirst

Outcome = CompletionRecord.Outcome

SAID = frozenset(
    "method_used system_found customer_found connector_found system_material_after "
    "customer_material_after connector_after system_replaced customer_replaced "
    "connector_replaced new_nominal_in new_grade length_ft note".split()
)
AFTER = {"PE": Material.PLASTIC.value, "PEX": Material.PLASTIC.value, "COPPER": "COPPER"}


def completion_hand_in(
    *,
    work_order: WorkOrder,
    by: str,
    at: datetime,
    finished_on: date,
    outcome: str = Outcome.REPLACED,
    user_id: int | None = None,
    idempotency_key: str | None = None,
    pull: PullRecord | None = None,
    tool_string: ToolStringRecord | None = None,
    quality: Mapping | None = None,
    photos: Iterable[Document] = (),
    despite_stops: bool = True,
    **said,
) -> CompletionRecord:
    """Hand in what was done for an order; the same key hands in once.

    Parameters
    ----------
    said : any of SAID; materials are codes of `Material`, connectors of `Connector`
    quality : as `queries.finished_job` reads it, and points_seen by portion for what was found
    photos : documents of kinds PHOTO_OLD_PIPE, PHOTO_LEAD_REMOVED, ...
    despite_stops : whether who hands it in has seen what will hold it up

    Raises
    ------
    StopsShownFirst: nothing is handed in: the record has stops that nobody was shown.
    CompletionError: the order is not out, or the record contradicts itself; the message says how.
    """
    if idempotency_key:
        earlier = _handed_in_before(work_order, idempotency_key)
        if earlier is not None:
            return earlier
    photos = list(photos)
    try:
        with transaction.atomic():
            order = locked(work_order)
            completion = CompletionRecord(
                work_order=order,
                revision=_next_revision(order),
                outcome=outcome,
                finished_on=finished_on,
                pull=pull,
                tool_string=tool_string or (pull.tool_string if pull else None),
                quality=plain(dict(quality or {})),
                idempotency_key=idempotency_key or None,
                handed_in_by=by,
                handed_in_by_user_id=user_id,
                handed_in_at=at,
                **_with_defaults(order, outcome, said),
            )
            _refuse(completion, at)
            found = _findings(completion, photos, at)
            if not despite_stops and any(f.level is Level.STOP for f in found):
                raise StopsShownFirst(found)
            completion.findings = findings_kept(found)
            _keep(completion, photos, by, at)
    except IntegrityError as error:
        earlier = _handed_in_before(work_order, idempotency_key)
        if earlier is not None:
            return earlier
        raise CompletionError("This record was handed in at the same moment twice.") from error
    work_order.state = order.state
    return completion


def _handed_in_before(order: WorkOrder, key: str | None) -> CompletionRecord | None:
    found = CompletionRecord.objects.filter(idempotency_key=key).first() if key else None
    if found is not None and found.work_order_id != order.pk:
        raise CompletionError("This key was used for another order; send with a key of its own.")
    return found


def _next_revision(order: WorkOrder) -> int:
    if order.state not in (State.RELEASED, State.RETURNED):
        raise CompletionError(
            f"{order.number} is {order.get_state_display()}; nothing can be handed in for it."
        )
    last = order.completions.aggregate(last=Max("revision"))["last"]
    return (last or 0) + 1


def _with_defaults(order: WorkOrder, outcome: str, said: Mapping) -> dict:
    strange = sorted(set(said) - SAID)
    if strange:
        raise CompletionError(f"A completion record has no {', '.join(strange)}.")
    values = {name: value for name, value in said.items() if value is not None}
    values.setdefault("method_used", order.method)
    if outcome != Outcome.REPLACED:
        return values
    values.setdefault("new_nominal_in", order.new_nominal_in)
    values.setdefault("new_grade", order.new_grade)
    values.setdefault("length_ft", order.length_ft)
    for side in ("system", "customer"):
        if values.get(f"{side}_replaced") and not values.get(f"{side}_material_after"):
            values[f"{side}_material_after"] = AFTER[order.new_material]
    if values.get("connector_replaced") and not values.get("connector_after"):
        values["connector_after"] = Connector.NON_LEAD.value
    return values


def _refuse(completion: CompletionRecord, at: datetime) -> None:
    sentences = [sentence for _, sentence in _contradictions(completion, at)]
    if sentences:
        raise CompletionError(" ".join(sentences))


def completion_objections(
    *, work_order: WorkOrder, at: datetime, photo_kinds: Iterable[str], quality: Mapping, **said
) -> tuple[list[tuple[str, str]], list[Finding]]:
    """Return all that would keep a record from being handed in, and its stops; nothing is written.

    Returns
    -------
    (field, sentence) of each contradiction; findings of level STOP about the work itself
    """
    plainly = {name: said.pop(name) for name in ("outcome", "finished_on")}
    rest = _with_defaults(work_order, plainly["outcome"], said)
    record = CompletionRecord(work_order=work_order, quality=plain(quality), **plainly, **rest)
    objections = [*_contradictions(record, at)]
    if work_order.state not in (State.RELEASED, State.RETURNED):
        objections.append(("order", f"{work_order.number} is {work_order.get_state_display()}."))
    if record.outcome != Outcome.REPLACED:
        return objections, []
    try:
        found = completion_findings(record, photo_kinds, day_of(at))
    except BadQuality as error:
        return [*objections, ("order", str(error))], []
    return objections, [finding for finding in found if finding.level is Level.STOP]


def _contradictions(record: CompletionRecord, at: datetime) -> Iterable[tuple[str, str]]:
    order = record.work_order
    if record.outcome not in Outcome.values:
        yield "outcome", f"An outcome is one of {', '.join(Outcome.values)}."
    if record.finished_on > day_of(at):
        yield (
            "finished_on",
            f"The work is dated {day_told(record.finished_on)}, which has not come yet.",
        )
    if order.released_at and record.finished_on < day_of(order.released_at):
        yield (
            "finished_on",
            f"The work is dated {day_told(record.finished_on)}, before the order was released.",
        )
    yield from _of_another_order(record)
    yield from _strange_materials(record)
    replaced = record.system_replaced or record.customer_replaced or record.connector_replaced
    if record.outcome == Outcome.REPLACED and not replaced:
        yield (
            "system_replaced",
            "Tick which portion was replaced: system side, customer side or connector.",
        )
    if record.outcome != Outcome.REPLACED and replaced:
        yield (
            "system_replaced",
            f"Nothing is replaced where the outcome is: {record.get_outcome_display()}.",
        )
    found = record.system_found or record.customer_found or record.connector_found
    if record.outcome == Outcome.FOUND_NOT_LEAD:
        yield from _found_not_lead(record, bool(found))
    if record.outcome in (Outcome.NO_ACCESS, Outcome.STOPPED) and not record.note.strip():
        yield "note", "Say in the note what happened."
    if record.length_ft is not None and not 0 < record.length_ft < 10_000:
        yield "length_ft", f"The length must be above zero ft, not {record.length_ft:g}."


def _of_another_order(record: CompletionRecord) -> Iterable[tuple[str, str]]:
    for what, thing in (("pull", record.pull), ("tool string", record.tool_string)):
        if thing is not None and thing.work_order_id != record.work_order_id:
            yield "pull", f"The {what} belongs to another order."
    if record.pull is not None and record.pull.withdrawn_at is not None:
        yield "pull", "The pull was withdrawn; choose the one that counts."


def _found_not_lead(record: CompletionRecord, found: bool) -> Iterable[tuple[str, str]]:
    if not found:
        yield (
            "system_found",
            "Say what was found: the material of the system side or of the customer side.",
        )
    for side in ("system", "customer"):
        code = getattr(record, f"{side}_found")
        if code in set(Material) and Material(code).is_lead:
            yield (
                f"{side}_found",
                f"The {side} side was found to be lead, so the outcome cannot be: not lead.",
            )


def _strange_materials(record: CompletionRecord) -> Iterable[tuple[str, str]]:
    for side in ("system", "customer"):
        for name in (f"{side}_found", f"{side}_material_after"):
            code = getattr(record, name)
            if code and code not in set(Material):
                yield name, f"{name.replace('_', ' ').capitalize()}: there is no material {code!r}."
        after = getattr(record, f"{side}_material_after")
        if getattr(record, f"{side}_replaced") and after in set(Material):
            kind = Material(after)
            if kind.is_lead or kind.is_galvanized or kind is Material.UNKNOWN:
                yield (
                    f"{side}_material_after",
                    f"The {side} side cannot be replaced by {kind.label} pipe.",
                )
    for name in ("connector_found", "connector_after"):
        code = getattr(record, name)
        if code and code not in set(Connector):
            yield name, f"{name.replace('_', ' ').capitalize()}: there is no connector {code!r}."
    if record.connector_replaced and record.connector_after in ("LEAD", "UNKNOWN"):
        yield "connector_after", "A connector is replaced by a non-lead one, or by none."


def _findings(completion: CompletionRecord, photos: list[Document], at: datetime) -> list[Finding]:
    found = differences(completion) if completion.outcome != Outcome.NO_ACCESS else []
    found = [*pull_findings(completion), *found, *_doubts(completion.work_order, photos)]
    if completion.outcome != Outcome.REPLACED:
        return found
    try:
        kinds = [photo.kind for photo in photos]
        return [*completion_findings(completion, kinds, day_of(at)), *found]
    except BadQuality as error:
        raise CompletionError(str(error)) from error


def _doubts(order: WorkOrder, photos: list[Document]) -> Iterator[Finding]:
    if photos:
        rows = PhotoFacts.objects.filter(work_order=order, document__in=photos)
        facts = rows.select_related("document").order_by("document_id")
        yield from chain.from_iterable(photo_doubts(order, facts).values())


def _keep(completion: CompletionRecord, photos: list[Document], by: str, at: datetime) -> None:
    order = completion.work_order
    completion.save()
    if photos:
        completion.photos.add(*photos)
    reason = f"revision {completion.revision}: {completion.get_outcome_display()}"
    change_append(order, order.state, State.HANDED_IN, by, at, reason).save()
    order.state = State.HANDED_IN
    order.save(update_fields=["state"])
