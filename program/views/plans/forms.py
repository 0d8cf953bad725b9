"""Forms of the plan's pages."""

from django import forms

from program.models import Plan
from program.operations.plans.advice import DAYS
from program.planning.priority import Normalization, default_factors
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.checking import FIGURES
from replacements.models import Contractor

from . import written


def _lines_field(label: str, help_text: str) -> forms.CharField:
    area = forms.Textarea(attrs={"rows": 3})
    return forms.CharField(label=label, required=False, widget=area, help_text=help_text)


class PlanForm(forms.Form):
    """What a plan is asked for; what is left empty keeps its starting value."""

    GROUPS = (
        ("Crews and money", (
            "name", "crews", "crews_by_year", "seasons", "budget_per_year", "budget_by_year",
            "jobs_per_crew_day", "cost_per_job", "cost_per_inspection",
        )),
        ("Work areas", ("area_least", "area_target", "area_most")),
        ("Time", (
            "weekdays", "days_off", "unknown_years", "consent_lead_days", "frost_from", "frost_to",
        )),
        ("Windows and quotas", ("closures", "quotas")),
        ("Weights of the priority", tuple(f"weight_{factor.key}" for factor in default_factors())),
        ("Figures of the neighborhoods", ("figures", *FIGURES)),
        ("How each figure becomes 0 to 1", tuple(
            f"normalize_{factor.key}" for factor in default_factors()
        )),
        ("Starting from another plan", ("based_on", "keep_published")),
        ("Runs", ("runs", "seed")),
    )  # fmt: skip

    name = forms.CharField(label="Name of the scenario", max_length=120, required=False)
    crews = forms.IntegerField(
        label="Crews",
        required=False,
        min_value=0,
        help_text="In every year. Empty: as few as every year's work needs.",
    )
    crews_by_year = _lines_field(
        "Crews in single program years",
        "One a line, such as 3: 4 or 5-7: 6. They go before the number for every year.",
    )
    seasons = _lines_field(
        "Seasons of every year",
        "One a line, such as Winter: 12-01 to 03-31, 1 crew. Without crews a season only serves "
        "to say when a street may be worked.",
    )
    budget_per_year = forms.FloatField(
        label="Budget for each program year, US dollars",
        required=False,
        min_value=0,
        help_text="Inspections included. Empty: money sets no limit.",
    )
    budget_by_year = _lines_field(
        "Budget of single program years, US dollars",
        "One a line, such as 1: 2,500,000. They go before the budget for each year.",
    )
    jobs_per_crew_day = forms.FloatField(label="Jobs a crew does in a day", min_value=0)
    cost_per_job = forms.FloatField(
        label="Cost of a replacement, US dollars",
        min_value=0,
        help_text="A starting value of ours. Enter your own.",
    )
    cost_per_inspection = forms.FloatField(
        label="Cost of an inspection, US dollars", min_value=0, help_text="Of an unknown line."
    )
    area_least = forms.IntegerField(label="Fewest lines in an area", min_value=1)
    area_target = forms.IntegerField(
        label="Lines aimed at",
        min_value=1,
        required=False,
        help_text="Empty: 30, or more where the pool is large.",
    )
    area_most = forms.IntegerField(
        label="Most lines", min_value=1, required=False, help_text="Empty: twice as many."
    )
    unknown_years = forms.IntegerField(
        label="Years to look at all unknown lines",
        min_value=1,
        help_text="Evenly; those found non-lead leave the pool.",
    )
    consent_lead_days = forms.IntegerField(label="Days from consent letter to work", min_value=0)
    weekdays = forms.TypedMultipleChoiceField(
        label="Days of the week on which lines are replaced",
        coerce=int,
        choices=list(enumerate(DAYS)),
        widget=forms.CheckboxSelectMultiple,
        help_text="The other working days are for restoring the ground.",
    )
    days_off = _lines_field(
        "Days off besides federal holidays",
        "One a line, such as 2028-07-03 or 2028-12-24 to 2029-01-02.",
    )
    frost_from = forms.CharField(
        label="Frost season from", required=False, help_text="Month-day, such as 12-01."
    )
    frost_to = forms.CharField(
        label="Frost season to", required=False, help_text="Month-day, such as 03-15."
    )
    closures = _lines_field(
        "Moratoria and paving windows",
        "By neighborhood, street or work area, one a line: program years without work (Saltmarket:"
        " 4, 5); closed 2028-04-01 to 2031-03-31; only 2029-06-01 to 2029-08-31; only in Winter.",
    )
    quotas = _lines_field(
        "Least share of each year's jobs",
        "In percent, by neighborhood, street or several of them, one a line, such as Gasworks: "
        "15 or Gasworks + Brine St: 20 in 1-3.",
    )
    figures = _lines_field(
        "Figures by neighborhood",
        "One neighborhood a line, such as Saltmarket: need index 7.5, coordinated work 1, lead "
        "results 3. They go before the attributes of the boundaries.",
    )
    based_on = forms.ModelChoiceField(
        label="Keep the areas and locked years of",
        queryset=Plan.objects.none(),
        required=False,
        help_text="Lines new since then come in new areas.",
    )
    keep_published = forms.BooleanField(
        label="Keep what is published: an area changes its year only for a real gain",
        required=False,
    )
    runs = forms.IntegerField(label="Runs of the forecast", min_value=100, max_value=100_000)
    seed = forms.IntegerField(label="Seed", min_value=0, help_text="The same seed, the same plan.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["based_on"].queryset = Plan.objects.order_by("-id")
        for factor in default_factors():
            self.fields[f"weight_{factor.key}"] = forms.FloatField(
                label=factor.label, min_value=0, initial=factor.weight
            )
            self.fields[f"normalize_{factor.key}"] = forms.ChoiceField(
                label=factor.label,
                choices=[(one.value, one.label) for one in Normalization],
                initial=factor.normalization,
                required=False,
            )
        for name in FIGURES:
            self.fields[name] = forms.CharField(
                label=f"Attribute of the boundaries: {name.replace('_', ' ')}",
                max_length=100,
                required=False,
                initial=name,
            )
        self.initial = {**_starting(), **(self.initial or {})}

    def groups(self):
        """Yield (heading, bound fields) in the order of the page."""
        for heading, names in self.GROUPS:
            yield heading, [self[name] for name in names]

    def clean(self):
        """Make the settings, with the same checks as the command line."""
        data = super().clean()
        if self.errors:
            return data
        try:
            self.settings = self._settings(data)
            PlanAsked.of(self.settings)
        except (PlanError, ValueError) as error:
            raise forms.ValidationError(str(error)) from error
        return data

    def _settings(self, data: dict) -> dict:
        plain = (
            "crews", "budget_per_year", "jobs_per_crew_day", "cost_per_job", "cost_per_inspection",
            "area_least", "area_target", "area_most", "unknown_years", "consent_lead_days", "runs",
            "seed", "keep_published", "weekdays",
        )  # fmt: skip
        settings = {name: data[name] for name in plain if data.get(name) is not None}
        settings["weights"] = {
            factor.key: data[f"weight_{factor.key}"] for factor in default_factors()
        }
        settings["normalizations"] = {
            factor.key: data[f"normalize_{factor.key}"] or factor.normalization.value
            for factor in default_factors()
        }
        settings |= {name: data[name] for name in FIGURES if data[name]}
        for name in (
            "crews_by_year", "budget_by_year", "seasons", "quotas", "figures", "days_off",
        ):  # fmt: skip
            settings[name] = getattr(written, name)(data[name])
        settings["closed_years"], settings["windows"] = written.closures(data["closures"])
        if data["frost_from"] or data["frost_to"]:
            settings["frost"] = [written.month_day(data[n]) for n in ("frost_from", "frost_to")]
        if data["based_on"]:
            settings["based_on"] = data["based_on"].pk
        return settings


def _starting() -> dict:
    asked = PlanAsked()
    names = (
        "jobs_per_crew_day", "cost_per_job", "cost_per_inspection", "area_least", "unknown_years",
        "consent_lead_days", "runs", "seed",
    )  # fmt: skip
    return {"weekdays": asked.weekdays, **{name: _plain(getattr(asked, name)) for name in names}}


def _plain(value):
    return int(value) if value == int(value) else value


def initial_of(plan: Plan) -> dict:
    """Return what the form shows to draw a plan again."""
    asked = PlanAsked.of(plan.settings)
    return {
        **{k: v for k, v in plan.settings.items() if k not in ("weights", "quotas")},
        **{f"weight_{key}": value for key, value in asked.weights.items()},
        **{f"normalize_{key}": value for key, value in asked.normalizations.items()},
        "name": f"{plan.name}, again"[:120],
        **written.as_written(asked),
        "based_on": plan.pk,
        "keep_published": True,
    }


class OrdersForm(forms.Form):
    """Which year's orders to make, and each contractor's part of them."""

    year = forms.TypedChoiceField(label="Orders of program year", coerce=int)

    def __init__(self, *args, years: list[int], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["year"].choices = [(year, f"Program year {year}") for year in years]
        self.contractors = list(Contractor.objects.filter(active=True).order_by("name"))
        for contractor in self.contractors:
            self.fields[f"share_{contractor.pk}"] = forms.FloatField(
                label=f"Part of {contractor.name}, percent",
                min_value=0,
                initial=round(100 / len(self.contractors)),
            )

    def shares(self) -> dict[str, float]:
        """Each contractor's part above nothing, by id as text."""
        found = {str(one.pk): self.cleaned_data[f"share_{one.pk}"] for one in self.contractors}
        return {pk: share for pk, share in found.items() if share > 0}

    def clean(self):
        """Refuse a year that nobody works in."""
        data = super().clean()
        if not self.errors and not self.shares():
            raise forms.ValidationError("Give at least one contractor a part above zero.")
        return data


class InspectionForm(forms.Form):
    """How many unknown lines can be looked at, and the part drawn at random."""

    budget = forms.IntegerField(label="Inspections", min_value=1, max_value=100_000, initial=100)
    random_percent = forms.FloatField(
        label="Part drawn at random, percent",
        min_value=0,
        max_value=100,
        initial=30,
        help_text="The rest are the lines most likely lead. Without a random part nothing can be "
        "said of the lines not looked at.",
    )
    seed = forms.IntegerField(label="Seed", min_value=0, max_value=2**31 - 1, initial=1)
