"""The inputs of an estimate: gathered from an order and its string, kept, and read back."""

import math
from collections.abc import Iterable, Mapping
from datetime import date

from ..domain import pipes
from ..domain.methods import Method
from ..domain.pull_force import (
    MORE_LIMITS,
    Bend,
    Bore,
    Condition,
    DragLimit,
    Joint,
    JointKind,
    Limit,
    ParameterSet,
    PullCase,
    RigidString,
    anchor_capacity_lbf,
    shipped_parameters,
    soil,
)
from ..domain.pull_force.model import SOIL_STRENGTH
from ..domain.tool_strings import CableEnd, Kind, Need, StringCase, ToolString, parts_of, strength
from ..models import ForceEstimateRecord, WorkOrder
from .ground import conditions_of
from .planned_pull import (
    EMPTY,
    PIPE_STATE,
    assumed_of,
    bends_of,
    groundwater_counted,
    joints_of,
    old_pipe_counted,
    planned_expander_in,
    string_case,
)
from .stored import plain


def limits_of(case: StringCase, anchor_lbf: float | None) -> dict[str, float | None]:
    """Return the allowable load of each part that carries the total; None where unrated.

    A part that this string does not have carries nothing and limits nothing.
    """
    rated = _rated(strength(case).total)
    present = {part.component.kind.value for part in case.tool_string.parts}
    needed = {need.kind.value for need in parts_of()[case.method] if need.need is Need.REQUIRED}
    counted = present | (needed & _NEVER_ABSENT) | {Limit.PULLER.value}
    limits = {
        limit: rated.get(limit) if limit in counted else math.inf
        for limit in (*(limit.value for limit in Limit), *MORE_LIMITS)
        if limit != Kind.ROD or limit in counted
    }
    limits[Limit.ANCHOR.value] = anchor_lbf
    return limits


def drag_limits_of(case: StringCase) -> dict[str, float | None]:
    """Return what each part at the new pipe bears, beside the pipe; None where unrated.

    A link or a pipe puller that the string does not have is not among them.
    """
    rated = _rated(strength(case).drag)
    present = {part.component.kind.value for part in case.tool_string.parts}
    return {limit.value: rated.get(limit.value) for limit in DragLimit if limit.value in present}


def _rated(limits) -> dict[str, float]:
    """Return the lowest limit of each kind of part."""
    found: dict[str, float] = {}
    for limit in limits:
        found[limit.kind] = min(limit.limit_lbf, found.get(limit.kind, math.inf))
    return found


_NEVER_ABSENT = {kind.value for kind in (Kind.CABLE, Kind.ROD, Kind.JAW_SET)}


def case_kept(
    order: WorkOrder,
    string: ToolString,
    as_of: date,
    anchor_lbf,
    conditions: Iterable[str] = (),
    pipe_state: Mapping = EMPTY,
    measured: Mapping = EMPTY,
) -> dict:
    """Return the inputs of an estimate as the record keeps them; `case_back` reads them.

    measured : values of parameters measured for this pull, by code; SOIL_STRENGTH among them, and
        the radius of a bend by its `bend_code`
    """
    case = string_case(order, string, as_of, pipe_state=pipe_state)
    old, new = old_pipe_counted(order), case.new_pipe
    kinds = {part.component.kind for part in string.parts}
    return {
        "method": case.method.value,
        "old_pipe": [old.inside_in, old.outside_in, old.material, old.label],
        "new_pipe": [new.inside_in, new.outside_in, new.material, new.label],
        "new_weight_lb_ft": new.weight_lb_per_ft,
        "expander_in": case.expander_in or planned_expander_in(case),
        "length_ft": order.length_ft,
        "cover_ft": order.cover_ft,
        "soil": order.soil,
        "bends": [_bend_kept(bend, measured) for bend in bends_of(order)],
        **_bending(case),
        "joints": [[joint.station_ft, joint.kind.value] for joint in joints_of(order)],
        "groundwater": groundwater_counted(order),
        "spacer": not kinds or Kind.SPACER in kinds or case.method is Method.PULL_OUT,
        "limits_lbf": kept_limits(limits_of(case, anchor_lbf)),
        "drag_limits_lbf": drag_limits_of(case),
        "pipe_allowable_lbf": case.allowed_lbf,
        "temperature_f": case.counted_temperature_f if new.material != "COPPER" else None,
        "resin": case.counted_resin if new.material == "PE" else "",
        "grip_efficiency": _grip_efficiency(case),
        "minutes": case.minutes,
        "assumed": sorted(assumed_of(order) | _assumed_of_gear(case, kinds)),
        "measured": dict(measured),
        "snaking_deg_per_10_ft": order.snaking_deg_per_10_ft or 0.0,
        "conditions": sorted({*conditions, *_string_conditions(string)}),
    }  # fmt: skip


def changed_since(
    made: ForceEstimateRecord, order: WorkOrder, string: ToolString, as_of: date
) -> list[str]:
    """Return in words which inputs of an estimate are other on a day than when it was made."""
    given = made.case.get("given", {})
    state = {name: given[name] for name in PIPE_STATE if given.get(name)}
    try:
        known = conditions_of(order, as_of)
        measured = made.case.get("measured", {})
        now = case_kept(order, string, as_of, anchor_lbf_of(given), known, state, measured)
    except (pipes.PipeError, ValueError) as error:
        return [str(error)]
    names = [
        name
        for name, value in plain(now).items()
        if _counted(name, made.case.get(name)) != _counted(name, value)
    ]
    return list(dict.fromkeys(_IN_WORDS.get(name, name.replace("_", " ")) for name in names))


