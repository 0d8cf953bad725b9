"""A kept estimate in words and figures, as page, phone and sheet show it: one number, once."""

import math

from ..domain.learning import after_agreeing
from ..domain.methods import Method
from ..domain.pull_force import (
    RANGE_COVERS,
    Force,
    ForceEstimate,
    assumed_told,
    force_chart_svg,
    measurements,
    method_text,
    part_told,
    sensitivity,
    soils,
    use_told,
)
from ..domain.pull_force.spread import lognormal_range
from ..domain.units import high_lb, limit_lb
from ..models import ForceEstimateRecord, PullRecord
from .pulls import estimate_back, trace_pairs
from .stored import findings_back

FEW_LOGS, THEIR_SCATTER = 10, 0.3  # what logs of one's own pulls would bring, as an example


def estimate_shown(record: ForceEstimateRecord | None, pull: PullRecord | None) -> dict | None:
    """Return the latest estimate with its chart, what it says of itself, and what matters most."""
    if record is None:
        return None
    made = estimate_back(record)
    shown = {
        "record": record,
        "result": record.result,
        "case": record.case,
        "covers": RANGE_COVERS,
        "findings": findings_back(record.result.get("findings", ())),
        "inputs": inputs_told(record.case),
        "assumed": [assumed_told(name)[0] for name in record.case.get("assumed", ())],
        **figures_told(record),
        **_governed(record.result.get("governs") or {}),
    }
    return shown if made is None else shown | _made_shown(made, record, pull)


def figures_told(record: ForceEstimateRecord) -> dict:
    """Return the figures that decide, each as it is shown everywhere.

    Limits are rounded down and high estimates up, so that what is read is on the safe side.
    """
    result = record.result
    reach, relief = result.get("reach") or {}, result.get("relief") or {}
    return {
        "standing": result.get("standing", ""),
        "total": range_told(record.low_lbf, record.expected_lbf, record.high_lbf),
        "drag": range_told(*(result[f"drag_{end}_lbf"] for end in ("low", "expected", "high"))),
        "limit": limit_told(result.get("limit_lbf")),
        "limited_by": part_told(result.get("limited_by") or ""),
        "pipe_limit": limit_told(result.get("pipe_limit_lbf")),
        "drag_limit": limit_told(result.get("drag_limit_lbf")),
        "drag_limited_by": part_told(result.get("drag_limited_by") or ""),
        "drag_basis": result.get("drag_basis", ""),
        "relief_psi": f"{math.floor(relief['psi']):,} psi" if relief else "",
        "easy_ft": _down(reach.get("easy_ft")),
        "most_ft": _down(reach.get("most_ft")),
        "held_by": part_told(reach.get("held_by") or ""),
    }


def limit_told(limit_lbf: float | None) -> str:
    """Return a limit as it is shown, empty where none is known."""
    return limit_lb(limit_lbf) if limit_lbf else ""


def range_told(low_lbf: float, expected_lbf: float, high_lbf: float) -> dict[str, str]:
    """Return a range as it is shown."""
    return {
        "low": limit_lb(low_lbf),
        "expected": f"{expected_lbf:,.0f} lb",
        "high": high_lb(high_lbf),
    }


def _down(length_ft: float | None) -> int | None:
    return None if length_ft is None else math.floor(length_ft)


def _made_shown(made: ForceEstimate, record: ForceEstimateRecord, pull: PullRecord | None) -> dict:
    measured = trace_pairs(pull) if pull else None
    few = lognormal_range(made.expected_lbf, after_agreeing(FEW_LOGS, THEIR_SCATTER))
    return {
        "chart": force_chart_svg(made, log=measured or None),
        "method": method_text(made),
        "swings": sensitivity(made.case)[:4],
        "drag_swings": sensitivity(made.case, Force.DRAG)[:3],
        "measurements": measurements(made.case)[:3],
        # Logs teach of slitting only.
        "few_logs": made.case.method is Method.SPLIT
        and {
            "count": FEW_LOGS,
            **range_told(few.low_lbf, few.expected_lbf, few.high_lbf),
        },
        "checks": [_check_shown(check) for check in made.checks],
    }


