"""The planning board, the scenarios, drawing a new one, and two side by side."""

from django.contrib import messages
from django.http import JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import Plan
from program.operations.plans import PlanError
from program.queries.planning.board import (
    COLUMNS,
    LONG,
    ORDERS,
    board_shapes,
    latest_plan,
    planning_board,
    sorted_board,
)
from program.queries.planning.comparing import (
    compare_plans,
    odds_rows,
    settings_differences,
    year_rows,
)
from program.queries.planning.pages import plans_shown
from program.views.acts import Act, PageAct
from program.views.permitted import Permitted
from services_inventory.domain.days import day_told
from services_inventory.given import number_given
from services_inventory.models import Batch, Neighborhood
from services_inventory.operations.batches import batch_open, batch_queue, batch_stop
from services_inventory.queries.batches import batch_progress
from services_inventory.sending import csv_answer
from services_inventory.views.batches import ProgressView

from .forms import PlanForm

MANAGE = "program.manage_program"


class PlanListView(Permitted, TemplateView):
    """The planning board by neighborhood, and every scenario."""

    template_name = "program/plan_list.html"

    def get_context_data(self, **kwargs):
        """Give the board in the order asked for, and the plans."""
        plan = latest_plan()
        rows, order = sorted_board(
            planning_board(today(), plan), self.request.GET.get("sort", "-remaining")
        )
        running = Batch.objects.filter(kind="PLAN", state__in=("QUEUED", "APPLYING"))
        return super().get_context_data(
            rows=rows,
            order=order,
            columns=[(key, label, _other_way(key, order)) for key, label in COLUMNS],
            plan=plan,
            plans=plans_shown(),
            running=list(running.order_by("-id")[:5]),
            orders=ORDERS,
            measures=[(key, label) for key, label in COLUMNS if key != "name"],
            has_boundaries=Neighborhood.objects.filter(boundary_wkb__isnull=False).exists(),
            **kwargs,
        )


def _other_way(key: str, order: str) -> str:
    return key if order == f"-{key}" or (key == "name" and order != "name") else f"-{key}"


class PlanBoardShapesView(Permitted, View):
    """The boundaries with the board's figures, for its map."""

    def get(self, request):
        return JsonResponse(board_shapes(planning_board(today(), latest_plan())))


class PlanBoardCsvView(Permitted, View):
    """The board as CSV."""

    _MORE = (("expected_low", "Expected, low (5%)"), ("expected_high", "Expected, high (95%)"))

    def get(self, request):
        rows, _ = sorted_board(
            planning_board(today(), latest_plan()), request.GET.get("sort", "-remaining")
        )
        columns = (*COLUMNS, *self._MORE)
        return csv_answer(
            f"planning_board_{today():%Y-%m-%d}",
            [LONG.get(key, label) for key, label in columns],
            ([row[key] for key, _ in columns] for row in rows),
        )


class PlanNewView(PageAct, TemplateView):
    """The settings of a new plan: those of an earlier one with ?from=, or of the adopted one."""

    template_name = "program/plan_new.html"
    permission_required, form_class = MANAGE, PlanForm
    form = None

    def get_context_data(self, **kwargs):
        """Give the form, and the plan that its values are those of."""
        start = None if self.form else self._from()
        form = self.form or PlanForm(again=start)
        places = Neighborhood.objects.order_by("name").values_list("name", flat=True)
        return super().get_context_data(form=form, start=start, places=places, **kwargs)

    def _from(self) -> Plan | None:
        """The plan asked for; the adopted one where none is; none at all with ?from=0."""
        number = number_given(self.request.GET.get("from"), "Plan to begin with")
        if number is None:
            return Plan.objects.filter(state=Plan.State.ADOPTED).first()
        return get_object_or_404(Plan, pk=number) if number else None

    def filled(self, thing):
        return PlanForm(self.request.POST)

    def keep(self, thing, given):
        name = given["name"] or f"Plan of {day_told(today())}"
        return drawing(self.request, name, self.form.asked)


def queued(request, title: str, parameters: dict) -> Batch:
    """Hand something of a plan to the worker."""
    batch = batch_open(
        kind="PLAN", by=request.user.get_username(), at=now(), title=title[:200],
        parameters={**parameters, "as_of": today().isoformat()},
    )  # fmt: skip
    return batch_queue(batch=batch)