def _counted(name: str, value):
    """Return what of an input counts: of a pipe its figures, not the words for it."""
    if name in ("old_pipe", "new_pipe") and isinstance(value, list):
        return [part for part in value if not isinstance(part, str)]
    return value


_IN_WORDS = {
    "assumed": "what nobody measured",
    "new_weight_lb_ft": "new pipe",
    "expander_in": "expander",
    "length_ft": "length",
    "cover_ft": "cover",
    "limits_lbf": "ratings of the parts",
    "pipe_allowable_lbf": "what the new pipe may bear",
    "grip_efficiency": "grip of the new pipe",
    "snaking_deg_per_10_ft": "waves of the line",
    "conditions": "ground and other lines",
    "drag_limits_lbf": "break-away link or pipe puller",
    "rigid": "lengths of the string",
    "bend_limit_in": "new pipe",
    "bend_source": "new pipe",
}


def anchor_lbf_of(given: Mapping) -> float | None:
    """Return what the anchor may bear as it was given, or by its plate and the ground."""
    area, psf = given.get("plate_area_ft2"), given.get("soil_psf")
    return anchor_capacity_lbf(area, psf) if area and psf else given.get("anchor_lbf")


def bend_code(station_ft: float) -> str:
    """Return under which name the radius of a bend is measured for an estimate."""
    return f"BEND_{station_ft:g}"


def _bend_kept(bend: Bend, measured: Mapping) -> list:
    return [bend.station_ft, bend.degrees, bend.radius_in or measured.get(bend_code(bend[0]))]


def _bending(case: StringCase) -> dict:
    """Return what decides whether string and new pipe pass a bend."""
    string, blade = case.tool_string, case.first(Kind.BLADE)
    known = blade and blade.length_in and blade.pilot_in and string.rigid_in
    least = pipes.least_bend_radius(case.new_pipe)
    return {
        "rigid": [blade.length_in, string.rigid_in, blade.pilot_in] if known else None,
        "bend_limit_in": least.radius_in,
        "bend_source": least.source,
    }


def _assumed_of_gear(case: StringCase, kinds: set) -> set[str]:
    """Return what of the string and the new pipe was assumed; PE's resin is printed on it."""
    found = set() if kinds else {"expander_in"}
    if Kind.CABLE in kinds and case.tool_string.pulled_end is CableEnd.UNKNOWN:
        found.add("pulled_end")
    return found | set(case.unread)


def _string_conditions(string: ToolString) -> set[str]:
    return {Condition.THIN_END_PULLED.value} if string.pulled_end is CableEnd.THIN else set()


def _grip_efficiency(case: StringCase) -> float | None:
    puller = case.first(Kind.PIPE_PULLER)
    if puller is None or not puller.grip:
        return None
    try:
        return pipes.grip_efficiency(puller.grip) or None
    except pipes.UnknownPipe:
        return None


def case_back(kept: dict, constants: ParameterSet | None = None) -> PullCase:
    """Return the pull that kept inputs describe, by the shipped constants or those given.

    Raises
    ------
    ValueError: an input cannot be; the sentence says which.
    """
    old, new = kept["old_pipe"], kept["new_pipe"]
    return PullCase(
        method=Method(kept.get("method", Method.SPLIT)),
        old_pipe=Bore(old[0], old[1]),
        new_pipe=Bore(new[0], new[1]),
        old_material=old[2],
        pipe_weight_lb_ft=kept["new_weight_lb_ft"],
        limits_lbf={name: _unkept(value) for name, value in kept["limits_lbf"].items()},
        drag_limits_lbf=kept.get("drag_limits_lbf", {}),
        bends=tuple(Bend(*bend) for bend in kept["bends"]),
        rigid=RigidString(*kept["rigid"]) if kept.get("rigid") else None,
        bend_limit_in=kept.get("bend_limit_in"),
        bend_source=kept.get("bend_source", ""),
        soil=_soil_back(kept),
        values={c: v for c, v in kept.get("measured", {}).items() if c in shipped_parameters()},
        joints=tuple(Joint(at, kind=JointKind(kind)) for at, kind in kept["joints"]),
        assumed=frozenset(kept["assumed"]),
        conditions=frozenset(Condition(c) for c in kept["conditions"]),
        snaking_deg_per_10_ft=kept.get("snaking_deg_per_10_ft", 0.0),
        constants=constants or ParameterSet(),
        **{name: kept[name] for name in _AS_THEY_ARE},
    )


_NOT_IN_STRING = "not in this string"
_AS_THEY_ARE = (
    "expander_in length_ft cover_ft groundwater spacer pipe_allowable_lbf grip_efficiency minutes"
).split()


def _soil_back(kept: dict):
    strength_psf = kept.get("measured", {}).get(SOIL_STRENGTH)
    return soil(kept["soil"]).measured(strength_psf) if strength_psf else kept["soil"]


def _unkept(value):
    return math.inf if value == _NOT_IN_STRING else value


def kept_limits(limits: dict) -> dict:
    """Return limits as JSON can hold them: a part that is not in the string says so."""
    return {name: _NOT_IN_STRING if value == math.inf else value for name, value in limits.items()}
