"""An estimate as it is asked for, kept and shown: its inputs, its limits, and one number once."""

import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from replacements.forms.orders import OrderForm
from replacements.forms.pulls import EstimateForm
from replacements.forms.tools import StringForm
from replacements.operations.pulls import estimate_make
from replacements.operations.tools import component_add, component_inspect, tool_string_record
from replacements.phone.views import orders_kept
from replacements.queries.estimate_told import estimate_shown, figures_told, inputs_told
from replacements.queries.planned_pull import pipe_state_of
from replacements.queries.pulls import estimate_back
from replacements.sheets.job_sheet import job_sheet
from tests.replacements.factories import AT, DAY, MORNING, order, string, tools

pytestmark = pytest.mark.django_db


def rules(findings):
    return {(f["level"], f["rule"]) for f in findings}


def test_what_nobody_read_of_the_pipe_is_the_weakest_and_hottest_and_told():
    work = order()
    string(work)
    unread = estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    worst = {"resin": "PE2708", "temperature_f": 120.0}
    read = estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000, pipe_state=worst)
    assert unread.result["pipe_limit_lbf"] == pytest.approx(read.result["pipe_limit_lbf"])
    assumed = {("CAUTION", "ASSUMED_RESIN"), ("CAUTION", "ASSUMED_TEMPERATURE_F")}
    assert assumed <= rules(unread.result["findings"])
    assert not assumed & rules(read.result["findings"])
    marked = {row["name"] for row in inputs_told(unread.case) if row["assumed"]}
    assert {"Resin", "Wall of the new pipe", "Time under tension"} <= marked
    # What was counted for want of reading is not taken for read the next time.
    again = estimate_make(
        work_order=work, by="crew", at=AT, anchor_lbf=9000, pipe_state=pipe_state_of(unread)
    )
    assert assumed <= rules(again.result["findings"])


def test_an_estimate_asked_again_untouched_says_the_same():
    work = order(bends=[{"station_ft": 20, "degrees": 30}])
    string(work)
    asked = {
        "plate_area_ft2": 6, "soil_psf": 1500, "resin": "PE4710", "temperature_f": 70,
        "minutes": 30, "BLADE_THICKNESS": 0.16, "BEND_20": 48,
    }  # fmt: skip
    form = EstimateForm.asked_of(work, {k: str(v) for k, v in asked.items()})
    assert form.is_valid(), form.errors
    made = estimate_make(work_order=work, by="crew", at=AT, **form.given())
    shown = EstimateForm.of(work, made)
    untouched = {field.html_name: field.value() or "" for field in shown}
    sizes = {"BLADE_THICKNESS": "0.16", "BEND_20": "48"}
    assert {k: v for k, v in untouched.items() if v != ""} == asked | sizes
    form = EstimateForm.asked_of(work, {k: str(v) for k, v in untouched.items()})
    assert form.is_valid(), form.errors
    again = estimate_make(work_order=work, by="crew", at=AT, **form.given())
    assert again.case == made.case
    assert (again.verdict, again.result) == (made.verdict, made.result)
    assert made.case["limits_lbf"]["ANCHOR"] == 9000
    assert made.case["bends"] == [[20, 30, 48]]
    back = estimate_back(made)
    assert back.case.values == {"BLADE_THICKNESS": 0.16}
    assert back.high_lbf == pytest.approx(made.high_lbf)


def test_the_limit_of_a_string_pulled_by_the_thin_end_is_the_thin_ends():
    """7x19 of 1/4 in.: 7,000 lb by the table, 14,400 x (2/3)^2 = 6,400 by this certificate."""
    work = order()
    tools_of_it = tools(work.contractor)
    limits = {}
    for end in ("THICK", "THIN", "UNKNOWN"):
        string(work, tools_of_it, pulled_end=end)
        made = estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
        limits[end] = made.result["limit_lbf"]
        found = rules(made.result["findings"])
        assert (("STOP", "THIN_END_PULLED") in found) == (end == "THIN")
        assert (("CAUTION", "ASSUMED_PULLED_END") in found) == (end == "UNKNOWN")
    assert limits["THICK"] == pytest.approx(3840)
    assert limits["THIN"] == limits["UNKNOWN"] == pytest.approx(6400 * 0.8 / 3)


def test_a_fitted_break_away_link_is_in_the_estimate_the_table_and_the_phone():
    work = order()
    fitted = tools(work.contractor)
    link = component_add(
        contractor=work.contractor, kind="BREAKAWAY_LINK", mark="BK-1", dimensions={},
        rated_lbf=430, by="office", at=MORNING,
    )  # fmt: skip
    component_inspect(
        component=link, inspected_on=MORNING.date(), inspected_by="Rowan Fell", passed=True,
        findings={}, next_due_on=None, by="office", at=MORNING,
    )  # fmt: skip
    string(work, [*fitted[:-1], link, fitted[-1]])
    state = {"resin": "PE4710", "temperature_f": 73.0}
    made = estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000, pipe_state=state)
    told = figures_told(made)
    assert (told["drag_limit"], told["drag_limited_by"]) == ("430 lb", "break-away link")
    assert told["pipe_limit"] == "439 lb"  # 439.8: rounded down
    table = {row["part"]: row["limit"] for row in estimate_shown(made, None)["checks"]}
    assert (table["break-away link"], table["new pipe"]) == ("430 lb", "439 lb")
    phone = next(orders_kept([work]))["estimate"]
    assert (phone["drag_limit"], phone["drag_limited_by"]) == ("430 lb", "break-away link")
    page = PdfReader(BytesIO(job_sheet(work, DAY))).pages[0].extract_text()
    assert "430 lb (break-away link" in " ".join(page.split())


