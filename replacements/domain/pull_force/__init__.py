"""Force of a pull: what the cable must carry, what the new pipe must bear, and whether to go.

`estimate` is the door; the model, its constants and its limits are in the modules beside it.
"""

from replacements.domain.pull_force.arching import DragBasis, arching_psf, stability_number
from replacements.domain.pull_force.assumed import ASSUMED, assumed_told
from replacements.domain.pull_force.bends import least_radius_in
from replacements.domain.pull_force.case import (
    MORE_LIMITS,
    Bend,
    Bore,
    Condition,
    DragLimit,
    Joint,
    JointKind,
    Limit,
    PullCase,
    RigidString,
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
from replacements.domain.pull_force.sensitivity import Measurement, Swing, measurements, sensitivity
from replacements.domain.pull_force.soils import Soil, SoilFamily, soil, soils
from replacements.domain.pull_force.spread import RANGE_COVERS, Range
from replacements.domain.pull_force.verdict import (
    Check,
    Force,
    Squeeze,
    Verdict,
    anchor_capacity_lbf,
    part_told,
    use_told,
)
