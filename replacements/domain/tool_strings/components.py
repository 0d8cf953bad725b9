"""The contractor's own tools, and the string put together from them.

A string is read from the puller at the receiving pit toward the new pipe: cable or rods, blade,
pre-expander, spacer, expander, jaw set, retaining nut, swivel, pipe puller.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from enum import StrEnum
from typing import Any

from replacements.domain.tool_strings.setup import NO_SET, SetUp
from services_inventory.domain.days import day_told
from services_inventory.domain.labels import Labeled


class BadComponent(ValueError):
    """A dimension or rating of a tool cannot be; fit to show."""


class Kind(Labeled):
    """What a tool is; the order here is the order of the string."""

    PULLER = "PULLER", "Puller"
    CABLE = "CABLE", "Cable"
    ROD = "ROD", "Rods"
    BLADE = "BLADE", "Blade"
    PRE_EXPANDER = "PRE_EXPANDER", "Pre-expander"
    SPACER = "SPACER", "Spacer"
    EXPANDER = "EXPANDER", "Expander"
    JAW_SET = "JAW_SET", "Jaw set"
    RETAINING_NUT = "RETAINING_NUT", "Retaining nut"
    SWIVEL = "SWIVEL", "Swivel"
    CLEVIS = "CLEVIS", "Clevis"
    BREAKAWAY_LINK = "BREAKAWAY_LINK", "Break-away link"
    PIPE_PULLER = "PIPE_PULLER", "Pipe puller"


class Facing(Labeled):
    """Which end of a blade looks at the old pipe."""

    FLAT_TO_OLD_PIPE = "FLAT_TO_OLD_PIPE", "Flat to old pipe"
    TAPER_TO_OLD_PIPE = "TAPER_TO_OLD_PIPE", "Taper to old pipe"


class CableEnd(StrEnum):
    """Which end of the cable is pulled: the thick pulling end, or the thin threading end."""

    THICK = "THICK"
    THIN = "THIN"
    UNKNOWN = "UNKNOWN"


class Wear(StrEnum):
    """State of a wear part."""

    GOOD = "GOOD"
    WORN = "WORN"
    BROKEN = "BROKEN"
    MISSING = "MISSING"


@dataclass(frozen=True)
class Overload:
    """A pull that asks for a competent person's look at every part that was in it.

    order, day : which pull
    peak_lbf : highest force of its log
    limit_lbf : what the string, or this part by its entry of today, was to be held to; None where
        the log shows a broken cable or jaws that let go, whatever the force
    """

    order: str
    day: date
    peak_lbf: float
    limit_lbf: float | None = None

    @property
    def told(self) -> str:
        """The pull in words."""
        pull = f"the pull of {day_told(self.day)} for {self.order}"
        if self.limit_lbf is None:
            return f"{pull} ended in a broken cable or jaws that let go"
        return f"{pull} went to {self.peak_lbf:,.0f} lb against {self.limit_lbf:,.0f} lb"


@dataclass(frozen=True, kw_only=True)
class Component:
    """One tool of a contractor.

    kind, mark : what it is, and the contractor's own mark on it
    outside_in : greatest diameter; of a blade over its tips, of a pipe puller over its collar, of
        rods over their joints
    pilot_in : nose of a blade that runs in the old bore
    length_in : along the string, in
    length_ft : of a cable, or of all rods joined
    thin_end_in, pulling_end_in : of a cable; thin_end_in is None without a thin end
    construction, termination : of a cable, codes of `wire_rope.csv` and `terminations.csv`
    breaking_force_lbf : of a cable, from its own certificate
    grip : of a pipe puller, code of `grips.csv`
    fits_old_in, fits_new_in, fits_new_types, fits_cable_in, fits_rod_in : sizes it is marked for;
        empty where it is not marked
    cylinder_bore_in, cylinder_rod_in, cylinders : of a hydraulic puller; a rod where it pulls with
        the rod side
    rated_lbf : rated load; of a puller at its relief setting, of a break-away link where it parts
    serial, inspected_on, passed, due_on, retired_on : passed is None where nobody judged
    rating_confirmed : the paper of its rating is on record, read by a second person
    peak_force_lbf : highest force known to have been carried
    overloads : pulls over the limit after which no competent person has passed it
    pulls_since : pulls since it was last inspected; None where nobody counts
    wear : state of each wear part by name, such as O_RINGS or TIP
    setup : what the tool set says that it belongs to
    """

    kind: Kind
    mark: str = ""
    outside_in: float | None = None
    pilot_in: float | None = None
    length_in: float | None = None
    length_ft: float | None = None
    thin_end_in: float | None = None
    pulling_end_in: float | None = None
    construction: str = ""
    termination: str = ""
    breaking_force_lbf: float | None = None
    grip: str = ""
    fits_old_in: tuple[float, ...] = ()
    fits_new_in: tuple[float, ...] = ()
    fits_new_types: tuple[str, ...] = ()
    fits_cable_in: tuple[float, ...] = ()
    fits_rod_in: tuple[float, ...] = ()
    cylinder_bore_in: float | None = None
    cylinder_rod_in: float | None = None
    cylinders: int = 1
    rated_lbf: float | None = None
    serial: str = ""
    inspected_on: date | None = None
    passed: bool | None = None
    due_on: date | None = None
    retired_on: date | None = None
    rating_confirmed: bool = False
    peak_force_lbf: float | None = None
    overloads: tuple[Overload, ...] = ()
    pulls_since: int | None = None
    wear: Mapping[str, Wear] = field(default_factory=dict)
    setup: SetUp = NO_SET

    def __post_init__(self):
        """Refuse figures that cannot be.

        Raises
        ------
        BadComponent: a dimension, rating or size is not above 0, or a kind or wear is unknown.
        """
        try:
            object.__setattr__(self, "kind", Kind(self.kind))
            wear = {name: Wear(state) for name, state in self.wear.items()}
        except ValueError as error:
            raise BadComponent(f"{self.mark or 'A tool'}: {error}.") from None
        object.__setattr__(self, "wear", wear)
        for name in TEXTS:
            if not isinstance(getattr(self, name), str):
                raise BadComponent(
                    f"{self.kind.label}: {name} is {getattr(self, name)!r}, no text."
                )
        for name in FIGURES:
            _positive(self, name, getattr(self, name))
        _refuse_cylinder(self)
        for name in SIZE_LISTS:
            object.__setattr__(self, name, tuple(getattr(self, name)))
            for size in getattr(self, name):
                _positive(self, name, size)

    @property
    def label(self) -> str:
        """The tool as a crew names it: kind and mark, or the mark that says its kind."""
        return tool_named(self.kind, self.mark)


def tool_named(kind: Kind, mark: str) -> str:
    """Return a tool's kind and mark; a mark that begins with the kind says it already.

    Examples
    --------
    >>> tool_named(Kind.JAW_SET, "J-4"), tool_named(Kind.JAW_SET, "JawSet-1")
    ('Jaw set J-4', 'JawSet-1')
    """
    plain = ["".join(filter(str.isalpha, text.casefold())) for text in (mark, kind.label)]
    return mark if plain[0].startswith(plain[1]) else f"{kind.label} {mark}".strip()


FIGURES = tuple(
    f.name
    for f in fields(Component)
    if f.name.endswith(("_in", "_ft", "_lbf")) and f.name[:5] != "fits_"
)
SIZE_LISTS = ("fits_old_in", "fits_new_in", "fits_cable_in", "fits_rod_in")
LISTS = {*SIZE_LISTS, "fits_new_types"}
TEXTS = ("mark", "construction", "termination", "grip", "serial")
DIMENSIONS = {f.name for f in fields(Component)} - {
    *("kind", "mark", "setup", "rating_confirmed", "overloads", "pulls_since"),
}

# What must be known of a tool before a string with it can be judged.
NEEDED = {
    Kind.PULLER: ("fits_cable_in",),
    Kind.CABLE: ("pulling_end_in", "length_ft"),
    Kind.ROD: ("outside_in", "length_ft"),
    Kind.BLADE: ("outside_in", "pilot_in"),
    Kind.PRE_EXPANDER: ("outside_in", "length_in"),
    Kind.SPACER: ("length_in",),
    Kind.EXPANDER: ("outside_in", "length_in"),
    Kind.JAW_SET: ("fits_cable_in",),
    Kind.RETAINING_NUT: (),
    Kind.SWIVEL: (),
    Kind.CLEVIS: (),
    Kind.BREAKAWAY_LINK: (),
    Kind.PIPE_PULLER: ("outside_in", "fits_new_in", "fits_new_types", "grip"),
}

_ALONG = ("outside_in", "length_in")
_BORED = ("fits_cable_in", "fits_rod_in")
_NEW = ("fits_new_in", "fits_new_types")
# What a tool of a kind is measured by, beside its rating: what its form asks.
MEASURES = {
    Kind.PULLER: (*_BORED, "cylinder_bore_in", "cylinder_rod_in", "cylinders"),
    Kind.CABLE: (
        *("construction", "pulling_end_in", "thin_end_in", "length_ft"),
        *("termination", "breaking_force_lbf"),
    ),
    Kind.ROD: ("outside_in", "length_ft"),
    Kind.BLADE: (*_ALONG, "pilot_in", "fits_old_in", *_BORED),
    Kind.PRE_EXPANDER: (*_ALONG, "fits_old_in", *_NEW, *_BORED),
    Kind.SPACER: (*_ALONG, *_BORED),
    Kind.EXPANDER: (*_ALONG, "fits_old_in", *_NEW, *_BORED),
    Kind.JAW_SET: (*_ALONG, "fits_cable_in", "jaw_faces"),
    Kind.RETAINING_NUT: (*_ALONG, "fits_cable_in"),
    Kind.SWIVEL: _ALONG,
    Kind.CLEVIS: _ALONG,
    Kind.BREAKAWAY_LINK: _ALONG,
    Kind.PIPE_PULLER: (*_ALONG, *_NEW, "grip"),
}


@dataclass(frozen=True)
class Part:
    """A tool in its place; facing is None where it does not matter or nobody recorded it."""

    component: Component
    facing: Facing | None = None


@dataclass(frozen=True)
class ToolString:
    """A tool string: its parts from the pulling side to the new pipe.

    parts : tuple of Part
    pulled_end : which end of the cable is in the puller
    """

    parts: tuple[Part, ...] = ()
    pulled_end: CableEnd = CableEnd.UNKNOWN

    def of_kind(self, kind: Kind) -> list[tuple[int, Component]]:
        """Return (place, tool) of every tool of one kind, in order."""
        return [(i, p.component) for i, p in enumerate(self.parts) if p.component.kind is kind]

    def first(self, kind: Kind) -> Component | None:
        """Return the first tool of a kind, None where there is none."""
        return next((component for _, component in self.of_kind(kind)), None)

    @property
    def rigid_in(self) -> float | None:
        """Length from the blade to the end of the expander; None where a part has none, in."""
        kinds = [part.component.kind for part in self.parts]
        if Kind.BLADE not in kinds or Kind.EXPANDER not in kinds:
            return None
        ends = sorted((kinds.index(Kind.BLADE), kinds.index(Kind.EXPANDER)))
        lengths = [part.component.length_in for part in self.parts[ends[0] : ends[1] + 1]]
        known = [length for length in lengths if length]
        return sum(known) if len(known) == len(lengths) else None


def tool_string(
    components: Iterable[Component],
    *,
    blade_facing: Facing | None,
    pulled_end: CableEnd,
) -> ToolString:
    """Return a string of tools in the order given, every blade facing the same way.

    Neither has a default: which way a blade faces and which end is pulled, somebody has seen.
    """
    parts = tuple(Part(c, blade_facing if c.kind is Kind.BLADE else None) for c in components)
    return ToolString(parts, CableEnd(pulled_end))


def component_from(kind: str, mark: str, dimensions: Mapping[str, object], **known) -> Component:
    """Return a tool from a mapping of its dimensions by name, as a catalog stores them.

    Raises
    ------
    BadComponent: a name is not a dimension of a tool, or a figure cannot be.
    """
    strange = sorted(set(dimensions) - DIMENSIONS)
    if strange:
        raise BadComponent(f"{mark or kind}: {', '.join(strange)} is no dimension of a tool.")
    given = {name: value for name, value in dimensions.items() if value is not None}
    for name in LISTS & set(given):
        value = given[name]
        given[name] = tuple(value) if isinstance(value, list | tuple) else (value,)
    named: dict[str, Any] = {"kind": kind, "mark": mark, **given, **known}
    return Component(**named)


def _refuse_cylinder(component: Component) -> None:
    bore, rod = component.cylinder_bore_in, component.cylinder_rod_in
    if rod is not None and (bore is None or rod >= bore):
        raise BadComponent(
            f"{component.label}: a rod of {rod:g} in. needs a wider bore; were they swapped?"
        )
    if component.cylinders not in range(1, 9):
        raise BadComponent(f"{component.label}: {component.cylinders!r} cylinders cannot be.")


def _positive(component: Component, name: str, value: object) -> None:
    if value is None:
        return
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < math.inf:
        raise BadComponent(
            f"{component.label}: {name} is {value!r}; it must be a number above 0, in the unit of "
            "its name."
        )
