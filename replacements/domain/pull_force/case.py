"""A pull as it is planned: the two pipes, the run, the ground, the gear, and what is known."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import NamedTuple, Protocol

from replacements.domain.methods import PULLED, Method
from replacements.domain.pull_force.assumed import ASSUMED
from replacements.domain.pull_force.parameters import ParameterSet
from replacements.domain.pull_force.soils import Soil, SoilFamily, soil
from services_inventory.domain.labels import Labeled


class PipeSize(Protocol):
    """Anything with a bore and an outside diameter, in."""

    inside_in: float
    outside_in: float


@dataclass(frozen=True)
class Bore:
    """A pipe measured in the pit: bore and outside diameter, in."""

    inside_in: float
    outside_in: float


class Bend(NamedTuple):
    """A bend of the old pipe, at its distance from the pit where the new pipe enters.

    radius_in : of its center line, in.; None where nobody measured it
    """

    station_ft: float
    degrees: float
    radius_in: float | None = None


@dataclass(frozen=True)
class RigidString:
    """What of a tool string cannot bend, in.

    nose_in : the blade alone, one piece of steel
    length_in : from the blade to the end of the expander
    pilot_in : diameter of what runs in the old bore
    """

    nose_in: float
    length_in: float
    pilot_in: float


class JointKind(Labeled):
    """What joins the old pipe; only a WIPED joint can be cut by a lead blade."""

    WIPED = "WIPED"
    BRASS = "BRASS"
    STEEL = "STEEL"
    CLAMP = "CLAMP"
    CURB_STOP = "CURB_STOP"

    @property
    def cuttable(self) -> bool:
        return self is JointKind.WIPED


@dataclass(frozen=True)
class Joint:
    """A joint left in the run; wall and strength default to the parameters for wiped joints."""

    station_ft: float
    wall_in: float | None = None
    strength_psi: float | None = None
    kind: JointKind = JointKind.WIPED


class Limit(StrEnum):
    """A part that carries the total force; each needs an allowable load before a pull."""

    CABLE = "CABLE"
    JAW_SET = "JAW_SET"
    CLEVIS = "CLEVIS"
    SWIVEL = "SWIVEL"
    PULLER = "PULLER"
    ANCHOR = "ANCHOR"


# Parts that carry the total, too, but that not every caller lists.
MORE_LIMITS = ("EXPANDER", "ROD")


class DragLimit(StrEnum):
    """A part of the string that carries the drag behind the expander, beside the new pipe."""

    BREAKAWAY_LINK = "BREAKAWAY_LINK"
    PIPE_PULLER = "PIPE_PULLER"


class Condition(StrEnum):
    """Something known of the job that forbids the pull or asks for a decision."""

    FROZEN_GROUND = "FROZEN_GROUND"
    ROCK = "ROCK"
    FLOWABLE_FILL = "FLOWABLE_FILL"
    CONCRETE = "CONCRETE"
    THIN_END_PULLED = "THIN_END_PULLED"
    STRING_DOES_NOT_FIT = "STRING_DOES_NOT_FIT"
    UNVERIFIED_CROSSING = "UNVERIFIED_CROSSING"
    OTHER_LINES_UNKNOWN = "OTHER_LINES_UNKNOWN"
    CABLE_HISTORY_UNKNOWN = "CABLE_HISTORY_UNKNOWN"


@dataclass(frozen=True)
class PullCase:
    """Everything one estimate is made from.

    old_pipe, new_pipe : PipeSize
    expander_in : greatest diameter of the expander, in
    method : how it is pulled: SPLIT and ROD_SPLIT slit the old pipe, PULL_OUT draws it out whole
    length_ft : run of the old pipe that is slit or drawn out, ft
    cover_ft : ground over the pipe, ft
    soil : code of a soil class, or a Soil with measured values
    bends, joints : in the old pipe, at stations from the pit where the new pipe enters
    snaking_deg_per_10_ft : bend spread along a wavy line
    groundwater : the water table is above the pipe
    spacer : a spacer parts the blade from the expander
    edges : cutting edges of the blade, 1 or 2
    old_material : the old pipe's own where it knows it, else LEAD; only LEAD can be slit
    limits_lbf : allowable load of each part that carries the total force, by Limit; EXPANDER may
        be among them
    drag_limits_lbf : what each part at the new pipe bears, by DragLimit; a break-away link at the
        force where it parts, None where it is fitted and unrated
    pipe_allowable_lbf : allowable pull of the new pipe for `minutes`, before the grip
    grip_efficiency : part of that which the grip leaves
    pipe_weight_lb_ft : the new pipe's own where it knows it
    rigid : what of the string cannot bend, None where it is not known
    bend_limit_in, bend_source : least radius to which the new pipe may be bent, and its source
    depth_table : take the drag from the published table of depths instead of from the arch: an
        upper bound to compare with, read to 20 diameters of depth and used beyond
    assumed : names of inputs, or of ASSUMED, that were assumed and not measured
    conditions : Condition, each known to be so
    constants : the utility's set of model parameters
    values : parameters measured for this pull, by code, such as the blade's thickness
    """

    old_pipe: PipeSize
    new_pipe: PipeSize
    expander_in: float
    length_ft: float
    cover_ft: float
    soil: str | Soil
    method: Method = Method.SPLIT
    bends: tuple[Bend, ...] = ()
    joints: tuple[Joint, ...] = ()
    snaking_deg_per_10_ft: float = 0.0
    groundwater: bool = False
    spacer: bool = True
    edges: int = 2
    old_material: str | None = None
    limits_lbf: Mapping[str, float | None] = field(default_factory=dict)
    drag_limits_lbf: Mapping[str, float | None] = field(default_factory=dict)
    pipe_allowable_lbf: float | None = None
    grip_efficiency: float | None = None
    pipe_weight_lb_ft: float | None = None
    rigid: RigidString | None = None
    bend_limit_in: float | None = None
    bend_source: str = ""
    depth_table: bool = False
    minutes: float = 60
    assumed: frozenset[str] = frozenset()
    conditions: frozenset[Condition] = frozenset()
    constants: ParameterSet = field(default_factory=ParameterSet)
    values: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self):
        """Bring plain tuples into their named forms, then refuse what cannot be.

        Raises
        ------
        ValueError: if a dimension, station, limit or name cannot be; the sentence says which and
            why.
        """
        object.__setattr__(self, "soil", self.ground)
        object.__setattr__(
            self, "bends", tuple(sorted((Bend(*bend) for bend in self.bends), key=_place))
        )
        object.__setattr__(self, "joints", tuple(_joint(joint) for joint in self.joints))
        object.__setattr__(self, "assumed", frozenset(self.assumed))
        object.__setattr__(self, "conditions", frozenset(Condition(c) for c in self.conditions))
        _check_names(self)
        _check_sizes(self)
        _check_run(self)
        _check_limits(self)

    @property
    def ground(self) -> Soil:
        """The soil with its values."""
        return self.soil if isinstance(self.soil, Soil) else soil(self.soil)

    @property
    def all_bends(self) -> tuple[Bend, ...]:
        """Bends with a wavy line's own, one in the middle of every 10 ft."""
        if not self.snaking_deg_per_10_ft:
            return self.bends
        waves = range(5, math.ceil(self.length_ft), 10)
        wavy = (Bend(float(at), self.snaking_deg_per_10_ft) for at in waves if at < self.length_ft)
        return tuple(sorted((*self.bends, *wavy), key=_place))

    @property
    def bends_deg(self) -> float:
        return sum(bend.degrees for bend in self.all_bends)

    @property
    def material(self) -> str:
        return self.old_material or str(getattr(self.old_pipe, "material", "LEAD"))

    @property
    def new_pipe_weight_lb_ft(self) -> float | None:
        """Weight given, or the new pipe's own, None when neither is known."""
        return self.pipe_weight_lb_ft or getattr(self.new_pipe, "weight_lb_per_ft", None)

    @property
    def comes_out(self) -> bool:
        """Whether the old pipe is drawn out whole: nothing is slit, and the ground holds it."""
        return self.method is Method.PULL_OUT

    @property
    def wet_sand(self) -> bool:
        return self.groundwater and self.ground.family is SoilFamily.SAND

    @property
    def parameter_set(self) -> ParameterSet:
        """The utility's constants with what was measured for this pull."""
        return self.constants.with_values(self.values)


