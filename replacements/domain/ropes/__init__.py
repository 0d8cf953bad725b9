"""Wire rope: how strong it is, how much of that may be used, and when it is retired."""

from replacements.domain.ropes.retirement import RopeInspection, retirement_findings
from replacements.domain.ropes.strength import (
    DesignFactorTooLow,
    Rope,
    RopeError,
    UnknownRope,
    bend_efficiency,
    breaking_force_lbf,
    constructions,
    design_factor_findings,
    design_factor_floor,
    holds_a_pull,
    rope,
    strongest_lbf,
    termination_codes,
    termination_efficiency,
    working_limit_lbf,
)
