"""Force of a pull: what the cable must carry, what the new pipe must bear, and whether to go.

`estimate` is the door; the model, its constants and its limits are in the modules beside it.
"""

from replacements.domain.pull_force.case import (
    Bend,
    Bore,
    Condition,
    Joint,
    JointKind,
    Limit,
    PullCase,
)
from replacements.domain.pull_force.chart import force_chart_svg
from replacements.domain.pull_force.estimate import (
    ForceEstimate,
    ForceParts,
    JointSpike,
    ProfilePoint,
    estimate,
)
from replacements.domain.pull_force.explain import method_text
from replacements.domain.pull_force.parameters import ParameterSet, shipped_parameters
from replacements.domain.pull_force.reach import MOST_FT, Reach, longest_run, relief_psi
from replacements.domain.pull_force.sensitivity import Swing, sensitivity
from replacements.domain.pull_force.simple_check import second_opinion_lbf
from replacements.domain.pull_force.soils import Soil, SoilFamily, own_soil, soil, soils
from replacements.domain.pull_force.spread import Range
from replacements.domain.pull_force.verdict import (
    Check,
    Force,
    Squeeze,
    Verdict,
    anchor_capacity_lbf,
)

__all__ = [
    "MOST_FT",
    "Bend",
    "Bore",
    "Check",
    "Condition",
    "Force",
    "ForceEstimate",
    "ForceParts",
    "Joint",
    "JointKind",
    "JointSpike",
    "Limit",
    "ParameterSet",
    "ProfilePoint",
    "PullCase",
    "Range",
    "Soil",
    "SoilFamily",
    "Reach",
    "Squeeze",
    "Swing",
    "Verdict",
    "anchor_capacity_lbf",
    "estimate",
    "force_chart_svg",
    "method_text",
    "own_soil",
    "second_opinion_lbf",
    "longest_run",
    "relief_psi",
    "sensitivity",
    "shipped_parameters",
    "soil",
    "soils",
]
