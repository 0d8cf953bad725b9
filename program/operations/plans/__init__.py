"""Plans: drawn, changed by hand, drawn again, adopted; never a category, never a rate of record."""

from program.operations.plans.asked import PlanAsked, PlanError
from program.operations.plans.drawing import plan_draw
from program.operations.plans.running import plan_run

__all__ = ["PlanAsked", "PlanError", "plan_draw", "plan_run"]
