"""Sliders for crews, budget and inspections, which stand on scenarios that were solved."""

from django.shortcuts import get_object_or_404
from django.views.generic import TemplateView

from program.clock import today
from program.models import Plan
from program.operations.plans import PlanError
from program.operations.plans.grid import grid_queue, settings_at
from program.queries.planning.grid import grid_of, point_of
from program.views.acts import Act
from program.views.permitted import Permitted
from services_inventory.given import number_given
from services_inventory.operations.batches import batch_stop

from .board import MANAGE, drawing


class PlanGridView(Permitted, TemplateView):
    """The scenario that the sliders stand on, and which others are solved or wait."""

    template_name = "program/plan_grid.html"

    def get_template_names(self):
        """The tables alone with ?tables=1, while they fill."""
        return ["program/_plan_grid.html" if "tables" in self.request.GET else self.template_name]

    def get_context_data(self, pk, **kwargs):
        plan = get_object_or_404(Plan, pk=pk)
        grid = grid_of(plan)
        point = point_of(grid, _given(self.request.GET)) if grid else None
        return super().get_context_data(
            plan=plan,
            grid=grid,
            point=point,
            sliders=[
                (label, axis, place, told)
                for (label, axis), place, told in zip(
                    grid["axes"], point["place"], point["labels"], strict=True
                )
            ]
            if grid
            else [],
            can_manage=self.request.user.has_perm(MANAGE),
            **kwargs,
        )


def _given(said) -> dict[str, int | None]:
    names = {"crews": "Crews", "budget": "Budget", "inspections": "Inspections"}
    return {name: number_given(said.get(name), label) for name, label in names.items()}


class PlanGridActView(Act):
    """Have the scenarios solved, stop that, or draw a plan with one of them."""

    permission_required, model, page = MANAGE, Plan, "plan_grid"

    def keep(self, plan, given):
        grid, post = grid_of(plan), self.request.POST
        if "draw" in post and grid:
            return self._draw(plan, point_of(grid, _given(post)), grid)
        if "stop" in post and grid:
            batch_stop(batch=grid["batch"])
            return "It stops; what is solved by then stays."
        grid_queue(plan=plan, as_of=today(), **self.signed())
        return self.back(plan)

    def _draw(self, plan, point, grid):
        if point["state"] != "SOLVED":
            raise PlanError("There is no solved plan at these sliders: choose another.")
        told = ", ".join(point["labels"])
        name = f"{plan.name[: 118 - len(told)]}, {told}"[:120]
        axes = tuple(axis for _, axis in grid["axes"])
        return drawing(self.request, name, settings_at(plan, axes, point["place"]))
