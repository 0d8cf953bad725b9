"""The tables among a plan's settings, each a Django formset: a row a season, a closure, a quota.

The page shows them and a file is held against them, so that a row is checked in one place. Each
table says how its rows are kept with the plan, and how what is kept becomes rows again.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.forms.formsets import BaseFormSet, formset_factory

from program.planning.funding import KINDS
from program.queries.planning.setting_fields import (
    DollarsField,
    MonthDayField,
    NamesField,
    YearsField,
)

if TYPE_CHECKING:
    from program.queries.planning.asked import PlanAsked

FIGURES = (
    "need_index", "coordinated_work", "lead_results", "median_income", "old_housing", "children",
)  # fmt: skip
MOST_ROWS = 1_000
MOST_DAYS_OFF = 366


class _Day(forms.DateField):
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class _Place(forms.CharField):
    widget = forms.TextInput(attrs={"list": "plan-places"})


class YearRow(forms.Form):
    """Crews and money of some program years."""

    years = YearsField(label="Program years")
    crews = forms.IntegerField(label="Crews", required=False, min_value=0, max_value=1000)
    budget = DollarsField(label="US dollars in each", required=False, min_value=0, max_value=1e12)

    def clean(self):
        """Refuse a row that says nothing."""
        data = super().clean()
        if not self.errors and data.get("crews") is None and data.get("budget") is None:
            self.add_error("crews", "Give the crews, the budget, or both.")
        return data


class SeasonRow(forms.Form):
    """A part of every year."""

    name = forms.CharField(label="Name", max_length=60)
    first = MonthDayField(label="First day")
    last = MonthDayField(label="Last day")
    crews = forms.IntegerField(
        label="Most crews at work", required=False, min_value=0, max_value=1000
    )


class ClosureRow(forms.Form):
    """When a place may not be worked, or only may."""

    KINDS: ClassVar = {
        "YEARS": ("No work in program years", ("years",)),
        "CLOSED": ("Closed from, to", ("first", "last")),
        "ONLY": ("Work only from, to", ("first", "last")),
        "SEASONS": ("Work only in seasons", ("seasons",)),
    }

    place = _Place(label="Place", max_length=300)
    kind = forms.ChoiceField(
        label="What", initial="YEARS", choices=[(k, label) for k, (label, _) in KINDS.items()]
    )
    years = YearsField(label="Program years", required=False)
    first = _Day(label="First day", required=False)
    last = _Day(label="Last day", required=False)
    seasons = NamesField(label="Seasons", required=False)

    def clean(self):
        """Ask for what the kind needs, and refuse what it doesn't use."""
        data = super().clean()
        label, needed = self.KINDS.get(data.get("kind"), ("", ()))
        for name in ("years", "first", "last", "seasons") if label else ():
            if name in needed and name in data and not data[name]:
                self.add_error(name, f"“{label}” needs it.")
            elif name not in needed and data.get(name):
                self.add_error(name, f"“{label}” doesn't use it: empty it, or choose another.")
        _in_order(self, data)
        return data


class QuotaRow(forms.Form):
    """The least share of a place in each year's jobs."""

    place = _Place(label="Neighborhood or street", max_length=300)
    percent = forms.FloatField(label="Least share, percent", min_value=0, max_value=100)
    years = YearsField(label="Program years (empty: all)", required=False)


class FigureRow(forms.Form):
    """A neighborhood's figures."""

    neighborhood = _Place(label="Neighborhood", max_length=120)
    need_index = forms.FloatField(label="Need index", required=False)
    coordinated_work = forms.FloatField(label="Coordinated work", required=False)
    lead_results = forms.FloatField(label="Lead results", required=False)
    median_income = DollarsField(label="Median income, $", required=False, min_value=0)
    old_housing = forms.FloatField(
        label="Old homes, percent", required=False, min_value=0, max_value=100
    )
    children = forms.FloatField(
        label="Children under six, percent", required=False, min_value=0, max_value=100
    )

    def clean(self):
        """Refuse a row without a figure."""
        data = super().clean()
        if not self.errors and all(data.get(name) is None for name in FIGURES):
            self.add_error(FIGURES[0], "Give at least one figure.")
        return data


class FundingRow(forms.Form):
    """Money of one source in some program years."""

    source = forms.CharField(label="Source", max_length=80)
    kind = forms.ChoiceField(
        label="Kind",
        initial="GRANT",
        choices=[(k, label.capitalize()) for k, label in KINDS.items()],
    )
    years = YearsField(label="Program years")
    dollars = DollarsField(label="US dollars in each", min_value=0, max_value=1e12)
    places = NamesField(label="Only in (neighborhoods)", required=False)
    condition = forms.CharField(label="Condition", max_length=200, required=False)


class DaysOffRow(forms.Form):
    """Days on which no crew works."""

    first = _Day(label="First day")
    last = _Day(label="Last day, if another", required=False)

    def clean(self):
        """Refuse a span that runs backward, or over a year."""
        data = super().clean()
        _in_order(self, data)
        first, last = data.get("first"), data.get("last")
        if first and last and (last - first).days >= MOST_DAYS_OFF:
            self.add_error("last", "Give at most a year; what is longer, in two rows.")
        return data


