"""What is asked on site before a start: pits, buried utilities, cable, line, lead, traffic.

Each check blocks the start while its fact is missing: what nobody wrote down was not done. The
limits are those of `replacements/reference/safety_rules.csv`. They never replace local codes, the
equipment maker's ratings, or the judgment of the competent person on site.
"""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from replacements.domain.findings import Finding, Level
from services_inventory.domain.days import add_months, day_told

FILE = Path(__file__).resolve().parent.parent / "reference" / "safety_rules.csv"


@dataclass(frozen=True)
class SafetyRule:
    """One limit with its source and mark."""

    key: str
    value: float
    unit: str
    rule: str
    reading: str
    mark: str
    source: str

    @property
    def cited(self) -> str:
        return f"{self.source} [{self.mark}]"


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


@cache
def safety_rules() -> Mapping[str, SafetyRule]:
    """Return the limits by key."""
    with FILE.open(newline="", encoding="utf-8") as handle:
        cells: list[dict[str, Any]] = list(csv.DictReader(handle))
    rows = [SafetyRule(**{**row, "value": float(row["value"])}) for row in cells]
    return {row.key: row for row in rows}


def site_findings(facts: JobSafety, as_of: date) -> list[Finding]:
    """Return what the answers leave open on a day; `gate.may_start` adds what is on record.

    Parameters
    ----------
    facts : what is on record for the job
    as_of : the day of work
    """
    found: list[Finding] = []
    if not facts.excavations:
        found.append(_stop("NO_EXCAVATION", "No pit is on record.", _COMMON, "Record every pit."))
    for pit in facts.excavations:
        found += excavation_findings(pit, as_of)
    found += ticket_findings(facts.ticket, as_of)
    found += lead_findings(facts.lead)
    found += line_findings(facts)
    if facts.pull is not None:
        found += pull_findings(facts.pull, as_of)
    if facts.traffic_plan is False:
        found.append(
            _stop(
                "TRAFFIC_PLAN",
                "No traffic plan is on record.",
                "MUTCD Part 6 [memory]",
                "Set up the plan, or record that the work is clear of any road or footway.",
            )
        )
    return found


def excavation_findings(pit: Excavation, as_of: date) -> list[Finding]:
    """Return what stands against entering one pit."""
    if not 0 < pit.depth_ft < 100:
        return [
            _stop(
                "EXCAVATION_DEPTH",
                f"{pit.name}: a depth of {pit.depth_ft} ft cannot be.",
                _COMMON,
                "Measure the pit in ft.",
            )
        ]
    return [*_protection(pit), *_egress(pit), *_spoil(pit), *_inspection(pit, as_of), *_air(pit)]


def _protection(pit: Excavation) -> Iterable[Finding]:
    rules = safety_rules()
    limit, deep = rules["protective_system_depth_ft"], rules["engineer_depth_ft"]
    needed = pit.cave_in_signs or (pit.depth_ft >= limit.value and not pit.in_stable_rock)
    if needed and not pit.protective_system:
        why = "signs of a cave-in" if pit.cave_in_signs else f"{limit.value:g} ft or more"
        yield _stop(
            limit.rule,
            f"{pit.name}: {pit.depth_ft:g} ft deep without a protective system ({why}).",
            limit.cited,
            "Slope, shore or shield before anyone goes in.",
            pit.depth_ft,
        )
    if pit.depth_ft > deep.value and not pit.engineered:
        yield _stop(
            deep.rule,
            f"{pit.name}: {pit.depth_ft:g} ft deep without an engineer's design.",
            deep.cited,
            "Have the protection designed by a registered engineer.",
            pit.depth_ft,
        )


def _egress(pit: Excavation) -> Iterable[Finding]:
    rules = safety_rules()
    depth, travel = rules["egress_depth_ft"], rules["egress_travel_ft"]
    if pit.depth_ft < depth.value:
        return
    if pit.egress_within_ft is None or pit.egress_within_ft > travel.value:
        how = "no ladder or ramp" if pit.egress_within_ft is None else (
            f"{pit.egress_within_ft:g} ft to the ladder or ramp"
        )  # fmt: skip
        yield _stop(
            depth.rule,
            f"{pit.name}: {pit.depth_ft:g} ft deep, {how}; {travel.value:g} ft at most.",
            depth.cited,
            "Set a ladder that stands 3 ft above the edge.",
            pit.egress_within_ft,
        )


def _spoil(pit: Excavation) -> Iterable[Finding]:
    limit = safety_rules()["spoil_setback_ft"]
    setback = pit.spoil_setback_ft
    if setback is None or setback < limit.value:
        how = "not measured" if setback is None else f"{setback:g} ft"
        yield _stop(
            limit.rule,
            f"{pit.name}: spoil set back {how}; at least {limit.value:g} ft.",
            limit.cited,
            "Move soil and gear back from the edge, and write down the distance.",
            setback,
        )


def _inspection(pit: Excavation, as_of: date) -> Iterable[Finding]:
    limit = safety_rules()["inspection_every_days"]
    seen = pit.inspected_on
    if seen is None or not pit.inspected_by.strip():
        why = "no inspection by a named competent person"
    elif seen > as_of:
        why = f"the inspection is dated {seen}, after the day of work"
    elif (as_of - seen).days >= limit.value:
        why = f"last inspected on {seen}"
    elif pit.rain_since_inspection:
        why = "it has rained since the inspection"
    else:
        return
    yield _stop(
        limit.rule,
        f"{pit.name}: {why}.",
        limit.cited,
        "A competent person inspects the pit today, before anyone goes in.",
    )


