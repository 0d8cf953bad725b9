"""What to do on Monday: the next steps of a plan, ranked by what they add to its odds."""

from django import forms
from django.shortcuts import get_object_or_404, redirect
from django.views.generic import TemplateView

from program.models import Plan
from program.queries.planning.next_steps import (
    PER,
    UNITS,
    marked_defaults,
    starting_dollars,
    steps_ranked,
)
from program.views.acts import Act
from program.views.permitted import Permitted
from services_inventory.sending import csv_answer

from .board import MANAGE, queued

_DOLLARS = {"min_value": 1, "max_value": 100_000_000}
_HEADER = (
    "Rank", "Kind", "Step", "Cost, US dollars", "Points added to the odds", "Standard error",
    f"Points for {PER:,} US dollars",
)  # fmt: skip


class DollarsForm(forms.Form):
    """What each kind of step costs; above zero, as points are told for a dollar."""

    def __init__(self, data, start: dict[str, float]):
        super().__init__(data if data and any(unit in data for unit in UNITS) else None)
        for unit, (label, _) in UNITS.items():
            self.fields[unit] = forms.FloatField(
                label=label, initial=f"{start[unit]:g}", **_DOLLARS
            )
        self.start = start

    def dollars(self) -> dict[str, float]:
        """The figures entered; while one can't be, the starting ones."""
        return self.cleaned_data if self.is_bound and self.is_valid() else self.start


class PlanNextView(Permitted, TemplateView):
    """The list, for the dollars entered in the page's address; have it tried afresh."""

    template_name = "program/plan_next.html"

    def get(self, request, pk):
        plan = get_object_or_404(Plan, pk=pk)
        form = DollarsForm(request.GET, starting_dollars(plan))
        found = steps_ranked(plan, form.dollars())
        if "csv" in request.GET:
            return csv_answer(f"plan_{pk}_next_steps", _HEADER, _rows(found))
        context = self.get_context_data(
            plan=plan, form=form, found=found, per=PER, defaults=marked_defaults(),
            query=request.GET.urlencode(), can_manage=request.user.has_perm(MANAGE),
        )  # fmt: skip
        return self.render_to_response(context, status=422 if form.errors else 200)


class PlanNextTryView(Act):
    """Have the next steps of a plan tried on today's record."""

    permission_required, model = MANAGE, Plan

    def keep(self, plan, given):
        asked = {"next_steps": plan.pk}
        return redirect("plan_run", queued(self.request, f"Next steps of {plan.name}", asked).pk)


def _rows(found: dict | None):
    for row in (*found["rows"], *found["unseen"]) if found else ():
        yield (
            row["rank"] or "no gain to be seen", row["kind"], row["sentence"], round(row["cost"]),
            row["points"], row["error"], round(row["for_dollars"], 3),
        )  # fmt: skip
