"""One plan: its years, map, calendar, odds; changing it by hand; adopting it."""

from django.contrib import messages
from django.http import JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.dateparse import parse_date
from django.utils.safestring import mark_safe
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import Plan, PlanArea
from program.operations.plans import (
    PlanError,
    plan_adopt,
    plan_adoption_undo,
    plan_orders_call_off,
)
from program.planning.charts import fan_chart_svg, gantt_svg, waits_svg
from program.planning.crew_calendar import BadCalendar
from program.queries.planning.adoption import adoption_of
from program.queries.planning.asked import PlanAsked
from program.queries.planning.calendar import days_closed, working_time_told
from program.queries.planning.comparing import forecast_of
from program.queries.planning.fairness import fairness_of, fairness_rows, shares_by_year
from program.queries.planning.money import money_of
from program.queries.planning.pages import (
    areas_of,
    lines_of,
    priority_table,
    score_parts,
    shapes_of,
    since,
)
from program.queries.planning.plan_calendars import calendars, rest_of
from program.queries.planning.works import digging_of
from program.views.acts import Act
from program.views.permitted import Permitted
from services_inventory.domain.days import day_told
from services_inventory.sending import csv_answer

from .board import MANAGE, queued
from .forms import OrdersForm
from .pace import pace_on, pace_shown


class PlanView(Permitted, TemplateView):
    """One plan whole."""

    template_name = "program/plan.html"

    def get_context_data(self, pk, **kwargs):
        plan = get_object_or_404(Plan, pk=pk)
        forecast = forecast_of(plan)
        years = calendars(plan)
        for row in years:
            title = f"Program year {row['year']}: crew calendar"
            # Our own drawing; every text in it is escaped there.
            row["picture"] = mark_safe(gantt_svg(row["rows"], title))
        return super().get_context_data(
            plan=plan,
            result=plan.result,
            areas=areas_of(plan),
            years=years,
            working_time=working_time_told(PlanAsked.again(plan.settings)),
            fan=mark_safe(fan_chart_svg(forecast)) if forecast else "",
            since=since(plan, today()),
            priority=priority_table(plan),
            orders_form=_orders_form(plan),
            can_manage=self.request.user.has_perm(MANAGE),
            adopted=Plan.objects.filter(state=Plan.State.ADOPTED).exclude(pk=pk).first(),
            advised_on=parse_date(plan.result.get("advice", {}).get("tried_on", "")),
            adoptions=plan.adoptions.select_related("instead_of").order_by("id"),
            **_beside(plan),
            **pace_shown(pace_on(plan), self.request.user),
            **kwargs,
        )


def _beside(plan: Plan) -> dict:
    """What is read of a plan beside itself: who waits, who pays, who else digs."""
    return {
        "fairness": fairness_of(plan),
        "money": money_of(plan),
        "digging": digging_of(plan, today()),
    }


def _orders_form(plan: Plan, data=None) -> OrdersForm:
    years = [row["year"] for row in plan.result["years"] if row["areas"]]
    return OrdersForm(data, years=years)


class PlanFairnessView(Permitted, TemplateView):
    """Who waits how long, by quarter of the figure chosen with ?by=, as evidence of the order."""

    template_name = "program/plan_fairness.html"

    def get(self, request, pk):
        """Show the page, or send its table as CSV with ?csv=1."""
        plan = get_object_or_404(Plan, pk=pk)
        found = fairness_of(plan, request.GET.get("by", ""))
        if "csv" in request.GET:
            years = [f"Lines in program year {year}" for year in found["years"]] if found else []
            header = (*_FAIRNESS_HEADER, *years)
            rows = fairness_rows(found) if found else []
            return csv_answer(f"plan_{pk}_who_waits", header, rows)
        context = self.get_context_data(plan=plan, found=found, priority=priority_table(plan))
        if found:
            title = f"Mean wait by “{found['factor'].label}”"
            # Our own drawing; every text in it is escaped there.
            context["picture"] = mark_safe(waits_svg(found["quarters"], title))
            context["rows"] = [
                (row, shares_by_year(row, found["years"])) for row in found["quarters"]
            ]
        return self.render_to_response(context)


_FAIRNESS_HEADER = (
    "Quarter", "Neighborhoods (figure)", "Lead, GRR and expected lines", "Mean wait, years",
    "Longest wait, years",
)  # fmt: skip