def _check_shown(check) -> dict:
    """Return one part's use of its limit; a part that this string does not have has none."""
    absent = check.limit_lbf == math.inf
    rated = check.limit_lbf is not None and not absent
    return {
        "part": part_told(check.name),
        "carries": "the total" if check.force is Force.TOTAL else "the drag",
        "high": high_lb(check.high_lbf),
        "limit": limit_lb(check.limit_lbf) if rated else "not in it" if absent else "unrated",
        "used": use_told(check.use) if rated else "",
    }


def _governed(governs: dict) -> dict:
    """Return the part that governs in words, and how far its limit lies off the high estimate."""
    margin = governs.get("margin")
    percent = None if margin is None else math.floor(abs(margin) * 100 + 1e-9)
    return {
        "governs": part_told(governs.get("name") or ""),
        "margin": margin,
        "margin_percent": percent,
    }


def inputs_told(case: dict) -> list[dict]:
    """Return what an estimate was made from, row by row, each marked where it was assumed."""
    old, new, assumed = case["old_pipe"], case["new_pipe"], set(case.get("assumed", ()))
    soil = soils().get(case["soil"])
    given, measured = case.get("given", {}), case.get("measured", {})
    rows = [
        ("old_pipe", "Old pipe", f"{old[3]}: bore {old[0]:.3f} in., outside {old[1]:.3f} in."),
        ("", "New pipe", f"{new[3]}: outside {new[1]:.3f} in."),
        ("expander_in", "Expander", f"{case['expander_in']:.3g} in."),
        ("", "Length", f"{case['length_ft']:g} ft"),
        ("", "Cover", f"{case['cover_ft']:g} ft"),
        ("", "Soil", soil.name if soil else case["soil"]),
        ("groundwater", "Groundwater", "above the pipe" if case["groundwater"] else "not above it"),
        ("", "Bends", "; ".join(_bend_told(*bend) for bend in case["bends"]) or "none known"),
        ("", "Joints", "; ".join(f"{kind.replace('_', ' ').lower()} at {at:g} ft"
                                 for at, kind in case["joints"]) or "none known"),
        ("", "Anchor", _anchor_told(given)),
        ("resin", "Resin", case.get("resin")),
        ("temperature_f", "Wall of the new pipe", _degrees(case.get("temperature_f"))),
        ("" if given.get("minutes") else "minutes", "Time under tension",
         f"up to {case['minutes']:g} min"),
        ("pulled_end", "Pulled end of the cable", "thin" if "pulled_end" in assumed else ""),
        *(("", name, f"{measured[code]:g}, measured") for code, name in MEASURED.items()
          if code in measured),
    ]  # fmt: skip
    return [
        {"name": name, "value": value, "assumed": key in assumed or key == "minutes"}
        for key, name, value in rows
        if value
    ]


MEASURED = {
    "BLADE_THICKNESS": "Blade's thickness, in.",
    "BLADE_HALF_ANGLE": "Half angle of the blade, deg",
    "CONE_HALF_ANGLE": "Half angle of the expander's cone, deg",
    "JOINT_WALL": "Wall of the wiped joint, in.",
    "SOIL_STRENGTH": "Strength of the clay, psf",
}


def _bend_told(station_ft: float, degrees: float, radius_in: float | None = None) -> str:
    radius = f"radius {radius_in:g} in." if radius_in else "radius not known"
    return f"{degrees:g}\N{DEGREE SIGN} at {station_ft:g} ft, {radius}"


def _anchor_told(given: dict) -> str:
    if given.get("plate_area_ft2") and given.get("soil_psf"):
        return f"plate of {given['plate_area_ft2']:g} ft\u00b2 on {given['soil_psf']:,.0f} psf"
    return limit_told(given.get("anchor_lbf")) or "not given: unrated"


def _degrees(temperature_f: float | None) -> str:
    return "" if temperature_f is None else f"{temperature_f:g} \N{DEGREE SIGN}F"
