"""What a plan is asked for as a form: the one check of its settings, of page, command and file."""

from __future__ import annotations

from calendar import day_name
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from django import forms

from program.planning.defaults import default
from program.planning.priority import Normalization, default_factors
from program.queries.planning.setting_fields import DollarsField, MonthDayField
from program.queries.planning.setting_tables import (
    FIGURES,
    TABLES,
    Closures,
    Seasons,
    Table,
)

if TYPE_CHECKING:
    from program.queries.planning.asked import PlanAsked

PLAIN = (
    "crews", "budget_per_year", "jobs_per_crew_day", "cost_per_job", "cost_per_inspection",
    "area_least", "area_target", "area_most", "unknown_years", "consent_lead_days", "runs", "seed",
    "weekdays", "policy", "ramp_up_days", "day_hours", "restoration_days",
)  # fmt: skip


class SettingsForm(forms.Form):
    """The settings of a plan; what is left empty keeps its starting value."""

    crews = forms.IntegerField(
        label="Crews",
        required=False,
        min_value=0,
        max_value=1000,
        help_text="In every year. Empty: as few as every year's work needs.",
    )
    budget_per_year = DollarsField(
        label="Budget for each program year, US dollars",
        required=False,
        min_value=0,
        max_value=1e12,
        help_text="Inspections included. Empty: money sets no limit.",
    )
    jobs_per_crew_day = forms.FloatField(
        label="Jobs a crew does in eight hours", min_value=0.01, max_value=100
    )
    day_hours = forms.FloatField(
        label="Hours of a working day",
        min_value=1,
        max_value=24,
        help_text="Of other hours than eight, a day has more or fewer jobs in proportion.",
    )
    restoration_days = forms.FloatField(
        label="Days of restoring the ground, for ten of replacing",
        min_value=0,
        max_value=100,
        help_text="Taken from the days of the week ticked here. 0 where the other days suffice, "
        "or others restore.",
    )
    cost_per_job = DollarsField(
        label="Cost of a replacement, US dollars",
        min_value=0,
        max_value=1e7,
        help_text="A starting value of ours. Enter your own.",
    )
    cost_per_inspection = DollarsField(
        label="Cost of an inspection, US dollars",
        min_value=0,
        max_value=1e6,
        help_text="Of an unknown line.",
    )
    area_least = forms.IntegerField(label="Fewest lines in an area", min_value=1, max_value=10_000)
    area_target = forms.IntegerField(
        label="Lines aimed at",
        min_value=1,
        max_value=10_000,
        required=False,
        help_text="Empty: 30, or more where the pool is large.",
    )
    area_most = forms.IntegerField(
        label="Most lines",
        min_value=1,
        max_value=100_000,
        required=False,
        help_text="Empty: twice as many.",
    )
    unknown_years = forms.IntegerField(
        label="Years to look at all unknown lines",
        min_value=1,
        max_value=50,
        help_text="Evenly; those found non-lead leave the pool.",
    )
    consent_lead_days = forms.IntegerField(
        label="Days from consent letter to work", min_value=0, max_value=730
    )
    weekdays = forms.TypedMultipleChoiceField(
        label="Days of the week on which lines are replaced",
        coerce=int,
        choices=list(enumerate(day_name)),
        widget=forms.CheckboxSelectMultiple,
        help_text="The other working days are for restoring the ground.",
    )
    frost_from = MonthDayField(
        label="Frost season from", required=False, help_text="Month and day, such as Dec 1."
    )
    frost_to = MonthDayField(
        label="Frost season to", required=False, help_text="Month and day, such as Mar 15."
    )
    policy = forms.CharField(
        label="The order in your own words",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Which lines are first and why; it stands beside who waits how long.",
    )
    ramp_up_days = forms.IntegerField(
        label="Working days until a new crew is up to speed",
        min_value=0,
        max_value=250,
        help_text="It does half its jobs on them. New is one that the year before didn't have.",
    )
    runs = forms.IntegerField(label="Runs of the forecast", min_value=100, max_value=100_000)
    seed = forms.IntegerField(
        label="Seed", min_value=0, max_value=2**31 - 1, help_text="The same seed, the same plan."
    )

    def __init__(self, data=None, *, start: PlanAsked | None = None, extra: int = 0, **kwargs):
        super().__init__(data, **kwargs)
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
        self.tables: dict[str, Table] = {}
        for table in TABLES:
            rows = table.rows_of(start) if start and data is None else None
            self.tables[table.key] = table(data, prefix=table.key, initial=rows)
            self.tables[table.key].extra = extra

    def is_valid(self) -> bool:
        """Whether every field and every row can be taken; all are looked at."""
        found = [super().is_valid(), *(table.is_valid() for table in self.tables.values())]
        return all(found)

    def clean(self):
        """Look at the rows, and at what rests on each other."""
        data = super().clean()
        if bool(data.get("frost_from")) != bool(data.get("frost_to")):
            missing = "frost_to" if data.get("frost_from") else "frost_from"
            if missing not in self.errors:
                self.add_error(
                    missing, "Give both the first and the last day of the frost season, or neither."
                )
        seasons, closures = self.tables[Seasons.key], self.tables[Closures.key]
        if seasons.is_valid() and isinstance(closures, Closures):
            closures.known_seasons({row["name"] for _, row in seasons.rows})
        return data

    @property
    def settings(self) -> dict[str, Any]:
        """The settings as a plan keeps them; only once they are valid."""
        data, factors = self.cleaned_data, default_factors()
        found: dict[str, Any] = {name: data[name] for name in PLAIN if data[name] is not None}
        found["weights"] = {factor.key: data[f"weight_{factor.key}"] for factor in factors}
        found["normalizations"] = {
            factor.key: data[f"normalize_{factor.key}"] or factor.normalization.value
            for factor in factors
        }
        found |= {name: data[name] for name in FIGURES if data[name]}
        for table in self.tables.values():
            found |= table.kept()
        if data["frost_from"]:
            found["frost"] = [data["frost_from"], data["frost_to"]]
        return found

    def sentences(self) -> Iterator[str]:
        """Yield what to change, a sentence each, for who has no page before them."""
        yield from _told(self, "")
        for table in self.tables.values():
            yield from map(str, table.non_form_errors())
            for number, row in enumerate(table.forms, start=1):
                yield from _told(row, f"{table.label}, row {number}: ")


