"""Unknown lines: how likely each is lead, and which to look at next.

A probability ranks lines for inspection and feeds the forecast. It never makes a category: under
the rule a line stays unknown until evidence settles it.
"""

from program.planning.unknowns.features import BadUnknowns, LineFeatures
from program.planning.unknowns.inspection import (
    Estimate,
    Inspection,
    InspectionList,
    estimate_share,
    inspection_list,
)
from program.planning.unknowns.logistic import LeadModel, fit
from program.planning.unknowns.shares import LeadShares, interval, lead_shares
from program.planning.unknowns.validation import (
    CalibrationBin,
    Comparison,
    calibration_curve,
    choose,
    compare,
    spatial_folds,
)
