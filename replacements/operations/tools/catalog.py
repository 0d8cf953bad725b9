"""The contractor's own tools: added, corrected, shown, inspected, retired, put back."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import IntegrityError, transaction

from services_inventory.domain.days import day_told
from services_inventory.models import Document

from ...domain.findings import Finding
from ...domain.pipes import grip_codes
from ...domain.ropes import (
    RopeInspection,
    UnknownRope,
    constructions,
    retirement_findings,
    rope,
    termination_codes,
)
from ...domain.tool_strings import BadComponent, Wear, component_from
from ...models import Component, ComponentChange, ComponentInspection, Contractor, ToolSet
from ...queries.planned_pull import tool_dimensions, tools_of
from ...queries.stored import plain
from ...queries.tool_life import pulls_with
from ..work_orders import day_of
from .errors import ToolError

OTHER = "OTHER"  # a part that no table lists: its rating counts once its paper was read twice
LISTED = {
    "construction": constructions,
    "termination": termination_codes,
    "grip": grip_codes,
    "fits_new_types": lambda: {"CTS": "CTS", "IPS": "IPS", "COPPER": "copper"},
}


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
    tool_set: ToolSet | None = None,
) -> Component:
    """Add a tool to a contractor's catalog, under the contractor's own mark.

    Raises
    ------
    ToolError: the kind or a dimension is not known, a part that tables list is none of theirs, a
        figure cannot be, the set is another company's, or the mark is taken.
    """
    mark = mark.strip()
    if not mark:
        raise ToolError("Give the tool a mark of your own, and put it on the tool.")
    _refuse_figures(kind, mark, dimensions, rated_lbf)
    _refuse_set(contractor.pk, tool_set)
    component = Component(
        tool_set=tool_set,
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


def component_correct(
    *, component: Component, by: str, at: datetime, reason: str, **told
) -> ComponentChange:
    """Correct what the catalog says of a tool; strings checked before keep their findings.

    Parameters
    ----------
    told : any of description, dimensions, rated_lbf, in_service_since, tool_set

    Raises
    ------
    ToolError: no reason is given, nothing changes, the tool is retired, or a figure cannot be.
    """
    if not reason.strip():
        raise ToolError("Say why the entry is corrected.")
    if component.retired_on:
        raise ToolError(
            f"{component.mark} was retired on {day_told(component.retired_on)}; it stays so."
        )
    after = {name: told.get(name, getattr(component, name)) for name in _CORRECTED}
    before = {name: getattr(component, name) for name in _CORRECTED}
    if after == before:
        raise ToolError("Nothing is different from what stands in the catalog.")
    _refuse_figures(component.kind, component.mark, after["dimensions"], after["rated_lbf"])
    _refuse_set(component.contractor_id, after["tool_set"])
    return _change(component, after, reason.strip(), by, at)


_CORRECTED = ("description", "dimensions", "rated_lbf", "in_service_since", "tool_set")


def _refuse_set(contractor_id: int, tool_set: ToolSet | None) -> None:
    if tool_set is not None and tool_set.contractor_id != contractor_id:
        raise ToolError("That tool set is another company's.")


def _refuse_figures(kind: str, mark: str, dimensions: Mapping | None, rated_lbf) -> None:
    try:
        component_from(kind, mark, tool_dimensions(dimensions or {}), rated_lbf=rated_lbf)
    except (BadComponent, TypeError) as error:
        raise ToolError(str(error)) from error
    for name, known in LISTED.items():
        said = (dimensions or {}).get(name)
        said = [said] if isinstance(said, str) else said or []
        strange = [code for code in said if code and code not in {*known(), OTHER}]
        if strange:
            raise ToolError(
                f"{mark}: {strange[0]!r} is none of the {name.replace('_', ' ')} that the tables "
                f"list: {', '.join(known())}; or {OTHER}, with its paper."
            )


def component_retire(*, component: Component, reason: str, by: str, at: datetime) -> Component:
    """Take a tool out of use, with the reason.

    Raises
    ------
    ToolError: no reason is given, or it was retired already.
    """
    if not reason.strip():
        raise ToolError("Say why the tool is retired.")
    if component.retired_on:
        raise ToolError(
            f"{component.mark} was retired on {day_told(component.retired_on)} already."
        )
    retired = {"retired_on": day_of(at), "retired_reason": f"{reason.strip()} ({by})"[:200]}
    _change(component, retired, f"Retired: {reason.strip()}", by, at)
    return component


def component_put_back(*, component: Component, reason: str, by: str, at: datetime) -> Component:
    """Put a tool that was retired by mistake back into use, with the reason; both stay told.

    Raises
    ------
    ToolError: no reason is given, or it is not retired.
    """
    if not reason.strip():
        raise ToolError("Say why the tool is put back into use.")
    if not component.retired_on:
        raise ToolError(f"{component.mark} is not retired.")
    back = {"retired_on": None, "retired_reason": ""}
    _change(component, back, f"Put back into use: {reason.strip()}", by, at)
    return component


def component_show(*, component: Component, photo: Document, by: str, at: datetime) -> Component:
    """Keep a photo of a tool; the one before stays among its documents.

    Raises
    ------
    ToolError: the file is no picture.
    """
    if photo.content_type != "image/jpeg":
        raise ToolError(f"{photo.name} is no picture: take a photo of the tool.")
    _change(component, {"photo": photo}, "A photo was taken", by, at)
    return component


def _change(
    component: Component, after: Mapping, reason: str, by: str, at: datetime
) -> ComponentChange:
    """Set what is kept of a tool, and tell it in a row."""
    before = {name: getattr(component, name) for name in after}
    for name, value in after.items():
        setattr(component, name, value)
    with transaction.atomic():
        component.save(update_fields=list(after))
        return ComponentChange.objects.create(
            component=component,
            before=_told(before),
            after=_told(after),
            reason=reason[:200],
            changed_by=by,
            changed_at=at,
        )


def _told(kept: Mapping) -> dict:
    """Return what is kept as JSON holds it: a tool set by its name, a document by its digest."""
    named = {ToolSet: lambda each: each.name, Document: lambda each: each.sha256}
    return plain({key: named.get(type(each), plain)(each) for key, each in kept.items()})


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
    looked_at: str = "",
    by_competent_person: bool = False,
) -> ComponentInspection:
    """Record an inspection of a tool; after an overload only a competent person can pass it.

    Parameters
    ----------
    findings : may hold {"wear": {part: state}, "note": text} and, of a cable, {"rope": fields of
        `RopeInspection`, and diameter_in as measured}

    Raises
    ------
    ToolError: the day has not come, nobody is named, the next one is due before it, or the cable is
        passed though a criterion retires it, or a tool is passed after an overload by nobody
        competent or without what was looked at.
    """
    if inspected_on > day_of(at):
        raise ToolError(
            f"The inspection is dated {day_told(inspected_on)}, which has not come yet."
        )
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
    if passed:
        _refuse_after_overload(component, inspected_on, looked_at, by_competent_person)
    kept = dict(findings or {})
    if retire:
        kept["retire"] = [f"{found.message} {found.source}." for found in retire]
    return ComponentInspection.objects.create(
        component=component,
        inspected_on=inspected_on,
        inspected_by=inspected_by.strip(),
        by_competent_person=by_competent_person,
        looked_at=looked_at.strip()[:300],
        passed=passed,
        findings=kept,
        next_due_on=next_due_on,
        recorded_by=by,
        recorded_at=at,
    )


def _refuse_after_overload(
    component: Component, inspected_on: date, looked_at: str, competent: bool
) -> None:
    if not pulls_with([component.pk]).exists():
        return
    overloads = tools_of([component])[0].overloads
    if not overloads:
        return
    said = f"{component.mark} is out of use: {overloads[-1].told}."
    if not competent:
        raise ToolError(f"{said} Only a competent person can pass it; say so if you are one.")
    if not looked_at.strip():
        raise ToolError(f"{said} Write what was looked at, such as every face of the jaws.")
    if inspected_on < overloads[-1].day:
        raise ToolError(f"{said} An inspection of {day_told(inspected_on)} was before that.")


def rope_retires(component: Component, seen: Mapping) -> list[Finding]:
    """Return every criterion by which what was seen of a cable retires it.

    Raises
    ------
    ToolError: a figure cannot be.
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
