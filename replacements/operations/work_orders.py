"""Work orders: made from a line, released to a contractor, changed, called off."""

from datetime import date, datetime
from uuid import uuid4

from django.db import IntegrityError, transaction
from django.utils import timezone

from services_inventory.domain.materials import Material
from services_inventory.models import ServiceLine
from services_inventory.refused import Refused

from ..domain.ground import GroundCondition, Surface
from ..domain.methods import Method
from ..domain.pipes import NEW_PIPE_MATERIALS, PipeError
from ..domain.pull_force import JointKind, soils
from ..models import Contractor, WorkOrder, WorkOrderChange
from ..queries.planned_pull import bends_of, joints_of, new_pipe_of, old_pipe_of
from ..queries.readiness import order_blocks

State = WorkOrder.State

PARTICULARS = frozenset(
    "package crew method old_material old_nominal_in old_grade old_outside_in new_material "
    "new_nominal_in new_grade length_ft cover_ft soil groundwater bends joints "
    "snaking_deg_per_10_ft surfaces ground_conditions required_cover_ft frozen_to_ft "
    "other_lines_looked_for_on due_on note".split()
)


MAY_BE_UNKNOWN = frozenset(
    "package crew old_nominal_in old_outside_in length_ft cover_ft groundwater due_on "
    "snaking_deg_per_10_ft required_cover_ft frozen_to_ft other_lines_looked_for_on".split()
)


class WorkOrderError(Refused):
    """The order cannot be made, released or changed so; the message says why and what to do."""


class ReleaseBlocked(WorkOrderError):
    """Something of the contractor's is not in order; `sentences` says who must do what."""

    def __init__(self, sentences: list[str]):
        self.sentences = sentences
        super().__init__(" ".join(sentences))


def day_of(at: datetime) -> date:
    """Return the local day of a moment."""
    return timezone.localdate(at)


def change_append(
    order: WorkOrder, from_state: str, to_state: str, by: str, at: datetime, reason: str = ""
) -> WorkOrderChange:
    """Return the (unsaved) row that tells what happened to an order."""
    return WorkOrderChange(
        work_order=order,
        from_state=from_state,
        to_state=to_state,
        reason=reason,
        changed_by=by,
        changed_at=at,
    )


def work_order_create(
    *, line: ServiceLine, contractor: Contractor, by: str, at: datetime, **particulars
) -> WorkOrder:
    """Make an order to replace a line; what is not given follows from the line.

    Parameters
    ----------
    particulars : any of PARTICULARS; bends are {station_ft, degrees}, joints {station_ft, kind}

    Raises
    ------
    WorkOrderError: the line has an open order or is non-lead, or a particular cannot be.
    """
    _refuse_line(line)
    values = {**defaults_for(line), **_checked(particulars)}
    order = WorkOrder(
        line=line,
        contractor=contractor,
        number=f"new-{uuid4().hex[:12]}",
        created_by=by,
        created_at=at,
        **values,
    )
    _refuse_order(order)
    try:
        with transaction.atomic():
            order.save()
            order.number = f"W-{order.pk:06d}"
            order.save(update_fields=["number"])
            change_append(order, "", order.state, by, at).save()
    except IntegrityError as error:
        raise WorkOrderError(_open_sentence(line) or _IMPOSSIBLE) from error
    return order


_IMPOSSIBLE = "The order was not kept: one of its values is outside what can be stored."


def defaults_for(line: ServiceLine) -> dict:
    """Return what an order takes over from the line: old material, its size, the method."""
    sides = {
        line.system_material: line.system_nominal_in,
        line.customer_material: line.customer_nominal_in,
    }
    lead = [m for m in sides if Material(m).is_lead]
    galvanized = [m for m in sides if Material(m).is_galvanized]
    old = (lead or galvanized or ["LEAD"])[0]
    size = sides.get(old) or line.system_nominal_in or line.customer_nominal_in
    lined = old == Material.LEAD_LINED_GALVANIZED
    old = "GALVANIZED" if lined else old
    return {
        "old_material": old,
        "old_nominal_in": size,
        "method": Method.SPLIT.value if old == "LEAD" else Method.OPEN_CUT.value,
    }