def _place(bend: Bend) -> tuple[float, float]:
    return bend.station_ft, bend.degrees


def _joint(given) -> Joint:
    return given if isinstance(given, Joint) else Joint(*given)


def _check_names(case: PullCase) -> None:
    known = {item.name for item in fields(PullCase)} | set(ASSUMED)
    for name in case.assumed:
        if name not in known:
            raise ValueError(f"{name!r} cannot be marked as assumed: the case has no such input.")
    for name in case.limits_lbf:
        if name not in {*Limit, *MORE_LIMITS}:
            raise ValueError(f"{name!r} carries no pull; give limits for {', '.join(Limit)}.")
    for name in case.drag_limits_lbf:
        if name not in set(DragLimit):
            raise ValueError(f"{name!r} carries no drag; give limits for {', '.join(DragLimit)}.")
    if case.method not in PULLED:
        raise ValueError(f"{case.method} pulls nothing; there is no force to estimate.")
    if case.edges not in (1, 2):
        raise ValueError(f"A blade has 1 or 2 cutting edges, not {case.edges}.")


def _check_sizes(case: PullCase) -> None:
    _check_pipe(case.old_pipe, "old")
    _check_pipe(case.new_pipe, "new")
    if case.expander_in <= case.old_pipe.inside_in:
        raise ValueError(
            f"The expander, {case.expander_in:g} in., must be larger than the old pipe's bore, "
            f"{case.old_pipe.inside_in:g} in.: choose a larger expander."
        )
    if case.expander_in < case.new_pipe.outside_in:
        raise ValueError(
            f"The expander, {case.expander_in:g} in., is smaller than the new pipe behind it, "
            f"{case.new_pipe.outside_in:g} in. outside: choose a larger expander."
        )


