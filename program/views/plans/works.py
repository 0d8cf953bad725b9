"""Paving and main works, and census areas: files taken in and taken back, and what they say."""

from django import forms
from django.shortcuts import get_object_or_404, redirect
from django.views.generic import TemplateView

from program.clock import today
from program.models import Plan
from program.operations.plans.works import TAKEN_IN, works_take_back
from program.planning.census import HEADINGS
from program.planning.defaults import default
from program.queries.planning.census import BY, census_in_force, files_taken_in
from program.queries.planning.works import opportunities, works_files, works_in_force
from program.views.acts import Act, PageAct
from program.views.permitted import Permitted
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue
from services_inventory.sending import csv_answer

from .board import MANAGE


class WorksForm(forms.Form):
    """A file of works and what they are."""

    works = forms.ChoiceField(
        label="What is in it",
        choices=[("PAVING", "Paving"), ("MAIN", "Main work"), ("CLOSED", "Closed block faces")],
    )
    file = forms.FileField(
        label="File",
        help_text="GeoPackage, GeoJSON, zipped Shapefile, or CSV with a column WKT (longitude and "
        "latitude). A column year, or start and end; a column name if there is one. Closed block "
        "faces need a street and their line, or from_street and to_street (crossing streets or "
        "house numbers), and may give a side (both, even, odd) and a reason.",
    )

    @property
    def parameters(self) -> dict:
        """What the worker is asked for."""
        return {"works": self.cleaned_data["works"]}


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
        return super().get_context_data(
            files=works_files(),
            works=works_in_force()[:500],
            form=self.form or WorksForm(),
            can_manage=self.request.user.has_perm(MANAGE),
            **kwargs,
        )


class CensusForm(forms.Form):
    """A file of census areas, which columns hold what, and how it is laid over."""

    by = forms.ChoiceField(
        label="An area counts in a neighborhood",
        choices=[(key, told) for key, told in BY.items()],
        help_text="By lines is nearer to where people live; by ground works before lines have "
        "positions.",
    )
    file = forms.FileField(
        label="File",
        help_text="Areas as GeoPackage, GeoJSON, zipped Shapefile, or CSV with a column WKT "
        "(longitude and latitude).",
    )
    median_income = forms.CharField(
        label="Column of the median income, $", max_length=100, required=False
    )
    old_housing = forms.CharField(
        label="Column of old homes, percent", max_length=100, required=False
    )
    children = forms.CharField(
        label="Column of children under six, percent",
        max_length=100,
        required=False,
        help_text="Empty: looked for under usual headings.",
    )

    @property
    def parameters(self) -> dict:
        """What the worker is asked for."""
        data = self.cleaned_data
        columns = {key: data[key] for key in HEADINGS if data[key]}
        return {"by": data["by"], "columns": columns, "as_of": today().isoformat()}


class CensusView(Permitted, TemplateView):
    """Census areas laid over the neighborhoods, and taking in a file of them."""

    template_name = "program/plan_census.html"
    form = None

    def get(self, request):
        """Show the page, or send what is in force as CSV with ?csv=1."""
        if "csv" in request.GET:
            return csv_answer("census_by_neighborhood", _CENSUS_HEADER, _census_cells())
        return self.render_to_response(self.get_context_data())

    def get_context_data(self, **kwargs):
        return super().get_context_data(
            files=files_taken_in("CENSUS"),
            census=census_in_force(),
            form=self.form or CensusForm(),
            can_manage=self.request.user.has_perm(MANAGE),
            **kwargs,
        )


_CENSUS_HEADER = (
    "Neighborhood", "Median income, $", "Old homes, percent", "Children under six, percent",
    "Covered, percent", "Areas with their share",
)  # fmt: skip


def _census_cells():
    census = census_in_force()
    for hood, row in census["hoods"].items() if census else ():
        parts = "; ".join(f"{name} {share:.1%}" for name, share in row["parts"])
        figures = (row["figures"].get(key) for key in HEADINGS)
        yield hood, *figures, round(100 * row["covered"], 1), parts


class _TakeIn(PageAct):
    """Hand a file to the worker."""

    permission_required = MANAGE
    http_method_names = ("post",)
    kind: str

    def keep(self, thing, given):
        file = given["file"]
        batch = batch_open(
            kind=self.kind, file=file, title=file.name[:200], parameters=self.form.parameters,
            **self.signed(),
        )  # fmt: skip
        batch_queue(batch=batch)
        return self.done(f"{batch.file_name} is being read.", _PAGES[self.kind])


_PAGES = {"WORKS": "plan_works", "CENSUS": "plan_census"}


class WorksTakeInView(_TakeIn, WorksView):
    """Take in a file of works."""

    form_class, kind = WorksForm, "WORKS"


class CensusTakeInView(_TakeIn, CensusView):
    """Take in a file of census areas."""

    form_class, kind = CensusForm, "CENSUS"


class WorksTakeBackView(Act):
    """Take a file of works or areas back, or bring it in force again."""

    permission_required = MANAGE
    model = Batch.objects.filter(kind__in=TAKEN_IN)

    def keep(self, batch, given):
        back = "again" in self.request.POST
        works_take_back(batch=batch, back=back, **self.signed())
        done = "in force again" if back else "taken back: it counts no more"
        return f"{batch.file_name} is {done}."

    def back(self, batch):
        return redirect(_PAGES[batch.kind])


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
