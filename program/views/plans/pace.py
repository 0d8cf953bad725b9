"""The pace of the running program year: the strip, its weeks, and the lines behind it."""

from django import forms
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.models import Plan
from program.operations.plans.lost_days import lost_day_take_back, lost_days_record
from program.planning.charts import pace_svg
from program.queries.planning.pace import WAITS, Cause, Pace, lost_days, pace_of, waiting_lines
from program.queries.rates import rate_on
from program.views.acts import Act, PageAct
from program.views.permitted import Permitted
from services_inventory.domain.classification import Category
from services_inventory.domain.days import day_told
from services_inventory.forms.days import day_field
from services_inventory.given import number_given
from services_inventory.queries.counts import NOWHERE_WHYS
from services_inventory.queries.counts_now import category_counts_now
from services_inventory.sending import csv_answer

from .board import MANAGE

_ORDERS = ("RETURNED", "RELEASED", "PLANNED")
_ONLY_FOR = {"REVIEW": "replacements.review_work", "WEATHER": MANAGE}
_LOST = "#lost-days"
_SHOWN = 200


def pace_shown(pace: Pace | None, user) -> dict:
    """Return the strip as a template shows it: drawing, sentence, causes with what mends them."""
    if pace is None:
        return {}
    return {
        "pace": pace,
        # Our own drawing; every text in it is escaped there.
        "pace_picture": mark_safe(pace_svg(pace)),
        "pace_waits": [(cause, *_mend(cause, pace, user)) for cause in pace.waits],
        "pace_others": [(cause, *_mend(cause, pace, user)) for cause in pace.others],
    }


def _mend(cause: Cause, pace: Pace, user) -> tuple[str, str]:
    """Return the words and the address of the list or act that mends a cause, if it is theirs."""
    if cause.key in _ONLY_FOR and not user.has_perm(_ONLY_FOR[cause.key]):
        return "", ""
    if cause.key in _ORDERS:
        return "Orders", f"{reverse('work_order_list')}?state={cause.key}"
    if cause.key in NOWHERE_WHYS:
        return "Unplaced lines", f"{reverse('line_unplaced')}?why={cause.key}&open=1"
    plan = pace.plan.pk
    mends = {
        "REVIEW": ("Review them", reverse("review_queue")),
        "NO_ORDER": ("Make orders", reverse("plan", args=[plan]) + "#orders"),
        "UNKNOWN": ("Draw an inspection list", reverse("plan_unknowns") + "#lists"),
        "IDLE": ("What is left from today", reverse("plan_rest", args=[plan, pace.row.number])),
        "WEATHER": ("Record lost days", reverse("plan_pace", args=[plan]) + _LOST),
    }
    return mends.get(cause.key) or ("Record answers", _list(plan, cause.key))


def _list(plan: int, key: str) -> str:
    return f"{reverse('plan_pace', args=[plan])}?waits={key}#lines"


def pace_on(plan: Plan) -> Pace | None:
    """Return the running year's strip as a plan has it today."""
    return pace_of(rate_on(today(), category_counts_now()), today(), plan)


class LostDayForm(forms.Form):
    """Working days that weather took."""

    first = day_field("Day")
    last = day_field("Last day, if another", required=False)
    crew = forms.TypedChoiceField(label="Crew", coerce=int, empty_value=None, required=False)
    reason = forms.CharField(label="What the weather was", max_length=200)

    def __init__(self, data=None, *, crews: int):
        super().__init__(data)
        numbers = [(number, f"Crew {number}") for number in range(1, crews + 1)]
        self.fields["crew"].choices = [("", "Every crew"), *numbers]

    def clean(self):
        """Refuse days to come, and a span that runs backward."""
        data = super().clean()
        for name in ("first", "last"):
            if (day := data.get(name)) and day > today():
                self.add_error(name, f"Today is {day_told(today())}: this day is still to come.")
        if data.get("first") and data.get("last") and data["last"] < data["first"]:
            self.add_error("last", "It is before the first day.")
        return data


