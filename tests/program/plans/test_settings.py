"""The settings of a plan: typed into a page or given in a file, they are checked as one."""

import pytest
from django.http import QueryDict

from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.setting_fields import MonthDayField, YearsField, month_day_told
from program.queries.planning.setting_forms import SettingsForm, shown
from program.queries.planning.setting_tables import TABLES

WHOLE = {
    "crews_by_year": {"1": 2, "2": 4, "3": 4},
    "budget_by_year": {"1": 2_500_000.0},
    "seasons": [
        {"name": "Winter", "first": [12, 1], "last": [3, 31], "crews": 1},
        {"name": "Dry", "first": [6, 1], "last": [9, 30], "crews": None},
    ],
    "closed_years": {"Saltmarket": [4, 5]},
    "windows": [
        {"place": "Brine St", "kind": "CLOSED", "first": "2028-04-01", "last": "2031-03-31"},
        {"place": "Brine St", "kind": "ONLY", "first": "2032-06-01", "last": "2032-08-31"},
        {"place": "Alder St", "kind": "SEASONS", "seasons": ["Dry", "Winter"]},
    ],
    "quotas": {"Gasworks": 0.15, "Gasworks + Brine St": {"share": 0.2, "years": [1, 2, 3]}},
    "figures": {"Saltmarket": {"need_index": 7.5, "lead_results": 3.0}},
    "days_off": [["2028-07-03", "2028-07-03"], ["2028-12-24", "2029-01-02"]],
    "frost": [[12, 1], [3, 15]],
}


def posted(asked: PlanAsked, change: dict | None = None) -> SettingsForm:
    """Return the form as a browser sends it back: as the page shows it, then a change."""
    page = SettingsForm(start=asked, extra=1, initial=shown(asked))
    sent = QueryDict(mutable=True)
    for form in (page, *(form for table in page.tables.values() for form in table.forms)):
        for field in form:
            value = field.field.widget.format_value(field.value())
            for one in value if isinstance(value, list) else [value]:
                if one is not None and field.name != "DELETE":
                    sent.appendlist(field.html_name, str(one))
    for table in page.tables.values():
        sent[f"{table.prefix}-TOTAL_FORMS"] = str(len(table.forms))
        sent[f"{table.prefix}-INITIAL_FORMS"] = str(table.initial_form_count())
    for name, value in (change or {}).items():
        sent[name] = value
    return SettingsForm(sent)


def test_a_plan_shown_and_sent_back_untouched_is_asked_the_same():
    asked = PlanAsked.of(WHOLE)
    form = posted(asked)
    assert form.is_valid(), list(form.sentences())
    assert {name: form.settings[name] for name in WHOLE} == WHOLE
    # Years that are alike stand in one row.
    assert [row["years"] for row in form.tables["by_year"].rows_of(asked)] == [[1], [2, 3]]


def test_a_row_is_added_emptied_and_removed():
    form = posted(
        PlanAsked.of(WHOLE),
        {
            "days_off-2-first": "2029-07-03",
            "days_off-0-DELETE": "on",
            "seasons-1-name": "", "seasons-1-first": "", "seasons-1-last": "",
            "closures-3-seasons": "Winter",
        },
    )  # fmt: skip
    assert form.is_valid(), list(form.sentences())
    found = form.settings
    assert found["days_off"] == [["2028-12-24", "2029-01-02"], ["2029-07-03", "2029-07-03"]]
    assert [row["name"] for row in found["seasons"]] == ["Winter"]


