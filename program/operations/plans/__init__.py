"""Plans: drawn, changed by hand, drawn again, adopted; never a category, never a rate of record."""

from program.operations.plans.adopting import (
    plan_adopt,
    plan_adoption_undo,
    plan_orders_call_off,
    plan_orders_make,
)
from program.operations.plans.by_hand import (
    area_split,
    areas_lock,
    areas_merge,
    areas_unlock,
    change_tried,
    edit_undo,
    lines_regroup,
)
from program.operations.plans.drawing import plan_advise, plan_draw
from program.operations.plans.inspections import inspections_draw
from program.operations.plans.next_steps import next_steps
from program.operations.plans.running import plan_run
from program.queries.planning.asked import PlanAsked, PlanError
