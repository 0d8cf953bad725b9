"""Paving and main works: a file taken in and taken back, and a plan's lines near them."""

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import Plan
from program.operations.plans.works import KIND, WorksError, works_take_back
from program.planning.defaults import default
from program.queries.planning.works import opportunities, works_files, works_in_force
from program.views.permitted import Permitted
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue

from .board import MANAGE, csv_answer


class WorksForm(forms.Form):
    """A file of works and what they are."""

    works = forms.ChoiceField(
        label="What is in it", choices=[("PAVING", "Paving"), ("MAIN", "Main work")]
    )
    file = forms.FileField(
        label="File",
        help_text="GeoPackage, GeoJSON, zipped Shapefile, or CSV with a column WKT (longitude and "
        "latitude). A column year, or start and end; a column name if there is one.",
    )


class NearForm(forms.Form):
    """How near is near, and what a line replaced together saves."""

    feet = forms.FloatField(label="Lines within, feet", min_value=1, max_value=1_000)
    saved = forms.FloatField(label="Saved for a line done together, $", min_value=0, max_value=1e6)

    def __init__(self, data):
        self.start = {"feet": default("near_work_feet"), "saved": default("saved_a_line_dollars")}
        super().__init__(data if {"feet", "saved"} & set(data) else None, initial=self.start)

    def figures(self) -> dict[str, float]:
        """The figures entered; while one can't be, the starting ones."""
        return self.cleaned_data if self.is_bound and self.is_valid() else self.start


class WorksView(Permitted, TemplateView):
    """Every file of works, and taking in another."""

    template_name = "program/plan_works.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the files and the works in force."""
        return super().get_context_data(
            files=works_files(),
            works=works_in_force()[:500],
            form=self.form or WorksForm(),
            can_manage=self.request.user.has_perm(MANAGE),
            **kwargs,
        )


class WorksTakeInView(WorksView):
    """Hand a file of works to the worker."""

    permission_required = MANAGE
    http_method_names = ("post",)

    def post(self, request):
        """Queue it, or show what is wrong with the form."""
        self.form = WorksForm(request.POST, request.FILES)
        if not self.form.is_valid():
            return self.render_to_response(self.get_context_data(), status=422)
        data = self.form.cleaned_data
        batch = batch_open(
            kind=KIND, by=request.user.get_username(), at=now(), file=data["file"],
            title=data["file"].name[:200], parameters={"works": data["works"]},
        )  # fmt: skip
        batch_queue(batch=batch)
        messages.success(request, f"{batch.file_name} is being read.")
        return redirect("plan_works")


class WorksTakeBackView(Permitted, View):
    """Take a file of works back, or bring it in force again."""

    permission_required = MANAGE

    def post(self, request, pk):
        """Do it, and say so."""
        batch, back = get_object_or_404(Batch, pk=pk, kind=KIND), "again" in request.POST
        try:
            works_take_back(batch=batch, by=request.user.get_username(), at=now(), back=back)
        except WorksError as error:
            messages.error(request, str(error))
        else:
            done = "in force again" if back else "taken back: its works count no more"
            messages.success(request, f"{batch.file_name} is {done}.")
        return redirect("plan_works")


class PlanDiggingView(Permitted, TemplateView):
    """A plan's open lines near planned works, with what doing both together saves."""

    template_name = "program/plan_digging.html"

    def get(self, request, pk):
        """Show the page, or send its table as CSV with ?csv=1."""
        plan, form = get_object_or_404(Plan, pk=pk), NearForm(request.GET)
        found = opportunities(plan, **form.figures(), as_of=today())
        if "csv" in request.GET:
            rows = map(_cells, found["rows"] if found else ())
            return csv_answer(f"plan_{pk}_digging", _HEADER, rows)
        context = self.get_context_data(
            plan=plan, form=form, found=found, query=request.GET.urlencode()
        )
        return self.render_to_response(context, status=422 if form.errors else 200)


_HEADER = (
    "Work", "Kind", "First day", "Last day", "Lines near", "In its year", "Before", "After",
    "Not planned", "Saves, US dollars", "Would save, US dollars",
)  # fmt: skip


def _cells(row: dict) -> tuple:
    timing = row["timing"]
    return (
        row["name"], row["word"], row["first"], row["last"], row["lines"], timing.together,
        timing.before, timing.after, timing.unplanned, round(row["saves"]),
        round(row["could_save"]),
    )  # fmt: skip
