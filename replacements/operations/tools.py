"""The contractor's own tools, the string put together for one pull, and its assembly checklist."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from ..domain.findings import Finding
from ..domain.ropes import RopeInspection, UnknownRope, retirement_findings, rope
from ..domain.tool_strings import (
    BadComponent,
    Facing,
    Kind,
    Proposal,
    ToolString,
    Wear,
    check_case,
    checks_for,
    component_from,
    propose,
)
from ..models import (
    AssemblyAnswer,
    Component,
    ComponentInspection,
    Contractor,
    ToolStringPart,
    ToolStringRecord,
    WorkOrder,
)
from ..queries.planned_pull import string_case, tool_dimensions, tool_string_of, tools_of
from ..queries.stored import findings_kept, worst_level
from .work_orders import State, day_of


class ToolError(Exception):
    """A tool, a string or an answer cannot be recorded so; the message says why."""


def component_add(
    *,
    contractor: Contractor,
    kind: str,
    mark: str,
    by: str,
    at: datetime,
    description: str = "",
    dimensions: Mapping | None = None,
    rated_lbf: float | None = None,
    in_service_since: date | None = None,
) -> Component:
    """Add a tool to a contractor's catalogue, under the contractor's own mark.

    Raises
    ------
    ToolError
        The kind or a dimension is not known, a figure cannot be, or the mark is taken.
    """
    mark = mark.strip()
    if not mark:
        raise ToolError("Give the tool a mark of your own, and put it on the tool.")
    try:
        component_from(kind, mark, tool_dimensions(dimensions or {}), rated_lbf=rated_lbf)
    except (BadComponent, TypeError) as error:
        raise ToolError(str(error)) from error
    component = Component(
        contractor=contractor,
        kind=kind,
        mark=mark,
        description=description,
        dimensions=dict(dimensions or {}),
        rated_lbf=rated_lbf,
        in_service_since=in_service_since,
    )
    try:
        with transaction.atomic():
            component.save()
    except IntegrityError as error:
        raise ToolError(f"{contractor.name} has a tool marked {mark} already.") from error
    return component


def component_retire(*, component: Component, reason: str, by: str, at: datetime) -> Component:
    """Take a tool out of use for good, with the reason.

    Raises
    ------
    ToolError
        No reason is given, or it was retired already.
    """
    if not reason.strip():
        raise ToolError("Say why the tool is retired.")
    if component.retired_on:
        raise ToolError(f"{component.mark} was retired on {component.retired_on} already.")
    component.retired_on = day_of(at)
    component.retired_reason = f"{reason.strip()} ({by})"[:200]
    component.save(update_fields=["retired_on", "retired_reason"])
    return component


def component_inspect(
    *,
    component: Component,
    inspected_on: date,
    inspected_by: str,
    passed: bool,
    by: str,
    at: datetime,
    findings: Mapping | None = None,
    next_due_on: date | None = None,
) -> ComponentInspection:
    """Record an inspection of a tool.

    Parameters
    ----------
    findings : may hold {"wear": {part: state}, "note": text} and, of a cable, {"rope": fields of
        `RopeInspection`, and diameter_in as measured}

    Raises
    ------
    ToolError
        The day has not come, nobody is named, the next one is due before it, or the cable is
        passed though a criterion retires it.
    """
    if inspected_on > day_of(at):
        raise ToolError(f"The inspection is dated {inspected_on}, which has not come yet.")
    if not inspected_by.strip():
        raise ToolError("Write the name of the person who inspected the tool.")
    if next_due_on and next_due_on <= inspected_on:
        raise ToolError("The next inspection must be due after this one.")
    for part, state in (findings or {}).get("wear", {}).items():
        if state not in set(Wear):
            raise ToolError(f"The wear of {part} is one of {', '.join(Wear)}, not {state!r}.")
    retire = rope_retires(component, (findings or {}).get("rope") or {})
    if retire and passed:
        raise ToolError(f"This cable cannot pass. {retire[0].message} {retire[0].source}.")
    kept = dict(findings or {})
    if retire:
        kept["retire"] = [f"{found.message} {found.source}." for found in retire]
    return ComponentInspection.objects.create(
        component=component,
        inspected_on=inspected_on,
        inspected_by=inspected_by.strip(),
        passed=passed,
        findings=kept,
        next_due_on=next_due_on,
        recorded_by=by,
        recorded_at=at,
    )


def rope_retires(component: Component, seen: Mapping) -> list[Finding]:
    """Return every criterion by which what was seen of a cable retires it.

    Raises
    ------
    ToolError
        A figure cannot be.
    """
    measured = dict(seen)
    nominal = component.dimensions.get("pulling_end_in")
    thinnest = measured.pop("diameter_in", None)
    if thinnest and nominal:
        if thinnest > 1.1 * nominal:
            raise ToolError(f"{thinnest:g} in. is thicker than the cable's {nominal:g} in.")
        measured["diameter_loss"] = max(0.0, 1 - thinnest / nominal)
    try:
        table = rope(component.dimensions.get("construction", ""), nominal or 0)
    except UnknownRope:
        table = None
    try:
        return retirement_findings(RopeInspection(**measured), table)
    except TypeError as error:
        raise ToolError("Of a cable only broken wires, wear, loss and damage are told.") from error


def tool_string_record(
    *,
    work_order: WorkOrder,
    parts: Sequence[tuple[Component, str]],
    by: str,
    at: datetime,
    pulled_end: str = "THICK",
    as_of: date | None = None,
) -> ToolStringRecord:
    """Record the string for an order part by part, check it, and keep what the check found.

    Parameters
    ----------
    parts : (component, orientation) from the pulling side; a blade's orientation is
        FLAT_TO_OLD_PIPE or TAPER_TO_OLD_PIPE, any other's is empty
    as_of : day of the pull, for inspections; the day of `at` when left out

    Raises
    ------
    ToolError
        There is no part, a tool is another contractor's or used twice, or the order is closed.
    """
    parts = list(parts)
    _refuse_parts(work_order, [component for component, _ in parts])
    day = as_of or day_of(at)
    try:
        tools = tools_of([component for component, _ in parts], day)
        facings = [facing or "" for _, facing in parts]
        string = tool_string_of(zip(tools, facings, strict=True), pulled_end)
    except ValueError as error:
        raise ToolError(str(error)) from error
    findings = check_case(string_case(work_order, string, day, _latest_estimate(work_order)))
    with transaction.atomic():
        record = ToolStringRecord.objects.create(
            work_order=work_order,
            pulled_end=pulled_end,
            findings=findings_kept(findings),
            worst_level=worst_level(findings),
            recorded_by=by,
            recorded_at=at,
        )
        ToolStringPart.objects.bulk_create(
            ToolStringPart(
                tool_string=record, position=place, component=component, orientation=facing
            )
            for place, ((component, _), facing) in enumerate(zip(parts, facings, strict=True), 1)
        )
    return record


def _latest_estimate(work_order: WorkOrder):
    return work_order.estimates.order_by("-id").first()


def _refuse_parts(work_order: WorkOrder, components: list[Component]) -> None:
    if not components:
        raise ToolError("A string needs its parts: choose them from the cable to the new pipe.")
    if work_order.state not in (State.PLANNED, State.RELEASED, State.RETURNED):
        raise ToolError(f"{work_order.number} is {work_order.get_state_display()}.")
    for place, component in enumerate(components, start=1):
        if component.contractor_id != work_order.contractor_id:
            raise ToolError(f"Part {place}: the tool is not one of this contractor's.")
        if component in components[: place - 1]:
            raise ToolError(f"Part {place}: {component.mark} is in the string already.")


@dataclass(frozen=True)
class ProposedString:
    """A proposal, and the components it is made of, in order, with their orientation."""

    proposal: Proposal
    parts: tuple[tuple[Component, str], ...]


def tool_string_propose(*, work_order: WorkOrder, as_of: date) -> ProposedString:
    """Return the string that suits the order best from the contractor's tools, or what lacks."""
    components = list(
        Component.objects.filter(contractor_id=work_order.contractor_id, retired_on__isnull=True)
    )
    tools = tools_of(components, as_of)
    case = string_case(work_order, ToolString(), as_of, _latest_estimate(work_order))
    proposal = propose(
        case.old_pipe,
        case.new_pipe,
        tools,
        case.length_ft,
        as_of,
        run_materials=case.run_materials,
        total_force_lbf=case.total_force_lbf,
        drag_lbf=case.drag_lbf,
    )
    by_mark = {component.mark: component for component in components}
    chosen = proposal.tool_string.parts if proposal.tool_string else ()
    return ProposedString(
        proposal,
        tuple((by_mark[part.component.mark], (part.facing or "") and str(part.facing))
              for part in chosen),
    )  # fmt: skip