def _refuse_line(line: ServiceLine) -> None:
    sentence = _open_sentence(line)
    if sentence:
        raise WorkOrderError(sentence)
    if line.category == "NON_LEAD":
        raise WorkOrderError(
            f"{line.location_id} is non-lead; there is nothing to replace. If that is wrong, "
            "record the evidence first."
        )


def _open_sentence(line: ServiceLine) -> str:
    found = (
        WorkOrder.objects.filter(line=line, state__in=WorkOrder.OPEN_STATES)
        .values_list("number", "state", "contractor__name")
        .first()
    )
    if not found:
        return ""
    number, state, company = found
    return (
        f"{line.location_id} has an open order, {number} ({State(state).label}, {company}). "
        "Finish it or call it off first."
    )


def _checked(particulars: dict, may_clear: frozenset[str] = frozenset()) -> dict:
    strange = sorted(set(particulars) - PARTICULARS)
    if strange:
        raise WorkOrderError(f"An order has no {', '.join(strange)}.")
    return {
        name: value for name, value in particulars.items() if value is not None or name in may_clear
    }


def _refuse_order(order: WorkOrder) -> None:
    """Refuse what cannot be before it is stored; an order may still lack what nobody knows yet."""
    for name, most in _MOST.items():
        value = getattr(order, name)
        if value is not None and not 0 < value <= most:
            what, unit = name.rsplit("_", 1)
            raise WorkOrderError(
                f"The {what.replace('_', ' ')} must be above zero and at most {most:,} {unit}, not "
                f"{value:g}; was it given in another unit?"
            )
    _refuse_ground(order)
    if order.soil and order.soil not in soils():
        raise WorkOrderError(f"There is no soil {order.soil!r}; there are {', '.join(soils())}.")
    if order.method not in set(Method):
        raise WorkOrderError(f"There is no method {order.method!r}; choose {', '.join(Method)}.")
    if order.new_material not in NEW_PIPE_MATERIALS:
        raise WorkOrderError(f"A new pipe is one of {', '.join(NEW_PIPE_MATERIALS)}.")
    _refuse_company(order)
    _refuse_geometry(order)


# More than a service line has: such a figure was given in another unit.
_MOST = {
    "length_ft": 1000,
    "cover_ft": 40,
    "old_nominal_in": 6,
    "old_outside_in": 6,
    "new_nominal_in": 10_000,
    "required_cover_ft": 20,
}


def _refuse_ground(order: WorkOrder) -> None:
    for what, given, known in (
        ("surface", order.surfaces, Surface),
        ("condition of the ground", order.ground_conditions, GroundCondition),
    ):
        strange = sorted(set(given) - set(known))
        if strange:
            raise WorkOrderError(f"There is no {what} {strange[0]!r}; choose {', '.join(known)}.")
    if order.frozen_to_ft is not None and not 0 <= order.frozen_to_ft < 30:
        raise WorkOrderError(f"Frost to {order.frozen_to_ft:g} ft cannot be; give its depth in ft.")
    if not 0 <= (order.snaking_deg_per_10_ft or 0) <= 90:
        raise WorkOrderError("A wavy line bends 0 to 90 degrees in every 10 ft.")


def _refuse_company(order: WorkOrder) -> None:
    for name in ("package", "crew"):
        thing = getattr(order, name)
        if thing is not None and thing.contractor_id != order.contractor_id:
            raise WorkOrderError(f"The {name} {thing} is not of {order.contractor.name}.")