def _air(pit: Excavation) -> Iterable[Finding]:
    limit = safety_rules()["atmosphere_depth_ft"]
    if pit.hazardous_air_likely and pit.depth_ft > limit.value and not pit.air_tested:
        yield _stop(
            limit.rule,
            f"{pit.name}: bad air is likely and has not been tested for.",
            limit.cited,
            "Test the air before entry.",
            pit.depth_ft,
        )


def ticket_findings(ticket: OneCallTicket | None, as_of: date) -> list[Finding]:
    """Return what stands against digging by the locating ticket."""
    rule = safety_rules()["ticket_warning_days"]
    source = "State one-call law; " + rule.cited
    if ticket is None or not ticket.number.strip():
        return [_stop(rule.rule, "There is no one-call ticket number.", source, "Call 811.")]
    found = []
    if ticket.valid_from is None or as_of < ticket.valid_from:
        start = ticket.valid_from or "a day nobody wrote down"
        found.append(
            _stop(
                rule.rule,
                f"Ticket {ticket.number} allows digging from {start}.",
                source,
                "Wait the State's time; write down the day it ends.",
            )
        )
    if ticket.expires_on is None or as_of > ticket.expires_on:
        end = ticket.expires_on or "a day nobody wrote down"
        found.append(
            _stop(
                rule.rule, f"Ticket {ticket.number} ran out on {end}.", source, "Renew the ticket."
            )
        )
    elif (ticket.expires_on - as_of).days <= rule.value:
        found.append(
            Finding(
                Level.CAUTION,
                rule.rule,
                f"Ticket {ticket.number} runs out on {day_told(ticket.expires_on)}.",
                source,
                "Renew it now if the work will not be done by then.",
            )
        )
    if not ticket.marks_visible:
        found.append(
            _stop(rule.rule, "The marks are not visible.", source, "Have them marked again.")
        )
    return found


def lead_findings(lead: LeadHandling | None) -> list[Finding]:
    """Return what stands against handling lead pipe."""
    rule = safety_rules()["lead_action_level_ug_m3"]
    facts = lead or LeadHandling()
    method = facts.cutting_method.upper().replace(" ", "_")
    found = []
    if not facts.hygiene_set_up:
        found.append("Gloves, washing water and clean clothes are not set up.")
    if not facts.scrap_contained:
        found.append("There is no place for pulled lead, shavings and soiled soil.")
    if not method:
        found.append("How the lead will be cut is not written down.")
    if any(word in method for word in ("TORCH", "FLAME", "ABRASIVE", "GRINDER")):
        found.append(f"{facts.cutting_method} throws lead into the air.")
    do = "Wet or shear cut, no torch, no abrasive saw; wrap and bag; wash before eating."
    return [_stop(rule.rule, sentence, rule.cited, do) for sentence in found]


def line_findings(facts: JobSafety) -> list[Finding]:
    """Return what stands against cutting the old pipe, however the new one is laid."""
    asked = (
        (facts.line_isolated, "ISOLATION", "Line not isolated.", "Close and disconnect it."),
        (
            facts.electrical_ground_checked,
            "ELECTRICAL_GROUND",
            "The house's electrical ground has not been checked.",
            "An electrician checks whether the pipe is the ground before it is cut.",
        ),
    )
    return [_stop(rule, said, _COMMON, do) for done, rule, said, do in asked if not done]


def pull_findings(setup: PullSetup, as_of: date) -> list[Finding]:
    """Return what stands against loading the cable."""
    found = list(_exclusion(setup))
    found += _gauge(setup, as_of)
    for done, rule, sentence, do in (
        (setup.barriers_at_both_pits, "EXCLUSION_ZONE", "No barrier at both pits.", "Set them."),
        (setup.spotter_with_radio, "SPOTTER", "No spotter with a radio.", "Post one."),
        (setup.emergency_stop_tried, "EMERGENCY_STOP", "Emergency stop not tried.", "Try it."),
        (setup.relief_set, "RELIEF", "Relief pressure not set.", "Set it to the lowest limit."),
        (setup.bore_proved, "BORE", "Bore not proved through.", "Push a rod or camera through."),
    ):
        if not done:
            found.append(_stop(rule, sentence, _COMMON, do))
    return found


def exclusion_zone_ft(free_cable_ft: float) -> float:
    """Return how far from the cable's ends people must stay, ft."""
    return safety_rules()["exclusion_cable_lengths"].value * free_cable_ft


def _exclusion(setup: PullSetup) -> Iterable[Finding]:
    rule = safety_rules()["exclusion_cable_lengths"]
    cable, zone = setup.free_cable_ft, setup.exclusion_zone_ft
    if cable is None or zone is None or cable <= 0:
        yield _stop(
            rule.rule,
            "The free cable length or the exclusion zone is not on record.",
            rule.cited,
            f"Measure the free cable; keep everyone {rule.value:g} times that away at both ends.",
        )
    elif zone < exclusion_zone_ft(cable):
        yield _stop(
            rule.rule,
            f"The exclusion zone is {zone:g} ft; {cable:g} ft of free cable needs "
            f"{exclusion_zone_ft(cable):g} ft.",
            rule.cited,
            "Move the barriers out.",
            zone,
        )


def _gauge(setup: PullSetup, as_of: date) -> Iterable[Finding]:
    rule = safety_rules()["gauge_calibration_months"]
    done = setup.gauge_calibrated_on
    if done is None or done > as_of or as_of > add_months(done, int(rule.value)):
        yield _stop(
            rule.rule,
            f"The puller's gauge was last calibrated on {done or 'a day nobody wrote down'}.",
            rule.cited,
            f"Calibrate it; every {rule.value:g} months.",
        )


_COMMON = "common practice, no source"


def _stop(rule: str, message: str, source: str, do: str, value: float | None = None) -> Finding:
    return Finding(Level.STOP, rule, message, source, do, value=value)
