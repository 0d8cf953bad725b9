"""Forms of the plan's pages."""

from django import forms

from program.models import Plan
from program.planning.priority import default_factors
from program.queries.planning.asked import PlanAsked
from program.queries.planning.setting_forms import PLAIN, SettingsForm, shown
from program.queries.planning.setting_tables import FIGURES
from replacements.models import Contractor


class PlanForm(SettingsForm):
    """The settings of a new plan, with its name and the plan that it starts from."""

    # Heading, what is in it, fields, tables. The first is open, the others unfold.
    GROUPS = (
        ("Crews and money", "", (
            "name", "crews", "budget_per_year", "jobs_per_crew_day", "cost_per_job",
            "cost_per_inspection", "ramp_up_days",
        ), ("by_year", "funding", "seasons")),
        ("Work areas", "how many lines one holds", ("area_least", "area_target", "area_most"), ()),
        ("Time", "days of the week, hours, restoring, consent, frost, days off", (
            "weekdays", "day_hours", "restoration_days", "unknown_years", "consent_lead_days",
            "frost_from", "frost_to",
        ), ("days_off",)),
        ("Windows and quotas", "closures, paving, least shares", (), ("closures", "quotas")),
        ("Weights of the priority", "which lines come first, and why", tuple(
            f"weight_{factor.key}" for factor in default_factors()
        ) + ("policy",), ()),
        ("Figures of the neighborhoods", "what the weights weigh", FIGURES, ("figures",)),
        ("How each figure becomes 0 to 1", "so that they can be added", tuple(
            f"normalize_{factor.key}" for factor in default_factors()
        ), ()),
        ("Starting from another plan", "what stays of it", ("based_on", "keep_published"), ()),
        ("Runs", "of the forecast", ("runs", "seed"), ()),
    )  # fmt: skip

    name = forms.CharField(label="Name of the scenario", max_length=120, required=False)
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

    def __init__(self, data=None, *, again: Plan | None = None):
        start = PlanAsked.again(again.settings) if again else PlanAsked()
        super().__init__(data, start=start, extra=1, initial=_initial(start, again))
        self.fields["based_on"].queryset = Plan.objects.order_by("-id")

    def groups(self):
        """Yield (heading, what is in it, fields, tables, whether it is open) in order."""
        wrong = self.wrong_tables()
        for number, (heading, about, names, keys) in enumerate(self.GROUPS):
            fields, tables = [self[name] for name in names], [self.tables[key] for key in keys]
            faults = any(field.errors for field in fields) or any(one in wrong for one in tables)
            yield heading, about, fields, tables, number == 0 or faults

    def wrong_tables(self):
        """Return the tables with a row to correct."""
        return [table for table in self.tables.values() if table.is_bound and not table.is_valid()]

    @property
    def asked(self) -> dict:
        """The settings, with the plan that they start from."""
        data, start = self.cleaned_data, self.cleaned_data["based_on"]
        kept = {**self.settings, "keep_published": data["keep_published"]}
        return kept | ({"based_on": start.pk} if start else {})


def _initial(asked: PlanAsked, again: Plan | None) -> dict:
    """Return what the form shows: starting values, or those of a plan to be drawn again."""
    found = shown(asked)
    found |= {name: _plain(found[name]) for name in PLAIN}
    if again:
        found |= {"name": f"{again.name}, again"[:120], "based_on": again.pk}
        found["keep_published"] = True
    return found


def _plain(value):
    return int(value) if isinstance(value, float) and value == int(value) else value


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