def _refuse_geometry(order: WorkOrder) -> None:
    try:
        old_pipe_of(order), new_pipe_of(order)
        bends, joints = bends_of(order), joints_of(order)
    except (PipeError, ValueError, KeyError, TypeError) as error:
        raise WorkOrderError(f"{_said(error)}") from error
    for what, stations in (
        ("bend", [bend.station_ft for bend in bends]),
        ("joint", [joint.station_ft for joint in joints]),
    ):
        for station in stations:
            if station < 0 or (order.length_ft and station > order.length_ft):
                raise WorkOrderError(
                    f"The {what} at {station:g} ft lies outside the line of "
                    f"{order.length_ft or 0:g} ft."
                )


def _said(error: Exception) -> str:
    if isinstance(error, PipeError | ValueError):
        return str(error)
    kinds = ", ".join(JointKind)
    return f"A bend needs station_ft and degrees, a joint station_ft and kind ({kinds})."


def work_order_release(*, work_order: WorkOrder, by: str, at: datetime) -> WorkOrder:
    """Hand an order to its contractor.

    Raises
    ------
    ReleaseBlocked: a certificate or the pipe's papers are missing or have run out.
    WorkOrderError: the order is not waiting for its release.
    """
    with transaction.atomic():
        order = locked(work_order)
        if order.state != State.PLANNED:
            raise WorkOrderError(f"{order.number} is {order.get_state_display()} already.")
        blocked = order_blocks(order, day_of(at))
        if blocked:
            raise ReleaseBlocked(blocked)
        _move(order, State.RELEASED, by, at, released_at=at)
    return _told(work_order, order)


def work_order_call_off(*, work_order: WorkOrder, by: str, at: datetime, reason: str) -> WorkOrder:
    """End an order without the work, with a reason; the line is free for another order.

    Raises
    ------
    WorkOrderError: no reason is given, or the order is finished.
    """
    if not reason.strip():
        raise WorkOrderError("Say why the order is called off.")
    with transaction.atomic():
        order = locked(work_order)
        if order.state not in WorkOrder.OPEN_STATES:
            raise WorkOrderError(f"{order.number} is {order.get_state_display()} already.")
        if order.state == State.HANDED_IN:
            raise WorkOrderError(f"{order.number} is handed in; accept or return its record first.")
        _move(order, State.CALLED_OFF, by, at, reason=reason.strip())
    return _told(work_order, order)


def work_order_change(
    *, work_order: WorkOrder, by: str, at: datetime, reason: str = "", **particulars
) -> WorkOrder:
    """Correct an open order, such as its length or a bend found later; None: not known after all.

    Raises
    ------
    WorkOrderError: the order is finished or waits for review, or a value cannot be.
    """
    values = _checked(particulars, MAY_BE_UNKNOWN)
    with transaction.atomic():
        order = locked(work_order)
        if order.state not in (State.PLANNED, State.RELEASED, State.RETURNED):
            raise WorkOrderError(f"{order.number} is {order.get_state_display()}; it stays so.")
        before = {name: getattr(order, name) for name in values}
        for name, value in values.items():
            setattr(order, name, value)
        _refuse_order(order)
        changed = [f"{n}: {before[n]} -> {values[n]}" for n in values if before[n] != values[n]]
        if changed:
            order.save(update_fields=list(values))
            told = "; ".join(filter(None, [reason.strip(), *changed]))
            change_append(order, order.state, order.state, by, at, told).save()
    return _told(work_order, order)


def locked(work_order: WorkOrder) -> WorkOrder:
    """Return the order as it stands now, held for this transaction."""
    return (
        WorkOrder.objects.select_for_update(of=("self",))
        .select_related("contractor", "line")
        .get(pk=work_order.pk)
    )


def _move(order: WorkOrder, state: str, by: str, at: datetime, reason: str = "", **more) -> None:
    row = change_append(order, order.state, state, by, at, reason)
    order.state = state
    for name, value in more.items():
        setattr(order, name, value)
    order.save(update_fields=["state", *more])
    row.save()


def _told(given: WorkOrder, order: WorkOrder) -> WorkOrder:
    """Let the caller's own object know what became of the order."""
    for name in ("state", "released_at", "safety", *PARTICULARS):
        setattr(given, name, getattr(order, name))
    return given
