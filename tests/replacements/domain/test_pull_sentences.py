"""What an estimate tells a crew, read by a person and written down; a changed word is a diff.

`UPDATE_SENTENCES=1` writes `pull_sentences.txt` anew: read the difference before it is kept.
"""

import os
from dataclasses import replace
from pathlib import Path

from replacements.domain.methods import Method
from replacements.domain.pull_force import Condition, Joint, JointKind, Limit, estimate
from replacements.domain.pull_force.case import DragLimit, RigidString
from replacements.domain.pull_force.verdict import use_told

from .own_soil import own_soil
from .test_pull_force import case

APPROVED = Path(__file__).with_name("pull_sentences.txt")
CRANKED = ((12.0, 60.0, None), (20.0, 45.0, 30.0), (25.0, 90.0, 90.0))
CASES = {
    "nothing speaks against it": {},
    "parts near and over their limit": {
        "limits_lbf": {**dict.fromkeys(Limit, 4000.0), Limit.CLEVIS: 900.0, Limit.ANCHOR: 1300.0},
        "drag_limits_lbf": {DragLimit.BREAKAWAY_LINK: 120.0, DragLimit.PIPE_PULLER: 150.0},
        "pipe_allowable_lbf": 260.0,
    },
    "parts that nobody rated": {
        "limits_lbf": {},
        "drag_limits_lbf": {DragLimit.BREAKAWAY_LINK: None},
        "pipe_allowable_lbf": None,
    },
    "a link above the pipe": {"drag_limits_lbf": {DragLimit.BREAKAWAY_LINK: 2000.0}},
    "every condition at once": {"conditions": set(Condition)},
    "an old pipe that is no lead": {"old_material": "GALVANIZED"},
    "the same with rods": {"old_material": "GALVANIZED", "method": Method.ROD_SPLIT},
    "joints that cannot be cut": {"joints": [Joint(7, kind=JointKind.CURB_STOP)]},
    "many joints and bends": {
        "joints": [(3,), (9,)],
        "bends": CRANKED,
        "bend_limit_in": 35.0,
        "bend_source": "the pipe's maker",
        "rigid": RigidString(nose_in=4.0, length_in=9.0, pilot_in=0.5),
    },
    "bends too tight for the nose, none of the string known": {
        "bends": ((10.0, 30.0, 2.0),),
        "rigid": RigidString(nose_in=4.0, length_in=9.0, pilot_in=0.55),
    },
    "no string with lengths": {"bends": ((10.0, 30.0, 12.0),)},
    "a nose without room": {
        "bends": ((10.0, 30.0, 12.0),),
        "rigid": RigidString(nose_in=4.0, length_in=9.0, pilot_in=0.625),
    },
    "rods round bends": {"method": Method.ROD_SPLIT, "bends": CRANKED},
    "drawn out, too long, with joints": {
        "method": Method.PULL_OUT, "length_ft": 90.0, "joints": [Joint(40, kind=JointKind.CLAMP)],
        "bends": ((10.0, 30.0, 12.0),),
    },
    "wet sand and much assumed": {
        "soil": "LOOSE_SAND", "groundwater": True, "grip_efficiency": None,
        "assumed": {"soil", "cover_ft", "length_ft"},
    },
    "the same, the groundwater assumed": {
        "soil": "LOOSE_SAND", "groundwater": True, "assumed": {"groundwater"},
    },
    "drawn out of sand": {
        "method": Method.PULL_OUT, "soil": "LOOSE_SAND", "length_ft": 60.0,
    },
    "iron drawn out, however long": {
        "method": Method.PULL_OUT, "length_ft": 90.0, "old_material": "LEAD_LINED_GALVANIZED",
        "limits_lbf": dict.fromkeys(Limit, 1e6),
    },
    "an old pipe of two words": {"old_material": "LEAD_LINED_GALVANIZED"},
    "as many bends and joints as are no doubt yet": {
        "bends": ((10.0, 120.0, 200.0),), "joints": [(9,)],
        "rigid": RigidString(nose_in=4.0, length_in=9.0, pilot_in=0.5),
    },
    "a link that never parts": {
        "drag_limits_lbf": {DragLimit.BREAKAWAY_LINK: float("inf")},
    },
    "a link at the pipe's limit": {"drag_limits_lbf": {DragLimit.BREAKAWAY_LINK: 810.0}},
    "clay that squeezes": {"soil": own_soil("CLAY", 110, 150, 60), "cover_ft": 9.0},
}  # fmt: skip


def told(changes: dict) -> list[str]:
    made = estimate(case(**changes))
    rows = [f"  {made.verdict.value}"]
    for finding in made.findings:
        found = replace(finding, value=None if finding.value is None else round(finding.value, 2))
        at = "" if found.at_ft is None else f" at {found.at_ft:g} ft"
        value = "" if found.value is None else f" ({found.value:g})"
        rows += [
            f"  {found.level} {found.rule}{at}{value}",
            f"    {found.message}",
            f"    {found.do} [{found.source}]",
        ]
    return rows


def test_every_sentence_is_the_one_that_was_read():
    text = "\n".join(line for name, changes in CASES.items() for line in (name, *told(changes)))
    if os.environ.get("UPDATE_SENTENCES"):
        APPROVED.write_text(f"{text}\n", encoding="utf-8")
    assert f"{text}\n" == APPROVED.read_text(encoding="utf-8")


def test_a_use_is_told_rounded_up():
    assert [use_told(use) for use in (0.5, 0.501, 1.0, 1.0001)] == ["50%", "51%", "100%", "101%"]