def _in_order(row: forms.Form, data: Mapping) -> None:
    if data.get("first") and data.get("last") and data["first"] > data["last"]:
        row.add_error("last", "It is before the first day.")


class Table(BaseFormSet):
    """Rows of one kind."""

    key: ClassVar[str]
    label: ClassVar[str]
    hint: ClassVar[str]
    in_file: ClassVar[str]  # how a settings file gives it
    only: ClassVar[str] = ""  # the field that two rows may not both give

    @classmethod
    def rows_of(cls, asked: PlanAsked) -> list[dict]:
        """Return what is kept as rows; here a list of them under the table's own name."""
        return [dict(row) for row in getattr(asked, cls.key)]

    def kept(self) -> dict:
        """Return the rows as a plan keeps them."""
        return {self.key: [_without(data, "DELETE") for _, data in self.rows]}

    def _construct_form(self, i, **kwargs):
        """Let every row be emptied: an empty one says nothing, wherever it stands."""
        return super()._construct_form(i, **{**kwargs, "empty_permitted": True})

    @property
    def rows(self) -> list[tuple[Any, dict]]:
        """Each row that counts, with what it says."""
        return [
            (row, row.cleaned_data)
            for row in self.forms
            if row.is_valid() and row.has_changed() and not row.cleaned_data.get("DELETE")
        ]

    def clean(self):
        """Refuse a name that an earlier row has already."""
        seen: set[Any] = set()
        for row, data in self.rows:
            for name, said in self.once(data):
                if said in seen:
                    row.add_error(name, "An earlier row gives it already.")
                seen.add(said)

    def once(self, data: dict) -> list[tuple[str, Any]]:
        """Return what two rows may not both give, each with its field."""
        return [(self.only, data[self.only].casefold())] if self.only else []


class Years(Table):
    """Crews and budgets of single program years."""

    key, label = "by_year", "Crews and budget of single program years"
    hint = "They go before the numbers for every year."
    in_file = "[crews_by_year] and [budget_by_year], such as 3 = 4"

    @classmethod
    def rows_of(cls, asked: PlanAsked) -> list[dict]:
        crews, budget = asked.crews_by_year, asked.budget_by_year
        strange = [year for year in (*crews, *budget) if not str(year).isdecimal()]
        if strange:
            raise ValueError(f"{strange[0]!r} is no program year")
        alike: dict[tuple, list[int]] = {}
        for year in sorted({*crews, *budget}, key=int):
            alike.setdefault((crews.get(year), budget.get(year)), []).append(int(year))
        return [
            {"years": years, "crews": number, "budget": dollars}
            for (number, dollars), years in alike.items()
        ]

    def kept(self) -> dict:
        found: dict[str, dict] = {"crews_by_year": {}, "budget_by_year": {}}
        for _, data in self.rows:
            for name in ("crews", "budget"):
                if data[name] is not None:
                    found[f"{name}_by_year"] |= {str(year): data[name] for year in data["years"]}
        return found

    def once(self, data):
        return [
            ("years", (name, year))
            for name in ("crews", "budget")
            for year in data["years"]
            if data[name] is not None
        ]


class Funding(Table):
    """Loans, grants and rates by program year."""

    key, label = "funding", "Money by source"
    hint = (
        "A year named here has the sum of its sources as its budget, unless one is entered for it "
        "above. The plan says which source pays for what, what is left, and what none may pay."
    )
    in_file = (
        'a list, such as funding = [{ source = "State loan", kind = "LOAN", years = [4, 5], '
        "dollars = 900000 }]"
    )

    def kept(self) -> dict:
        return {
            "funding": [
                {**_without(data, "DELETE"), "places": data["places"] or []}
                for _, data in self.rows
            ]
        }

    def once(self, data):
        return [("years", (data["source"].casefold(), year)) for year in data["years"]]


class Seasons(Table):
    """Parts of every year."""

    key, label = "seasons", "Seasons of every year"
    hint = "Without crews a season only serves to say when a street may be worked."
    only = "name"
    in_file = 'a list, such as [{ name = "Winter", first = [12, 1], last = [3, 31], crews = 1 }]'

    def clean(self):
        """Let each day of the year be in one season."""
        super().clean()
        taken: dict[tuple[int, int], str] = {}
        for row, data in self.rows:
            days = days_of_season(data)
            other = next((taken[day] for day in days if day in taken), None)
            if other not in (None, data["name"]):
                row.add_error("first", f"It overlaps {other}: let each day be in one season.")
            taken |= dict.fromkeys(days, data["name"])