def _check_pipe(pipe: PipeSize, which: str) -> None:
    if not 0 < pipe.inside_in < pipe.outside_in:
        raise ValueError(
            f"The {which} pipe's bore, {pipe.inside_in:g} in., must be above zero and below its "
            f"outside diameter, {pipe.outside_in:g} in."
        )
    if pipe.outside_in > 6:
        raise ValueError(
            f"The {which} pipe's outside diameter, {pipe.outside_in:g} in., is no service line's; "
            "was it given in mm?"
        )


def _check_run(case: PullCase) -> None:
    for name in ("length_ft", "cover_ft", "minutes"):
        value = getattr(case, name)
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be above zero, not {value:g}.")
    if case.snaking_deg_per_10_ft < 0:
        raise ValueError("snaking_deg_per_10_ft cannot be below zero.")
    for bend in case.bends:
        _check_station(case, bend.station_ft, "bend")
        if not 0 < bend.degrees <= 360:
            raise ValueError(
                f"The bend at {bend.station_ft:g} ft turns {bend.degrees:g} degrees; "
                "give more than 0 and at most 360."
            )
        if bend.radius_in is not None and not 0 < bend.radius_in < math.inf:
            raise ValueError(
                f"The bend at {bend.station_ft:g} ft needs a radius above zero, in inches; leave "
                "it out where nobody measured it."
            )
    for joint in case.joints:
        _check_station(case, joint.station_ft, "joint")
        if min(joint.wall_in or 1, joint.strength_psi or 1) <= 0:
            raise ValueError(
                f"The joint at {joint.station_ft:g} ft needs a wall and a strength above zero."
            )


def _check_station(case: PullCase, station_ft: float, what: str) -> None:
    if not 0 <= station_ft <= case.length_ft:
        raise ValueError(
            f"The {what} at {station_ft:g} ft lies outside the run of {case.length_ft:g} ft."
        )


def _check_limits(case: PullCase) -> None:
    limits = {
        **case.limits_lbf,
        **case.drag_limits_lbf,
        "new pipe": case.pipe_allowable_lbf,
        "bending the new pipe": case.bend_limit_in,
    }
    for name, value in limits.items():
        if value is not None and not value > 0:
            raise ValueError(f"The allowable load of {name} must be above zero, not {value:g}.")
    if case.grip_efficiency is not None and not 0 < case.grip_efficiency <= 1:
        raise ValueError(
            f"A grip's efficiency lies above 0 and up to 1, not {case.grip_efficiency:g}; "
            "a pulled length with a coupling in it must not be pulled at all."
        )
