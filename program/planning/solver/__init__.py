"""The year plan and its crews, drawn by an exact solver with a proven gap."""

from program.planning.solver.case import (
    BoundMoney,
    CannotPlan,
    Placement,
    Plan,
    PlanArea,
    PlanCase,
    PlanSettings,
    PlanYear,
    Quota,
    Relaxation,
    YearRow,
)
from program.planning.solver.checks import problems
from program.planning.solver.draw import draw, plan_cost, year_rows