class Closures(Table):
    """Moratoria, paving and windows by place."""

    key, label = "closures", "Moratoria and paving windows"
    hint = "By neighborhood, street or work area; several joined by + count as one place."
    in_file = (
        '[closed_years], such as "Brine St" = [4, 5], and windows = [{ place = "Brine St", '
        'kind = "CLOSED", first = "2028-04-01", last = "2031-03-31" }]'
    )

    @classmethod
    def rows_of(cls, asked: PlanAsked) -> list[dict]:
        closed = [
            {"place": place, "kind": "YEARS", "years": _listed(years)}
            for place, years in asked.closed_years.items()
        ]
        return closed + [dict(row) for row in asked.windows]

    def kept(self) -> dict:
        closed: dict[str, list[int]] = {}
        windows = []
        for _, data in self.rows:
            kind, place = data["kind"], data["place"]
            if kind == "YEARS":
                closed.setdefault(place, []).extend(data["years"])
                continue
            said = {name: _plain(data[name]) for name in ClosureRow.KINDS[kind][1]}
            windows.append({"place": place, "kind": kind, **said})
        return {"closed_years": closed, "windows": windows}

    def known_seasons(self, names: set[str]) -> None:
        """Refuse a season that the plan doesn't have."""
        for row, data in self.rows:
            if strange := [name for name in data["seasons"] or () if name not in names]:
                there = ", ".join(sorted(names)) or "no seasons yet"
                row.add_error("seasons", f"There is no season {strange[0]}; there are {there}.")


class Quotas(Table):
    """Least shares by place."""

    only = "place"
    key, label = "quotas", "Least share of each year's jobs"
    hint = "At least so much of a year's work is there; several places joined by + count as one."
    in_file = "[quotas], such as Gasworks = 0.15 or { share = 0.2, years = [1, 2, 3] }"

    @classmethod
    def rows_of(cls, asked: PlanAsked) -> list[dict]:
        rows = []
        for place, quota in asked.quotas.items():
            said = quota if isinstance(quota, dict) else {"share": quota}
            if strange := set(said) - {"share", "years"}:
                raise ValueError(f"{place} has {min(strange)!r}")
            share = said["share"]
            percent = share if isinstance(share, bool | str) else float(f"{100 * share:.10g}")
            rows.append({"place": place, "percent": percent, "years": _listed(said.get("years"))})
        return rows

    def kept(self) -> dict:
        found: dict[str, Any] = {}
        for _, data in self.rows:
            share = data["percent"] / 100
            years = data["years"]
            found[data["place"]] = {"share": share, "years": years} if years else share
        return {"quotas": found}


class Figures(Table):
    """Figures by neighborhood."""

    only = "neighborhood"
    key, label = "figures", "Figures by neighborhood"
    hint = "They go before the attributes of the boundaries, and those before census areas."
    in_file = "[figures], such as Saltmarket = { need_index = 7.5, lead_results = 3 }"

    @classmethod
    def rows_of(cls, asked: PlanAsked) -> list[dict]:
        return [{"neighborhood": hood, **own} for hood, own in asked.figures.items()]

    def kept(self) -> dict:
        return {
            "figures": {
                data["neighborhood"]: {k: data[k] for k in FIGURES if data[k] is not None}
                for _, data in self.rows
            }
        }


class DaysOff(Table):
    """Days without work besides federal holidays."""

    key, label = "days_off", "Days off besides federal holidays"
    hint = "No crew works on them."
    in_file = 'a list of days off as [["2028-12-24", "2029-01-02"]]'

    @classmethod
    def rows_of(cls, asked: PlanAsked) -> list[dict]:
        return [{"first": first, "last": last} for first, last in asked.days_off]

    def kept(self) -> dict:
        spans = [(data["first"], data["last"] or data["first"]) for _, data in self.rows]
        return {"days_off": [[first.isoformat(), last.isoformat()] for first, last in spans]}


def _table(table: type[Table], row: type[forms.Form]):
    return formset_factory(
        row, table, extra=0, can_delete=True, max_num=MOST_ROWS, absolute_max=MOST_ROWS,
        validate_max=True,
    )  # fmt: skip


TABLES = tuple(
    _table(table, row)
    for table, row in (
        (Years, YearRow), (Funding, FundingRow), (Seasons, SeasonRow), (DaysOff, DaysOffRow),
        (Closures, ClosureRow), (Quotas, QuotaRow), (Figures, FigureRow),
    )
)  # fmt: skip


def days_of_season(row: Mapping) -> list[tuple[int, int]]:
    """Return every (month, day) of a season; one over new year wraps round."""
    first, last = tuple(row["first"]), tuple(row["last"])
    # A leap year, so that February 29 is a day.
    year = [date.fromordinal(date(2028, 1, 1).toordinal() + k) for k in range(366)]
    marks = [(day.month, day.day) for day in year]
    if first <= last:
        return [mark for mark in marks if first <= mark <= last]
    return [mark for mark in marks if mark >= first or mark <= last]


def _listed(years) -> list:
    if years is None:
        return []
    if not isinstance(years, list):
        raise TypeError("program years are a list")
    return years


def _plain(value):
    return value.isoformat() if isinstance(value, date) else value


def _without(data: dict, name: str) -> dict:
    return {key: value for key, value in data.items() if key != name}
