"""Pages of the plan: the planning board, scenarios, one plan, its areas, crews and inspections."""
