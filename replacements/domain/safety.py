"""What is asked on site before a start: pits, buried utilities, cable, line, lead, traffic.

The gates are data (`replacements/reference/start_gates.toml`), so that page, API and phone ask the
same; their limits are those of `safety_rules.csv`. What nobody wrote down was not done. They never
replace local codes, the equipment maker's ratings, or the judgment of the competent person on site.
"""

from dataclasses import dataclass, fields, is_dataclass
from datetime import date

from replacements.domain.findings import Finding
from replacements.domain.safety_rules import SafetyRule, safety_rules
from replacements.domain.start_gates import judged, judged_pit

__all__ = [
    "Excavation",
    "JobSafety",
    "LeadHandling",
    "OneCallTicket",
    "PullSetup",
    "SafetyRule",
    "excavation_findings",
    "exclusion_zone_ft",
    "safety_rules",
    "site_findings",
]


@dataclass(frozen=True)
class Excavation:
    """One pit as found today; None where nobody has written it down."""

    name: str
    depth_ft: float
    protective_system: str | None = None
    in_stable_rock: bool = False
    cave_in_signs: bool = False
    egress_within_ft: float | None = None
    spoil_setback_ft: float | None = None
    inspected_on: date | None = None
    inspected_by: str = ""
    rain_since_inspection: bool = False
    hazardous_air_likely: bool = False
    air_tested: bool = False
    engineered: bool = False


@dataclass(frozen=True)
class OneCallTicket:
    """The locating ticket: its number, the first day digging is allowed, the last, the marks."""

    number: str
    valid_from: date | None
    expires_on: date | None
    marks_visible: bool


@dataclass(frozen=True)
class PullSetup:
    """The puller and what keeps people away from the cable."""

    free_cable_ft: float | None = None
    exclusion_zone_ft: float | None = None
    barriers_at_both_pits: bool = False
    spotter_with_radio: bool = False
    emergency_stop_tried: bool = False
    relief_set: bool = False
    gauge_calibrated_on: date | None = None
    bore_proved: bool = False


@dataclass(frozen=True)
class LeadHandling:
    """What keeps lead off people, out of the house and out of the soil."""

    hygiene_set_up: bool = False
    cutting_method: str = ""
    scrap_contained: bool = False


@dataclass(frozen=True)
class JobSafety:
    """All facts that a start is judged by.

    pull : None when nothing is pulled (open cut)
    traffic_plan : True in place, False missing, None when the work is clear of any road
    line_isolated, electrical_ground_checked : asked of every job that cuts the old pipe
    """

    excavations: tuple[Excavation, ...]
    ticket: OneCallTicket | None
    lead: LeadHandling | None
    pull: PullSetup | None = None
    traffic_plan: bool | None = False
    line_isolated: bool = False
    electrical_ground_checked: bool = False


def site_findings(facts: JobSafety, as_of: date) -> list[Finding]:
    """Return what the answers leave open on a day; `gate.may_start` adds what is on record.

    Parameters
    ----------
    facts : what is on record for the job
    as_of : the day of work
    """
    return judged(_plain(facts), as_of)


def excavation_findings(pit: Excavation, as_of: date) -> list[Finding]:
    """Return what stands against entering one pit."""
    return judged_pit(_plain(pit), as_of)


def exclusion_zone_ft(free_cable_ft: float) -> float:
    """Return how far from the cable's ends people must stay, ft."""
    return safety_rules()["exclusion_cable_lengths"].value * free_cable_ft


def _plain(value):
    """Return facts as the gates read them: by name, days as ISO text."""
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return value.isoformat() if isinstance(value, date) else value
