"""Downloads of a plan: areas, lines, priority, crew calendars; and the inspection lists."""

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.utils.safestring import mark_safe
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.models import InspectionDraw, Plan
from program.planning.crew_calendar import BadCalendar, csv_rows, ics_bytes
from program.queries.planning.asked import PlanAsked
from program.queries.planning.board import latest_plan
from program.queries.planning.inspections import (
    HEADER,
    calibration_rows,
    calibration_svg,
    highest_share,
    inspection_draws,
    inspection_rows,
)
from program.queries.planning.money import money_rows
from program.queries.planning.pages import areas_of
from program.queries.planning.plan_calendars import calendar_of, rest_of
from program.views.acts import Act
from program.views.permitted import Permitted
from services_inventory.sending import attached, csv_answer

from .board import MANAGE, queued
from .forms import InspectionForm

AREA_HEADER = (
    "Area", "Where", "Neighborhood", "Program year", "Crew", "Order in year", "Starts on",
    "Ends on", "Jobs", "Lead", "GRR", "Unknown", "Replacements expected", "Cost of replacements",
    "Cost of inspections", "Cost", "Priority points", "Locked",
)  # fmt: skip


class PlanCsvView(Permitted, View):
    """The areas of a plan as CSV."""

    def get(self, request, pk):
        plan = get_object_or_404(Plan, pk=pk)
        looking = PlanAsked.again(plan.settings).cost_per_inspection
        rows = (_area_row(area, looking) for area in areas_of(plan))
        return csv_answer(f"plan_{pk}_areas", AREA_HEADER, rows)


def _area_row(area, cost_per_inspection: float) -> tuple:
    """An area; its unknown lines are its inspections, in whichever year they are looked at."""
    hood = area.neighborhood.name if area.neighborhood else ""
    looking = area.unknown * cost_per_inspection
    expected = area.lead + area.grr + area.score_parts.get("expected", 0)
    return (
        area.key, area.name, hood, area.program_year, area.crew, area.order_in_year,
        area.starts_on, area.ends_on, area.jobs, area.lead, area.grr, area.unknown,
        round(expected, 2), area.cost, looking, area.cost + looking,
        round(area.score, 2), "yes" if area.locked else "no",
    )  # fmt: skip


class PlanLinesView(Permitted, View):
    """Every line of a plan with its area and year, as CSV."""

    def get(self, request, pk):
        plan = get_object_or_404(Plan, pk=pk)
        rows = plan.area_lines.order_by("area__key", "line__location_id").values_list(
            "line__location_id", "line__premise__address", "line__category", "area__key",
            "area__program_year", "area__crew",
        )  # fmt: skip
        header = ("Location id", "Address", "Category today", "Area", "Program year", "Crew")
        return csv_answer(f"plan_{pk}_lines", header, rows.iterator(5_000))


class PlanMoneyView(Permitted, View):
    """What each source pays in each program year, as CSV."""

    def get(self, request, pk):
        header = (
            "Program year",
            "Source",
            "Kind",
            "Given",
            "Spent",
            "Left",
            "Only in",
            "Condition",
        )
        rows = money_rows(get_object_or_404(Plan, pk=pk))
        return csv_answer(f"plan_{pk}_money", header, rows)


class PlanPriorityView(Permitted, View):
    """Every neighborhood's score opened into its parts, as CSV."""

    def get(self, request, pk):
        rows = get_object_or_404(Plan, pk=pk).result["priority"]
        header = list(rows[0]) if rows else ["place"]
        return csv_answer(
            f"plan_{pk}_priority", header, ([row.get(key) for key in header] for row in rows)
        )


class PlanCalendarView(Permitted, View):
    """One year's crew calendar as CSV; with ?rest=1, what is left of it from today."""

    def get(self, request, pk, year):
        plan = get_object_or_404(Plan, pk=pk)
        rows = _rows(plan, year, None, rest="rest" in request.GET)
        name = f"plan_{pk}_year_{year}_calendar"
        return attached(csv_rows(rows), f"{name}.csv", "text/csv")


class PlanIcsView(Permitted, View):
    """One crew's year as an iCalendar file; with ?rest=1, what is left of it from today."""

    def get(self, request, pk, year, crew):
        plan = get_object_or_404(Plan, pk=pk)
        rest = "rest" in request.GET
        rows = [row for row in _rows(plan, year, crew, rest=rest) if row.crew == crew]
        if not rows:
            raise Http404
        name = f"Crew {crew}, program year {year}"
        content = ics_bytes(rows, name=name, stamped=today() if rest else plan.drawn_on)
        file_name = f"plan_{pk}_{year}_crew_{crew}.ics"
        return attached(content, file_name, "text/calendar; charset=utf-8")


def _rows(plan: Plan, year: int, crew: int | None, *, rest: bool):
    try:
        return rest_of(plan, year, today()) if rest else calendar_of(plan, year, crew)
    except (BadCalendar, ValueError) as error:
        raise Http404(str(error)) from error


class PlanUnknownsView(Permitted, TemplateView):
    """How the chance of lead is guessed, how well, and which unknown lines to look at next."""

    template_name = "program/plan_unknowns.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the comparison kept with the latest plan, and the drawn lists."""
        plan = latest_plan()
        unknowns = plan.result.get("unknowns", {}) if plan else {}
        comparison = unknowns.get("comparison")
        return super().get_context_data(
            plan=plan,
            unknowns=unknowns,
            back_test=_latest_back_test(),
            comparison=comparison,
            bins=calibration_rows(comparison) if comparison else [],
            pictures=_pictures(comparison) if comparison else [],
            draws=inspection_draws(),
            form=self.form or InspectionForm(),
            can_manage=self.request.user.has_perm(MANAGE),
            **kwargs,
        )


def _latest_back_test() -> dict | None:
    """Return that of the plan drawn last, adopted or not; None where none was made."""
    last = Plan.objects.order_by("-id").values_list("result__back_test", flat=True).first()
    return last if isinstance(last, dict) else None


def _pictures(comparison: dict) -> list[str]:
    model, rate = comparison["calibration"], comparison["base_calibration"]
    pairs = (model, "Model"), (rate, "Neighborhood and decade rate")
    whole = highest_share([*model, *rate])
    # Our own drawing, made of numbers only.
    return [mark_safe(calibration_svg(bins, title, whole)) for bins, title in pairs]


class PlanInspectionsView(Act):
    """Have an inspection list drawn by the worker."""

    permission_required, form_class, page = MANAGE, InspectionForm, "plan_unknowns"

    def keep(self, thing, given):
        share = given.pop("random_percent") / 100
        asked = {"budget": given["budget"], "random_share": share, "seed": given["seed"]}
        title = f"List of {given['budget']:,} inspections"
        return redirect("plan_run", queued(self.request, title, {"inspections": asked}).pk)


class PlanInspectionCsvView(Permitted, View):
    """An inspection list as CSV."""

    def get(self, request, pk):
        draw = get_object_or_404(InspectionDraw, pk=pk)
        return csv_answer(f"inspections_{pk}", HEADER, inspection_rows(draw))