def _told(form: forms.Form, where: str) -> Iterator[str]:
    for name, errors in form.errors.items():
        for error in errors:
            if name not in form.fields:
                yield f"{where}{error}"
                continue
            value = form[name].data
            given = "" if value in (None, "", []) else f", {_short(value)}"
            yield f"{where}{form.fields[name].label}{given}: {error}"


def _short(value) -> str:
    said = str(value)
    return said if len(said) <= 40 else f"{said[:40]}…"


def shown(asked: PlanAsked) -> dict[str, Any]:
    """Return settings by the names of the form's fields, the tables left out."""
    found = {name: getattr(asked, name) for name in (*PLAIN, *FIGURES)}
    for factor in default_factors():
        found[f"weight_{factor.key}"] = asked.weights.get(factor.key, factor.weight)
        found[f"normalize_{factor.key}"] = asked.normalizations.get(
            factor.key, factor.normalization.value
        )
    found["frost_from"], found["frost_to"] = asked.frost or (None, None)
    return found


def problems(asked: PlanAsked) -> list[str]:
    """Return what to change; empty when the settings can be drawn from."""
    try:
        data = shown(asked)
    except (AttributeError, TypeError, ValueError):
        return [
            "The weights and normalizations are tables of names and values, and the frost season "
            "its first and last day, as [[12, 1], [3, 15]] for Dec 1 to Mar 15."
        ]
    found, sent = list(_wrong_names(asked)), dict(data)
    found += _texts(data, SettingsForm.base_fields, "")
    for table in TABLES:
        try:
            rows = table.rows_of(asked)
        except (AttributeError, KeyError, TypeError, ValueError):
            found.append(f"{table.label} can't be read: a file gives {table.in_file}.")
            rows = []
        found += _wrong_rows(table, rows)
        sent |= {f"{table.key}-TOTAL_FORMS": len(rows), f"{table.key}-INITIAL_FORMS": 0}
        for number, row in enumerate(rows):
            sent |= {f"{table.key}-{number}-{name}": value for name, value in row.items()}
    form = SettingsForm(sent)
    return found or ([] if form.is_valid() else list(form.sentences()))


def _wrong_names(asked: PlanAsked) -> Iterator[str]:
    keys = {row["key"] for row in default("priority_factors")}
    if strange := sorted({*asked.weights, *asked.normalizations} - keys):
        yield f"There is no priority factor {strange[0]!r}; there are {', '.join(sorted(keys))}."
    if not isinstance(asked.unlocked, list) or not all(isinstance(k, str) for k in asked.unlocked):
        yield "The areas to unlock must be a list of names."
    if isinstance(asked.based_on, bool) or not isinstance(asked.based_on, int | None):
        yield f"The plan to start from is {asked.based_on!r}: give its number."


def _wrong_rows(table: type[Table], rows: list[dict]) -> Iterator[str]:
    """Yield names that a row of a file can't have, and text where a number belongs."""
    fields = table.form.base_fields
    for number, row in enumerate(rows, start=1):
        where = f"{table.label}, row {number}: "
        if strange := sorted(set(row) - set(fields)):
            yield f"{where}there is no {strange[0]!r}; there are {', '.join(fields)}."
        yield from _texts(row, fields, where)


def _texts(values: dict, fields: dict, where: str) -> list[str]:
    """Return text where a file gives a number: it would be kept as text."""
    return [
        f"{where}{fields[name].label}, {value!r}: give a number, without quotation marks."
        for name, value in values.items()
        if isinstance(value, str | bool)
        and isinstance(fields.get(name), forms.IntegerField | forms.FloatField)
    ]