@pytest.mark.parametrize(
    ("change", "where", "words"),
    [
        ({"by_year-0-years": "1-3"}, "by_year-1-years", "earlier row gives it already"),
        ({"by_year-2-years": "7"}, "by_year-2-crews", "the crews, the budget, or both"),
        ({"by_year-0-years": "3-1"}, "by_year-0-years", "the first not after the last"),
        ({"by_year-0-budget": "much"}, "by_year-0-budget", "Enter a number"),
        ({"seasons-0-first": "December"}, "seasons-0-first", "such as Dec 1"),
        ({"seasons-0-last": "Jul 1"}, "seasons-1-first", "overlaps Winter"),
        ({"closures-1-last": "2028-03-01"}, "closures-1-last", "before the first day"),
        ({"closures-1-years": "4"}, "closures-1-years", "doesn't use it"),
        ({"closures-0-years": ""}, "closures-0-years", "needs it"),
        ({"closures-3-seasons": "Wet"}, "closures-3-seasons", "no season Wet; there are Dry, Win"),
        ({"quotas-0-percent": "150"}, "quotas-0-percent", "less than or equal to 100"),
        ({"quotas-1-place": "gasworks"}, "quotas-1-place", "earlier row gives it already"),
        ({"figures-1-neighborhood": "East"}, "figures-1-need_index", "at least one figure"),
        ({"days_off-0-last": "2030-01-01"}, "days_off-0-last", "at most a year"),
        ({"frost_from": ""}, "frost_from", "or neither"),
        ({"crews": "-2"}, "crews", "greater than or equal to 0"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_all_else_stays(change, where, words):
    form = posted(PlanAsked.of(WHOLE), change)
    assert not form.is_valid()
    rows = [row for table in form.tables.values() for row in table.forms]
    wrong = {row[n].html_name: " ".join(e) for row in (form, *rows) for n, e in row.errors.items()}
    assert list(wrong) == [where] and words in wrong[where]
    name, value = next(iter(change.items()))
    assert form.data[name] == value and form.data["closures-2-first"] == "2032-06-01"


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"crews": "2"}, "Crews, '2': give a number, without quotation marks"),
        ({"crews": 1.5}, "Crews, 1.5: Enter a whole number"),
        ({"crews": 5000}, "less than or equal to 1000"),
        ({"budget_per_year": float("inf")}, "Enter a number"),
        ({"seed": 10**400}, "Seed"),
        ({"weekdays": 3}, "Days of the week.*list of values"),
        ({"frost": [12, 1]}, "frost season|Frost season"),
        ({"frost": [[2, 30], [3, 1]]}, "Frost season from.*such as Dec 1"),
        ({"weights": {"beauty": 1}}, "no priority factor 'beauty'"),
        ({"weights": [1]}, "tables of names"),
        ({"weights": {"known_lead": -1}}, "greater than or equal to 0"),
        ({"crews_by_year": {"1-3": 2}}, "a file gives .crews_by_year."),
        ({"seasons": "Winter"}, "Seasons of every year can't be read: a file gives a list"),
        ({"seasons": [{"name": "A", "speed": 3}]}, "row 1: there is no 'speed'; there are name"),
        ({"windows": [{"place": "East"}]}, "row 1: What: This field is required"),
        ({"quotas": {"East": "0.2"}}, "'0.2'.*without quotation marks|can't be read"),
        ({"quotas": {"East": {"share": 0.2, "years": "1"}}}, "can't be read"),
        ({"figures": {"East": 3}}, "Figures by neighborhood can't be read"),
        ({"days_off": [["2028-07-01", "soon"]]}, "Days off.*row 1.*soon"),
        ({"unlocked": "A"}, "areas to unlock"),
        ({"based_on": "first"}, "plan to start from"),
        ({"speed": 3}, "no plan setting 'speed'"),
    ],
)
def test_a_file_is_held_against_the_same_rows(asked, words):
    with pytest.raises(PlanError, match=words):
        PlanAsked.of(asked)


def test_days_and_years_are_read_as_people_write_them():
    days = [
        MonthDayField().clean(text) for text in ("Dec 1", "12-01", "12/1", "december 1", "Feb 29")
    ]
    assert days == [[12, 1]] * 4 + [[2, 29]] and month_day_told([12, 1]) == "Dec 1"
    assert YearsField().clean("1-3, 7") == [1, 2, 3, 7]


def test_every_table_says_how_a_file_gives_it():
    assert {table.key for table in TABLES} == {
        "by_year", "funding", "seasons", "days_off", "closures", "quotas", "figures",
    }  # fmt: skip
    assert all(table.in_file and table.hint for table in TABLES)
