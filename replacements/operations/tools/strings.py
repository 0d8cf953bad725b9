"""The string put together for one pull: proposed, recorded, checked."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from ...domain.tool_strings import Proposal, ToolString, check_case, propose
from ...models import Component, ToolStringPart, ToolStringRecord, WorkOrder
from ...queries.planned_pull import string_case, tool_string_of, tools_of
from ...queries.stored import findings_kept, worst_level
from ..work_orders import State, day_of
from .errors import ToolError


def tool_string_record(
    *,
    work_order: WorkOrder,
    parts: Sequence[tuple[Component, str]],
    by: str,
    at: datetime,
    pulled_end: str = "UNKNOWN",
    as_of: date | None = None,
) -> ToolStringRecord:
    """Record the string for an order part by part, check it, and keep what the check found.

    Parameters
    ----------
    parts : (component, orientation) from the pulling side; a blade's orientation is
        FLAT_TO_OLD_PIPE or TAPER_TO_OLD_PIPE, any other's is empty
    pulled_end : THICK or THIN, as somebody saw it in the puller; not said is a stop
    as_of : day of the pull, for inspections; the day of `at` when left out

    Raises
    ------
    ToolError: there is no part, a tool is another contractor's, used twice or out of use after an
        overload, or the order is closed.
    """
    parts = list(parts)
    _refuse_parts(work_order, [component for component, _ in parts])
    day = as_of or day_of(at)
    try:
        tools = tools_of([component for component, _ in parts], day)
        _refuse_overloaded(tools)
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


def _refuse_overloaded(tools) -> None:
    said = [f"{tool.label}: {o.told}." for tool in tools for o in tool.overloads[-1:]]
    if said:
        raise ToolError(
            f"{' '.join(said)} Out of use until a competent person has inspected it; record that "
            "inspection on the tool's page, or take another."
        )


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
    """A proposal, and the components it is made of, in order.

    How each is turned nobody has seen yet, so that it is not among them.
    """

    proposal: Proposal
    parts: tuple[Component, ...]


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
        method=case.method,
        run_materials=case.run_materials,
        total_force_lbf=case.total_force_lbf,
        drag_lbf=case.drag_lbf,
    )
    by_mark = {component.mark: component for component in components}
    chosen = proposal.tool_string.parts if proposal.tool_string else ()
    return ProposedString(
        proposal,
        tuple(by_mark[part.component.mark] for part in chosen),
    )