def assembly_answer(
    *,
    tool_string: ToolStringRecord,
    check_key: str,
    by: str,
    at: datetime,
    passed: bool | None = None,
    measured: float | None = None,
    note: str = "",
) -> AssemblyAnswer:
    """Answer one row of the assembly checklist by name and time; the last answer counts.

    Raises
    ------
    ToolError
        The checklist has no such row, or nothing is answered.
    """
    row = {"check_key": check_key, "passed": passed, "measured": measured, "note": note}
    return assembly_answer_many(tool_string=tool_string, answers=[row], by=by, at=at)[0]


def assembly_answer_many(
    *, tool_string: ToolStringRecord, answers: Iterable[Mapping], by: str, at: datetime
) -> list[AssemblyAnswer]:
    """Answer rows of the checklist: dicts of check_key and passed, measured or note.

    Raises
    ------
    ToolError
        As `assembly_answer`; then none is kept.
    """
    known = {check.check: check for check in checks_for()}
    rows = []
    for answer in answers:
        key, passed, measured = (answer.get(n) for n in ("check_key", "passed", "measured"))
        if key not in known:
            raise ToolError(f"The checklist has no row {key!r}.")
        if passed is None and measured is None:
            raise ToolError(f"{known[key].label}: answer it, or leave the row out.")
        if measured is not None and not 0 <= measured < 100_000:
            raise ToolError(f"{known[key].label}: {measured:g} {known[key].unit} cannot be.")
        rows.append(
            AssemblyAnswer(
                tool_string=tool_string,
                check_key=key,
                passed=passed,
                measured=measured,
                note=str(answer.get("note") or "")[:200],
                answered_by=by,
                answered_at=at,
            )
        )
    return AssemblyAnswer.objects.bulk_create(rows)


def facing_default(kind: str) -> str:
    """Return how a tool of a kind is turned when nobody says otherwise."""
    return Facing.FLAT_TO_OLD_PIPE.value if kind == Kind.BLADE else ""