class PlanRestView(Permitted, TemplateView):
    """What is left of one program year from today, with what is done taken off."""

    template_name = "program/plan_rest.html"

    def get_context_data(self, pk, year, **kwargs):
        """Give the rows and their picture, or the sentence why there are none."""
        plan = get_object_or_404(Plan, pk=pk)
        rows, why = _rest(plan, year)
        title = f"Program year {year} from {day_told(today())}"
        return super().get_context_data(
            plan=plan,
            year=year,
            rows=rows,
            why=why,
            crews=sorted({row.crew for row in rows}),
            picture=mark_safe(gantt_svg(rows, title)),
            **kwargs,
        )


def _rest(plan: Plan, year: int):
    try:
        return rest_of(plan, year, today()), ""
    except (BadCalendar, ValueError) as error:
        return [], str(error)


class PlanShapesView(Permitted, View):
    """The areas' outlines, for the map."""

    def get(self, request, pk):
        return JsonResponse(shapes_of(get_object_or_404(Plan, pk=pk)))


class PlanAreaView(Permitted, TemplateView):
    """One work area: its lines, its score opened, and what may be done with it."""

    template_name = "program/plan_area.html"

    def get_context_data(self, pk, area, **kwargs):
        found = get_object_or_404(PlanArea.objects.select_related("plan"), pk=area, plan_id=pk)
        others = found.plan.areas.filter(neighborhood=found.neighborhood).exclude(pk=found.pk)
        changeable = found.plan.state == Plan.State.DRAWN
        return super().get_context_data(
            area=found,
            plan=found.plan,
            lines=lines_of(found),
            parts=score_parts(found),
            closed=days_closed(found.closed),
            years=[row["year"] for row in found.plan.result["years"]],
            others=others.order_by("key"),
            can_change=changeable and self.request.user.has_perm(MANAGE),
            **kwargs,
        )


class PlanAdoptView(Permitted, TemplateView):
    """What adopting a plan would change; adopt it, and have the season's planned orders made."""

    permission_required = MANAGE
    template_name = "program/plan_adopt.html"

    def get_context_data(self, pk, **kwargs):
        """Give the plan, the one in force, and what changes from that to this."""
        plan = get_object_or_404(Plan, pk=pk)
        in_force = Plan.objects.filter(state=Plan.State.ADOPTED).exclude(pk=pk).first()
        return super().get_context_data(
            plan=plan,
            in_force=in_force,
            change=adoption_of(plan, in_force) if in_force else None,
            orders_form=_orders_form(plan),
            **kwargs,
        )

    def post(self, request, pk):
        """Freeze it; without orders asked for, they can be made later."""
        plan = get_object_or_404(Plan, pk=pk)
        form = _orders_form(plan, request.POST) if "orders" in request.POST else None
        if form is not None and not form.is_valid():
            messages.error(request, _said(form) + " Nothing was adopted.")
            return redirect("plan_adopt", pk)
        try:
            plan_adopt(plan=plan, reason=request.POST.get("reason", ""), **_who(request))
        except PlanError as error:
            messages.error(request, str(error))
            return redirect("plan_adopt", pk)
        messages.success(request, f"{plan.name} is adopted.")
        if form is None:
            return redirect("plan", pk)
        return _orders_queued(request, plan, form)


def _who(request) -> dict:
    return {"by": request.user.get_username(), "at": now()}


def _said(form) -> str:
    return " ".join(sentence for errors in form.errors.values() for sentence in errors)


def _orders_queued(request, plan: Plan, form: OrdersForm):
    """Hand the making of one year's orders to the worker."""
    year = form.cleaned_data["year"]
    asked = {"orders_of": plan.pk, "year": year, "shares": form.shares()}
    return redirect("plan_run", queued(request, f"Orders of program year {year}", asked).pk)


class PlanAdoptionUndoView(Act):
    """Take an adoption back, or call off the planned orders and leave the plan in force."""

    permission_required, model, page = MANAGE, Plan, "plan"

    def keep(self, plan, given):
        post = self.request.POST
        given = {"plan": plan, "reason": post.get("reason", ""), **self.signed()}
        if "orders" in post:
            return f"{plan_orders_call_off(**given):,} planned orders are called off."
        before = plan_adoption_undo(**given)
        said = f"{plan.name} is not adopted any more."
        return said + (f" {before.name} is in force again." if before else "")


class PlanOrdersView(Act):
    """Make the packages and planned orders of one year of the adopted plan."""

    permission_required, model, page = MANAGE, Plan, "plan"

    def filled(self, plan):
        return _orders_form(plan, self.request.POST)

    def keep(self, plan, given):
        if plan.state != Plan.State.ADOPTED:
            raise PlanError(f"{plan.name} isn't adopted.")
        return _orders_queued(self.request, plan, self.form)
