"""What is ticked on paper before the work: the same gates as the safe start, with room to write.

An answer that is on record already stands in its place; the crew still looks and ticks.
"""

from collections.abc import Mapping
from datetime import date

from services_inventory.domain.days import day_told

from ..domain.methods import is_pulled
from ..domain.safety import safety_rules

BLANK = "________"


def start_rows(method: str, answers: Mapping | None) -> list[str]:
    """Return a sentence for each box; `answers` are those of a safe start on record."""
    known = answers or {}
    rows = [*_pits(known.get("excavations") or ()), _ticket(known.get("ticket") or {})]
    if is_pulled(method):
        rows += _loaded_cable(known.get("pull") or {})
    return [
        *rows,
        "Lead: wet or shear cut; gloves, washing water, clean clothes; bags for pipe and shavings",
        "Traffic plan in place, or the work is clear of any road or footway",
    ]


def _rule(key: str) -> str:
    return f"{safety_rules()[key].value:g}"


def _pits(pits) -> list[str]:
    found = "; ".join(f"{pit['name'].lower()} {pit['depth_ft']:g} ft deep" for pit in pits)
    deep = found or f"pit at the main {BLANK} ft, at the house {BLANK} ft deep"
    seen = ", ".join(sorted({pit["inspected_by"] for pit in pits if pit["inspected_by"]}))
    return [
        f"{deep[0].upper()}{deep[1:]}: shored or sloped from {_rule('protective_system_depth_ft')} "
        f"ft; ladder from {_rule('egress_depth_ft')} ft, within {_rule('egress_travel_ft')} ft; "
        f"spoil {_rule('spoil_setback_ft')} ft back",
        f"Pits inspected today, and after rain, by competent person {seen or BLANK + BLANK}",
    ]


def _ticket(ticket: Mapping) -> str:
    number, ends = ticket.get("number") or BLANK, ticket.get("expires_on")
    ends = day_told(date.fromisoformat(ends)) if ends else BLANK
    return (
        f"One-call ticket {number}, runs out {ends}; marks visible; private lines asked for; hand "
        f"or vacuum within {_rule('tolerance_zone_in')} in. of a mark"
    )


def _loaded_cable(setup: Mapping) -> list[str]:
    cable, zone = setup.get("free_cable_ft"), setup.get("exclusion_zone_ft")
    return [
        f"Free cable {f'{cable:g}' if cable else BLANK} ft: nobody within "
        f"{_rule('exclusion_cable_lengths')} times that, {f'{zone:g}' if zone else BLANK} ft; "
        "barriers at both pits, blanket over the free cable; spotter with radio, words agreed",
        f"Relief set at {BLANK} psi; gauge calibrated within "
        f"{_rule('gauge_calibration_months')} months, load cell zeroed, free-run pressure "
        f"{BLANK} psi; emergency stop tried and heard at both ends",
        "Bore proved over its full length by rod or camera, blockages located",
    ]
