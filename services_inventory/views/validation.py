"""Validation of non-lead lines: pool, draw, visits, results, report."""

from django.contrib import messages
from django.http import Http404
from django.utils.functional import cached_property
from django.views import View
from django.views.generic import TemplateView

from ..forms.evidence import WORDS, ReasonForm
from ..forms.validation import DrawForm, PointFormSet, VisitForm
from ..models import ValidationPick
from ..operations.validation import (
    pick_points_missing,
    pick_result_record,
    pick_result_withdraw,
    validation_draw,
)
from ..policy import rules_in_force
from ..queries.validation import (
    draw_state,
    draw_with,
    latest_draws,
    pick_with,
    pool_by_rule,
    visit_rows,
)
from ..sending import csv_answer, file_as_kept
from ..today import now, today
from .acts import Act, PageAct
from .permitted import Permitted

RULES_NAMED = (
    "VALIDATION_TABLE",
    "VALIDATION_POINTS",
    "VALIDATION_POINTS_PER_PORTION",
    "VALIDATION_NO_ACCESS",
    "VALIDATION_FINDING",
    "VALIDATION_REPORT",
    "VALIDATION_DEADLINE",
    "VALIDATION_RESULTS_DUE",
)


class ValidationView(Permitted):
    """Who may run the validation."""

    permission_required = "services_inventory.run_validation"


def rules_named() -> list:
    """Return the rule's rows that these pages work by, as in force today."""
    rules = rules_in_force()
    return [rules.get(rule_id, today()) for rule_id in RULES_NAMED]


class ValidationListView(ValidationView, PageAct, TemplateView):
    """The pool by rule, the required number, the draws so far, and a new draw."""

    template_name = "services_inventory/validation_list.html"
    form_class, form = DrawForm, None

    def get_context_data(self, **kwargs):
        rules, day = rules_in_force(), today()
        return super().get_context_data(
            pool=pool_by_rule(rules, day),
            states=[draw_state(draw, day, rules) for draw in latest_draws()],
            values=rules_named(),
            form=self.form or DrawForm(),
            **kwargs,
        )

    def keep(self, thing, given):
        made = validation_draw(by=self.by, drawn_on=today(), **given)
        told = f"Drawn: {made.required} of {made.pool_size} lines."
        return self.done(told, "validation_draw", made.pk)


class OneDraw(ValidationView, TemplateView):
    """What shows one draw."""

    def get_context_data(self, pk, **kwargs):
        draw = draw_with(pk)
        if draw is None:
            raise Http404
        state = draw_state(draw, today(), rules_in_force())
        return super().get_context_data(state=state, draw=draw, values=rules_named(), **kwargs)


class DrawView(OneDraw):
    """The lines to visit, in order, with their results."""

    template_name = "services_inventory/validation_draw.html"


class PoolListView(ValidationView, View):
    """The pool that a draw was made from, as it was kept then."""

    def get(self, request, pk):
        draw = draw_with(pk)
        if draw is None or draw.pool_list is None:
            raise Http404
        kept = draw.pool_list
        return file_as_kept(kept.file, kept.sha256, kept.name, content_type="text/csv")


class ReportView(OneDraw):
    """The report of a draw."""

    template_name = "services_inventory/validation_report.html"


class VisitListView(OneDraw):
    """The visit list as CSV."""

    def render_to_response(self, context, **kwargs):
        header, *rows = visit_rows(context["state"])
        return csv_answer(f"validation_{context['draw'].pk}", header, rows)


class PickTakeBackView(ValidationView, Act):
    """Taking the result of a visit back."""

    model, form_class, page = ValidationPick, ReasonForm, "validation_pick"

    def keep(self, pick, given):
        pick_result_withdraw(pick=pick, by=self.by, recorded_at=now(), **given)
        return "Taken back; the line is to be visited."


class PickView(ValidationView, PageAct, TemplateView):
    """One drawn line, and the result of its visit."""

    template_name = "services_inventory/validation_pick.html"
    form = points = None

    @cached_property
    def pick(self) -> ValidationPick:
        """The line that the address names."""
        found = pick_with(self.kwargs["pk"])
        if found is None:
            raise Http404
        return found

    def get_context_data(self, **kwargs):
        """Give the line, what is missing there, and the form of a visit."""
        missing = pick_points_missing(self.pick, today())
        return super().get_context_data(
            pick=self.pick,
            form=self.form or VisitForm(initial={"observed_on": today()}),
            points=self.points or PointFormSet(),
            missing=[(portion.label, number) for portion, number in missing.items()],
            words=WORDS,
            **kwargs,
        )

    def thing(self, pk) -> ValidationPick:
        self.points = PointFormSet(self.request.POST)
        return self.pick

    def filled(self, pick):
        return VisitForm(self.request.POST)

    def keep(self, pick, given):
        if not self.points.is_valid():
            return self.refuse(pick)
        said = self.form.said(self.points)
        made = pick_result_record(pick=pick, by=self.by, recorded_at=now(), **said)
        if made.result == made.Result.OPEN:
            told = "Recorded. The line needs more points before it counts."
            return self.done(told, "validation_pick", made.pk, level=messages.INFO)
        told = f"Recorded: {made.get_result_display()}."
        return self.done(told, "validation_draw", made.draw_id)
