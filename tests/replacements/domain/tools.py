"""An invented contractor's tools for 3/4 in. lead and 1 in. CTS polyethylene (constructed)."""

from datetime import date

from replacements.domain.findings import by_severity
from replacements.domain.pipes import pipe
from replacements.domain.tool_strings import (
    CableEnd,
    Component,
    Facing,
    Kind,
    judge_rows,
    tool_string,
)

OLD = pipe("LEAD", 0.75, "AA")  # 0.75 / 1.212 in.
NEW = pipe("PE", 1.0, "CTS SDR 9")  # 1.125 in. outside
DAY = date(2027, 5, 3)
SEEN = {"inspected_on": date(2027, 1, 11), "passed": True, "due_on": date(2028, 1, 11)}

FIGURES = {
    Kind.PULLER: {"fits_cable_in": (0.375,), "rated_lbf": 12000},
    Kind.CABLE: {
        "thin_end_in": 0.25,
        "pulling_end_in": 0.375,
        "length_ft": 100,
        "construction": "7X19 GALVANIZED",
        "breaking_force_lbf": 14400,
    },
    Kind.BLADE: {
        "outside_in": 1.375,
        "pilot_in": 0.6875,
        "length_in": 3,
        "fits_old_in": (0.625, 0.75, 1.0),
    },
    Kind.PRE_EXPANDER: {"outside_in": 1.0, "length_in": 2},
    Kind.SPACER: {"outside_in": 0.6, "length_in": 3},
    Kind.EXPANDER: {"outside_in": 1.34, "length_in": 4, "rated_lbf": 9000},
    Kind.JAW_SET: {
        "outside_in": 1.0,
        "length_in": 2,
        "fits_cable_in": (0.375,),
        "rated_lbf": 8000,
        "wear": {"O_RINGS": "GOOD"},
    },
    Kind.RETAINING_NUT: {"outside_in": 1.1, "length_in": 1.25},
    Kind.SWIVEL: {"outside_in": 0.9, "length_in": 2.5, "rated_lbf": 6000},
    Kind.PIPE_PULLER: {
        "outside_in": 1.3,
        "length_in": 4,
        "fits_new_in": (1.0,),
        "fits_new_types": ("CTS",),
        "grip": "PLUG_COLLAR",
        "rated_lbf": 2500,
    },
}


def tool(kind, mark="", **changed):
    """One tool of the invented contractor, changed where told."""
    return Component(
        kind=kind, mark=mark or f"{kind.value[:2]}-1", **{**SEEN, **FIGURES[kind], **changed}
    )


def tools(**changed):
    """Return all tools in order; a keyword such as blade={...} changes one, None leaves it out."""
    found = []
    for kind in FIGURES:
        change = changed.pop(kind.value.lower(), {})
        if change is not None:
            found.append(tool(kind, **change))
    assert not changed, changed
    return found


def judge_assembly(answers, **known):
    """Return what the answers to the checklist leave open or wrong, the worst first."""
    return by_severity(row.finding for row in judge_rows(answers, **known) if row.finding)


def good_string(**changed):
    """Return the whole string in order."""
    return as_built(tools(**changed))


def as_built(parts, blade_facing=Facing.FLAT_TO_OLD_PIPE, pulled_end=CableEnd.THICK):
    """Return parts as a crew saw them: the flat end to the old pipe, the thick end pulled."""
    return tool_string(parts, blade_facing=blade_facing, pulled_end=pulled_end)