def test_the_standing_of_the_model_is_told_first_and_everywhere_alike():
    work = order()
    string(work)
    made = estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    said = "Not calibrated on your ground yet: 0 logs of pulls in stiff clay are used."
    assert estimate_shown(made, None)["standing"] == said
    assert next(orders_kept([work]))["estimate"]["standing"] == said


def test_chart_card_and_table_show_the_same_drag():
    work = order()
    string(work)
    shown = estimate_shown(estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000), None)
    drag = shown["drag"]
    assert f">drag on new pipe {drag['expected'].removesuffix(' lb')}<" in shown["chart"]
    ends = f"ends at {drag['expected']}, from {drag['low']} to {drag['high']}"
    assert ends in shown["chart"]
    pipe = next(row for row in shown["checks"] if row["part"] == "new pipe")
    assert pipe["high"] == drag["high"]


@pytest.mark.parametrize(
    ("typed", "radius_in"),
    [
        ("12, 45", None),
        ("12, 45, 36", 36),
        ("12 45 36", 36),
        ("12; 45; 3 ft", 36),
        ('12, 45°, radius 36"', 36),
        ("12, 45, ?", None),
        ("12, 45, not known", None),
    ],
)
def test_a_bend_is_written_with_its_radius_or_without(typed, radius_in):
    form = OrderForm({"bends": typed})
    form.is_valid()
    (bend,) = form.cleaned_data["bends"]
    assert (bend["station_ft"], bend["degrees"], bend.get("radius_in")) == (12, 45, radius_in)


@pytest.mark.parametrize("typed", ["12, 45, wide", "12, 45, 0", "12, 45, 36 mm", "12, 45, 3.6.1"])
def test_a_radius_that_cannot_be_is_refused_by_its_line(typed):
    form = OrderForm({"bends": typed})
    form.is_valid()
    assert form.errors["bends"][0].startswith("Line 1: ")


def test_a_bend_comes_back_into_the_form_as_it_was_written():
    bends = [{"station_ft": 0, "degrees": 45, "radius_in": 36}, {"station_ft": 20, "degrees": 30}]
    work = order(bends=bends)
    assert OrderForm.stands(work)["bends"] == "0, 45, 36\n20, 30"
    assert work.bends_told == ["45° at 0 ft, radius 36 in.", "30° at 20 ft, radius not known"]


def test_the_form_of_a_string_asks_which_end_is_pulled():
    work = order()
    first, *_ = tools(work.contractor)
    given = {"part_1": str(first.pk)}
    form = StringForm(given, components=[first])
    assert not form.is_valid() and "pulled_end" in form.errors
    assert StringForm(given | {"pulled_end": "THICK"}, components=[first]).is_valid()
    unsaid = tool_string_record(work_order=work, parts=[(first, "")], by="crew", at=AT)
    assert ("STOP", "PULLED_END_UNKNOWN") in rules(unsaid.findings)


@pytest.mark.parametrize("known", [None, True, False])
def test_a_form_sent_back_untouched_keeps_what_is_known_of_the_water(known):
    shown = str(OrderForm.of(order(groundwater=known))["groundwater"])
    (chosen,) = re.findall(r'value="(\w*)" selected', shown)
    form = OrderForm({"groundwater": chosen})
    form.full_clean()
    assert form.cleaned_data["groundwater"] is known


def test_water_nobody_looked_for_counts_as_above_the_pipe_where_it_matters_and_only_there():
    found = {}
    for soil, known in (("MEDIUM_SAND", None), ("MEDIUM_SAND", True), ("STIFF_CLAY", None)):
        made = estimate_make(work_order=order(soil=soil, groundwater=known), by="crew", at=AT)
        found[soil, known] = made, {rule for _, rule in rules(made.result["findings"])}
    looked, said = found["MEDIUM_SAND", True]
    assumed, told = found["MEDIUM_SAND", None]
    assert assumed.result["drag_high_lbf"] == looked.result["drag_high_lbf"]
    assert ("ASSUMED_GROUNDWATER" in told, "WET_SAND" in told) == (True, False)
    assert ("ASSUMED_GROUNDWATER" in said, "WET_SAND" in said) == (False, True)
    assert "ASSUMED_GROUNDWATER" not in found["STIFF_CLAY", None][1]


def test_lead_of_a_class_nobody_told_counts_as_the_heaviest():
    forces = {}
    for grade in ("", "AAA", "AA"):
        made = estimate_make(work_order=order(old_grade=grade), by="crew", at=AT)
        forces[grade] = made.high_lbf
        told = ("CAUTION", "ASSUMED_OLD_PIPE") in rules(made.result["findings"])
        assert told is (grade == "")
    assert forces[""] == forces["AAA"] > forces["AA"]