class PlanPaceView(Permitted, TemplateView):
    """The strip of one plan with its weeks, and with ?waits= the lines that wait for it."""

    template_name = "program/plan_pace.html"
    form = None

    def get_context_data(self, pk, **kwargs):
        plan = get_object_or_404(Plan, pk=pk)
        pace, key = pace_on(plan), self.request.GET.get("waits", "")
        rows = _lines(plan, pace, key) if key in WAITS and pace else None
        return super().get_context_data(
            plan=plan,
            waits=key if rows is not None else "",
            label=WAITS.get(key),
            rows=None if rows is None else rows[:_SHOWN],
            number=None if rows is None else rows.count(),
            lost=lost_days(pace.row.first_day, pace.as_of)[:_SHOWN] if pace else (),
            form=self.form or LostDayForm(crews=pace.crews if pace else 0),
            can_manage=self.request.user.has_perm(MANAGE),
            **pace_shown(pace, self.request.user),
            **kwargs,
        )


class PlanLostDayView(PageAct, PlanPaceView):
    """Put days that weather took on record."""

    permission_required = MANAGE
    http_method_names = ("post",)

    def thing(self, pk) -> Pace | None:
        return pace_on(get_object_or_404(Plan, pk=pk))

    def filled(self, pace):
        return LostDayForm(self.request.POST, crews=pace.crews if pace else 0)

    def keep(self, pace, given):
        given["last"] = given["last"] or given["first"]
        work_days = pace.work_days if pace else ()
        rows = lost_days_record(**given, work_days=work_days, **self.signed())
        word = "working day is" if len(rows) == 1 else "working days are"
        told = f"{len(rows)} {word} on record as lost to weather."
        return self.done(told, reverse("plan_pace", kwargs=self.kwargs) + _LOST)

    def field_of(self, error):
        return "first"


class PlanLostDayBackView(Act):
    """Take a lost day back."""

    permission_required = MANAGE

    def keep(self, thing, given):
        number = number_given(self.request.POST.get("day"), "Day") or 0
        return f"Taken back: {lost_day_take_back(pk=number, **self.signed())}."

    def back(self, thing):
        return redirect(reverse("plan_pace", kwargs=self.kwargs) + _LOST)


def _lines(plan: Plan, pace: Pace, key: str):
    rows = waiting_lines(plan, pace.row.number, pace.as_of).select_related("premise")
    if key:
        rows = rows.filter(waits=key)
    return rows.order_by("premise__street_key", "premise__house_number", "location_id")


class PlanPaceCsvView(Permitted, View):
    """The weeks as CSV; with ?lines=1 every open line of the areas begun, and what it waits for."""

    def get(self, request, pk):
        plan = get_object_or_404(Plan, pk=pk)
        pace = pace_on(plan)
        if "lines" in request.GET:
            return csv_answer(f"plan_{pk}_waiting_{today()}", _LINE_HEADER, _line_rows(plan, pace))
        return csv_answer(f"plan_{pk}_pace_{today()}", _WEEK_HEADER, _week_rows(pace))


_LINE_HEADER = ("Location id", "Address", "Category", "Waits")
_WEEK_HEADER = ("Week", "To", "Needed", "Planned", "Forecast, 5%", "Forecast, 95%", "Replaced")


def _line_rows(plan: Plan, pace: Pace | None):
    for line in _lines(plan, pace, "") if pace and pace.plan else ():
        word = Category(line.category).label
        yield line.location_id, line.premise.address, word, WAITS[line.waits]


def _week_rows(pace: Pace | None):
    for week in pace.weeks if pace else ():
        figures = (week.needed, week.planned, week.low, week.high)
        told = ("" if figure is None else round(figure, 1) for figure in figures)
        yield week.number, week.last_day, *told, "" if week.done is None else week.done