def drawing(request, name: str, settings: dict):
    """Hand the drawing of a plan to the worker, and lead to where it is followed."""
    asked = {"settings": settings, "name": name}
    return redirect("plan_run", queued(request, f"Draw {name}", asked).pk)


class PlanAdviceView(Act):
    """Draw a plan with one of the changes tried for it, or have changes tried."""

    permission_required, model, page = MANAGE, Plan, "plan"

    def keep(self, plan, given):
        post = self.request.POST
        if not {"change", "step"} & set(post):
            title, asked = f"Try what would help {plan.name}", {"advise": plan.pk}
            return redirect("plan_run", queued(self.request, title, asked).pk)
        row = _change_of(plan, post)
        if row is None or not row["settings"]:
            raise PlanError("This change isn't among those tried any more: choose again.")
        kind = row["kind"].lower()
        name = f"{plan.name[: 110 - len(kind)]}, {kind}"
        return drawing(self.request, name, {**plan.settings, **row["settings"]})


def _change_of(plan: Plan, given) -> dict | None:
    """Return the change of a plan's settings that a button stands for, by its number from 1."""
    name, rows = "change", plan.result.get("advice", {}).get("rows", [])
    if "step" in given:
        name, rows = "step", plan.result.get("next_steps", {}).get("steps", [])
    number = number_given(given[name], "Change")
    return rows[number - 1] if number is not None and 1 <= number <= len(rows) else None


class PlanRunView(Permitted, TemplateView):
    """How far a drawing is; leads to the plan or the inspection list when it is there."""

    template_name = "program/plan_run.html"

    def get(self, request, pk):
        batch = get_object_or_404(Batch, pk=pk, kind="PLAN")
        if "inspections" in batch.result and batch.state == Batch.State.APPLIED:
            messages.success(request, batch.message)
            return redirect(reverse("plan_unknowns") + "#lists")
        plan = Plan.objects.filter(pk=batch.result.get("plan")).first()
        if plan and batch.state == Batch.State.APPLIED and "next_steps" in batch.parameters:
            messages.success(request, batch.message)
            return redirect("plan_next", plan.pk)
        if plan and batch.state == Batch.State.APPLIED:
            say = messages.warning if plan.result["clash"] else messages.success
            say(request, batch.message)
            return redirect("plan", plan.pk)
        context = self.get_context_data(batch=batch, progress=batch_progress(batch, now()))
        return self.render_to_response(context)


class PlanProgressView(Permitted, ProgressView):
    """How far the drawing of a plan is."""

    batches = Batch.objects.filter(kind="PLAN")


class PlanStopView(Act):
    """Ask a drawing to stop."""

    permission_required, page = MANAGE, "plan_run"
    model = Batch.objects.filter(kind="PLAN")

    def keep(self, batch, given):
        batch_stop(batch=batch)
        return "It will stop at its next step. Nothing of it is kept."


class PlanCompareView(Permitted, TemplateView):
    """Two plans side by side."""

    template_name = "program/plan_compare.html"

    def get(self, request, *args, **kwargs):
        """Show the page, or send its neighborhoods as CSV with ?csv=1."""
        before, after = self._chosen("before"), self._chosen("after")
        if "csv" not in request.GET or not (before and after):
            return super().get(request, *args, **kwargs)
        rows = compare_plans(before, after).rows()
        header = list(rows[0]) if rows else ["neighborhood"]
        name = f"plans_{before.pk}_and_{after.pk}"
        return csv_answer(name, header, ([row[key] for key in header] for row in rows))

    def get_context_data(self, **kwargs):
        """Give the comparison of ?before= and ?after=, and the choice of others."""
        plans = plans_shown()
        before, after = self._chosen("before"), self._chosen("after")
        found = compare_plans(before, after) if before and after else None
        return super().get_context_data(
            plans=plans,
            before=before,
            after=after,
            found=found,
            odds=odds_rows(found) if found else [],
            settings=settings_differences(before, after) if found else [],
            year_rows=year_rows(before, after) if found else [],
            **kwargs,
        )

    def _chosen(self, name: str) -> Plan | None:
        number = number_given(self.request.GET.get(name), "Plan")
        return None if number is None else get_object_or_404(Plan, pk=number)
