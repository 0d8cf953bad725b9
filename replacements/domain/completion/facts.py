"""What is on record about a finished job, as the crew wrote it down."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

PLASTICS = ("PE", "PEX", "PVC", "CPVC", "PLASTIC")


@dataclass(frozen=True)
class PressureTest:
    """How the new line was tested."""

    pressure_psi: float
    minutes: float
    drop_psi: float
    visible_leak: bool
    medium: str = "WATER"
    settled_minutes: float = 0.0


@dataclass(frozen=True)
class TracerTest:
    """Whether the tracer wire still runs from end to end."""

    both_ends_free: bool
    signal_full_length: bool
    resistance_ohm: float | None = None
    wire_ohm: float = 0.0


@dataclass(frozen=True)
class Disinfection:
    """How the new line was disinfected; method as in `flushing.csv`."""

    method: str
    dose_mg_l: float | None = None
    hours: float | None = None
    residual_mg_l: float | None = None


@dataclass(frozen=True)
class Flush:
    """One flush, by the crew or through the taps of the house."""

    minutes: float
    velocity_ft_s: float | None = None
    aerators_off: bool = False
    bottom_floor_up: bool = False
    cold_only: bool = False


@dataclass(frozen=True)
class LeadRemoved:
    """Lead taken out of the ground, and lead split and left in it."""

    length_ft: float
    weight_lb: float | None = None
    left_in_ground_ft: float = 0.0


@dataclass(frozen=True)
class Household:
    """What the household was given, and when."""

    notice_on: date | None = None
    flushing_instructions_on: date | None = None
    filter_on: date | None = None
    cartridge_months: int = 0
    sample_offered_on: date | None = None
    sample_taken_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class Quality:
    """Tests, disinfection, flushing, lead taken out, and what the household was given.

    What a crew says, by the page, the phone, a drop or a device; None where it says nothing.

    depths_ft : place to cover, ft
    """

    static_psi: float | None = None
    pressure_test: PressureTest | None = None
    tracer: TracerTest | None = None
    depths_ft: Mapping[str, float] = field(default_factory=dict)
    leading_outside_in: float | None = None
    cut_off_ft: float | None = None
    disinfection: Disinfection | None = None
    crew_flush: Flush | None = None
    premise_flush: Flush | None = None
    lead: LeadRemoved | None = None
    household: Household = Household()
    bonding_checked: bool = False
    restored_on: date | None = None
    returned_to_service_on: date | None = None


@dataclass(frozen=True)
class CompletionFacts(Quality):
    """Everything a finished job is judged by; None where nothing is on record.

    line_length_ft : between main and house
    new_material : PE, PEX, COPPER, ...
    new_inside_in, new_outside_in : of the new pipe
    photos : kinds handed in, such as OLD_PIPE, LEAD_REMOVED, NEW_AT_MAIN, NEW_AT_HOUSE, RESTORED
    old_pipe_is_lead : whether there was lead to account for; galvanized pipe leaves none
    pulled : whether the new pipe was pulled in; one that was laid has no gripped end
    """

    completed_on: date
    line_length_ft: float
    new_material: str
    new_inside_in: float
    new_outside_in: float
    photos: frozenset[str] = frozenset()
    old_pipe_is_lead: bool = True
    pulled: bool = True

    @property
    def plastic(self) -> bool:
        return self.new_material.upper() in PLASTICS
