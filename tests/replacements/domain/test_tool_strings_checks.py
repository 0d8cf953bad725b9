"""Geometry, load and condition of a string; both sides of every limit (limits are judgment)."""

from dataclasses import fields, replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.findings import Level
from replacements.domain.pipes import allowable_pull_lbf, pipe, pipe_measured
from replacements.domain.ropes import constructions
from replacements.domain.tool_strings import (
    BadComponent,
    CableEnd,
    Component,
    Facing,
    Kind,
    Part,
    StringCase,
    StringLimits,
    ToolString,
    Wear,
    check,
    component_from,
    side_view,
    strength,
)
from replacements.domain.tool_strings.rules import LIMIT_LABELS, rule_table
from tests.examples import examples

from .tools import DAY, NEW, OLD, as_built, good_string, tool, tools


def found_in(string, old=OLD, new=NEW, **known):
    """Every finding by rule."""
    findings = check(string, old, new, **{"length_ft": 60, "as_of": DAY, **known})
    return {finding.rule: finding for finding in findings}


# changed part, its change that just passes, its change that just fails, rule, level
GEOMETRY = [
    ("cable", {"thin_end_in": 0.6875}, {"thin_end_in": 0.689}, "THREADING", Level.STOP),
    ("cable", {"length_ft": 75}, {"length_ft": 74.9}, "CABLE_SHORT", Level.STOP),
    ("blade", {"outside_in": 1.338}, {"outside_in": 1.336}, "BLADE_REACH", Level.STOP),
    ("blade", {"pilot_in": 0.71875}, {"pilot_in": 0.72}, "BLADE_PILOT_LARGE", Level.STOP),
    ("blade", {"pilot_in": 0.625}, {"pilot_in": 0.624}, "BLADE_PILOT_SMALL", Level.CAUTION),
    ("pre_expander", {"outside_in": 0.76}, {"outside_in": 0.75}, "PRE_EXPANDER_SIZE", Level.STOP),
    ("pre_expander", {"outside_in": 1.33}, {"outside_in": 1.34}, "PRE_EXPANDER_SIZE", Level.STOP),
    ("pre_expander", {"outside_in": 1.0125}, {"outside_in": 1.013}, "STEP_UP", Level.CAUTION),
    ("expander", {"outside_in": 1.2376}, {"outside_in": 1.237}, "EXPANDER_SMALL", Level.STOP),
    ("expander", {"outside_in": 1.6875}, {"outside_in": 1.688}, "EXPANDER_LARGE", Level.CAUTION),
    ("spacer", {"length_in": 2}, {"length_in": 1.9}, "SPACING", Level.CAUTION),
    ("pipe_puller", {"outside_in": 1.34}, {"outside_in": 1.35}, "COLLAR_OUTSIDE", Level.STOP),
    (
        "pipe_puller",
        {"fits_new_in": (0.75, 1)},
        {"fits_new_in": (0.75,)},
        "COLLAR_SIZE",
        Level.STOP,
    ),
    (
        "pipe_puller",
        {"fits_new_types": ("cts",)},
        {"fits_new_types": ("IPS",)},
        "COLLAR_TYPE",
        Level.STOP,
    ),
    ("blade", {"fits_old_in": (0.75,)}, {"fits_old_in": (0.5,)}, "OLD_SIZE", Level.STOP),
    (
        "blade",
        {"fits_old_in": (0.625, 0.75)},
        {"fits_old_in": (0.5, 0.75)},
        "SIZE_GROUP",
        Level.CAUTION,
    ),
]


@pytest.mark.parametrize(("part", "passes", "fails", "rule", "level"), GEOMETRY)
def test_both_sides_of_each_geometric_limit(part, passes, fails, rule, level):
    assert rule not in found_in(good_string(**{part: passes}))
    assert found_in(good_string(**{part: fails}))[rule].level is level


def test_a_half_inch_line_is_tight_for_the_pulling_end():
    """3/8 in. cable needs 7/16 in. clear (derived); 1/2 in. lead leaves 1/8 in. before scale."""
    half = pipe("LEAD", 0.5, "AA")
    assert found_in(good_string(), half)["PULL_CABLE_TIGHT"].level is Level.CAUTION
    assert "PULL_CABLE_BORE" not in found_in(good_string(), half)
    scaled = pipe_measured("LEAD", 0.43, half.outside_in)
    assert found_in(good_string(), scaled)["PULL_CABLE_BORE"].level is Level.STOP
    assert "PULL_CABLE_TIGHT" not in found_in(good_string())


def test_half_inch_lines_and_larger_ones_take_different_tools():
    """Common practice, no source."""
    found = found_in(good_string(), pipe("LEAD", 0.5, "AA"))
    assert found["OLD_SIZE"].level is Level.STOP
    measured = pipe_measured("LEAD", 0.72, 1.2)
    assert "OLD_SIZE" not in found_in(good_string(), measured)  # the size nearest to 0.72 is 3/4


def test_an_expander_must_open_the_old_bore():
    wide = pipe("LEAD", 1.5, "AA")
    assert found_in(good_string(), wide)["EXPANDER_OLD_BORE"].level is Level.STOP


def test_the_soil_opening_counts_the_shell_on_both_sides():
    opening = found_in(good_string())["SOIL_OPENING"].value
    assert opening == pytest.approx(1.34 + 2 * OLD.wall_in)


def test_the_hole_in_the_wall_clears_the_expander_by_half_an_inch():
    assert "ENTRY_HOLE" not in found_in(good_string(), entry_hole_in=1.84)
    assert found_in(good_string(), entry_hole_in=1.83)["ENTRY_HOLE"].level is Level.STOP


def test_a_new_pipe_that_slips_into_the_old_bore_contradicts_the_job():
    found = found_in(good_string(), pipe("LEAD", 1, "AA"), pipe("PE", 0.75, "CTS SDR 9"))
    assert found["NEW_PIPE_SMALLER"].level is Level.STOP
    assert "7/8 in. outside, the old bore 1 in." in found["NEW_PIPE_SMALLER"].message


@pytest.mark.parametrize("material", ["GALVANIZED", "brass", "STEEL"])
def test_steel_or_brass_in_the_run_is_not_cut(material):
    found = found_in(good_string(), run_materials=("LEAD", material))["RUN_NOT_CUTTABLE"]
    assert found.level is Level.STOP and "open cut" in found.do


def test_an_old_pipe_of_steel_wants_a_heavier_method():
    found = found_in(good_string(), pipe("GALVANIZED", 0.75, "SCH 40"))
    assert found["OLD_PIPE"].level is Level.STOP and "heavier method" in found["OLD_PIPE"].do


@pytest.mark.parametrize("new", [pipe("LEAD", 1.0, "AA"), pipe("GALVANIZED", 1.0, "SCH 40")])
def test_lead_and_steel_are_no_new_pipe(new):
    assert found_in(good_string(), new=new)["NEW_PIPE"].level is Level.STOP


@pytest.mark.parametrize("material", ["PE", "PEX"])
def test_poly_can_be_drawn_in(material):
    """Common practice, no source; 3/4 in. lead replaced by 1 in. polyethylene is a common case."""
    assert "NEW_PIPE" not in found_in(good_string(), new=pipe(material, 1.0, "CTS SDR 9"))


def test_copper_can_be_drawn_in():
    """Common practice, no source."""
    copper = good_string(pipe_puller={"fits_new_types": ("COPPER",)})
    found = check(copper, OLD, pipe("COPPER", 1.0, "K"), length_ft=60, as_of=DAY)
    assert {f.level for f in found} == {Level.NOTE}


def test_a_new_pipe_known_by_measure_only_asks_for_a_trial():
    found = found_in(good_string(), new=pipe_measured("PE", 0.9, 1.125))
    assert found["COLLAR_UNPROVED"].level is Level.CAUTION


# ---- load: two forces, never mixed ------------------------------------------------------------


def strength_of(string, **known):
    return strength(StringCase(tool_string=string, old_pipe=OLD, new_pipe=NEW, **known))


def test_the_cable_at_three_with_a_jaw_set_is_the_weakest_link():
    """3/8 in. 7x19 at 14,400 lb x 0.80 / 3."""
    limit = strength_of(good_string()).total_limit
    assert (limit.kind, limit.limit_lbf) == ("CABLE", pytest.approx(3840))


def test_total_and_drag_are_held_apart():
    """A 3,000 lb total stops no 440 lb pipe, and a 500 lb drag stops it though the cable holds."""
    total = found_in(good_string(), total_force_lbf=3000, drag_lbf=100)
    assert not {"TOTAL_OVER", "TOTAL_NEAR", "DRAG_OVER", "DRAG_NEAR"} & set(total)
    drag = found_in(good_string(), total_force_lbf=1000, drag_lbf=500)
    assert drag["DRAG_OVER"].level is Level.STOP
    assert "TOTAL_OVER" not in drag


@pytest.mark.parametrize(
    ("force", "rule"), [(3072, None), (3073, "TOTAL_NEAR"), (3841, "TOTAL_OVER")]
)
def test_four_fifths_is_near_and_one_is_over(force, rule):
    found = {"TOTAL_NEAR", "TOTAL_OVER"} & set(found_in(good_string(), total_force_lbf=force))
    assert found == ({rule} if rule else set())


# As somebody read it off the print, in the shade; the table's own state.
READ = {"resin": "PE4710", "temperature_f": 73.0}


def test_the_drag_side_is_the_new_pipe_by_its_grip():
    limit = strength_of(good_string(), **READ).drag_limit
    assert limit.kind == "NEW_PIPE"
    assert limit.limit_lbf == pytest.approx(0.8 * allowable_pull_lbf(NEW))
    day_long = strength_of(good_string(), minutes=1440, **READ).drag_limit.limit_lbf
    assert day_long == pytest.approx(0.91 * limit.limit_lbf)


def test_of_two_grips_the_weaker_counts():
    basket = tool(Kind.PIPE_PULLER, "PI-2", grip="BASKET", rated_lbf=9000)
    for parts in ([*tools(), basket], [*tools()[:-1], basket, tools()[-1]]):
        limit = strength_of(as_built(parts), **READ).drag_limit
        assert limit.limit_lbf == pytest.approx(0.6 * allowable_pull_lbf(NEW))


def test_a_weaker_end_fitting_of_the_cable_lowers_its_limit():
    weak = strength_of(good_string(cable={"termination": "WEDGE_SOCKET"})).total_limit
    strong = strength_of(good_string(cable={"termination": "SPELTER_SOCKET"})).total_limit
    assert weak.limit_lbf == pytest.approx(14400 * 0.75 / 3)
    assert strong.limit_lbf == pytest.approx(3840)  # the jaw set still holds the other end


@pytest.mark.parametrize("kind", ["jaw_set", "expander", "swivel", "puller", "pipe_puller"])
def test_a_part_without_rating_is_not_pulled_on(kind):
    found = found_in(good_string(**{kind: {"rated_lbf": None}}))
    assert found["RATING_MISSING"].level is Level.STOP


def test_a_cable_without_certificate_falls_back_to_the_table_with_a_caution():
    found = found_in(good_string(cable={"breaking_force_lbf": None}))
    assert found["CERTIFICATE_MISSING"].level is Level.CAUTION
    assert found["WEAKEST_LINK"].value == pytest.approx(3840)
    nothing = found_in(good_string(cable={"breaking_force_lbf": None, "construction": ""}))
    assert nothing["RATING_MISSING"].level is Level.STOP


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"cable": {"termination": "SINGLE_CRIMP_STOP"}}, "TERMINATION"),
        ({"cable": {"termination": "KNOT"}}, "TERMINATION"),
        ({"pipe_puller": {"grip": "JOINT"}}, "GRIP_JOINT"),
        ({"pipe_puller": {"grip": "TAPE"}}, "GRIP_UNKNOWN"),
    ],
)
def test_ends_and_grips_that_hold_no_pull_stop(changed, rule):
    assert found_in(good_string(**changed))[rule].level is Level.STOP


@pytest.mark.parametrize(("factor", "level"), [(2.5, Level.CAUTION), (1.5, Level.STOP)])
def test_a_low_design_factor_is_said_and_never_goes_below_two(factor, level):
    limits = StringLimits(design_factor=factor)
    assert found_in(good_string(), limits=limits)["DESIGN_FACTOR"].level is level
    assert strength_of(good_string(), limits=limits).total_limit.limit_lbf <= 14400 * 0.8 / 2


def with_link(parts_at, state=READ):
    """Return the findings of a string with a break-away link."""
    link = Component(kind=Kind.BREAKAWAY_LINK, mark="BK-1", rated_lbf=parts_at, length_in=2)
    parts = tools()
    return found_in(as_built([*parts[:-1], link, parts[-1]]), **state)


def test_limits_are_shown_rounded_down_so_that_what_is_read_may_be_fitted():
    """439.8 lb is read as 439, so that a link of 440 is seen to be too strong."""
    said = with_link(440)["BREAKAWAY_HIGH"].message
    assert "parts at 440 lb" in said and "allowed 439 lb" in said
    assert "439 lb" in found_in(good_string(), **READ)["DRAG_LIMIT"].message


def test_a_link_waits_for_the_print_to_be_read_before_it_stops():
    """Of PE2708 at 120 F 205 lb are allowed, of PE4710 in the shade 439."""
    unread = with_link(420, {})
    assert unread["BREAKAWAY_UNREAD"].level is Level.CAUTION
    assert "PE2708 at 120 \N{DEGREE SIGN}F, assumed" in unread["BREAKAWAY_UNREAD"].message
    assert with_link(441, {})["BREAKAWAY_HIGH"].level is Level.STOP
    assert not {"BREAKAWAY_HIGH", "BREAKAWAY_UNREAD"} & set(with_link(200, {}))
    assert strength_of(good_string()).drag_limit.limit_lbf == pytest.approx(205.8, abs=0.1)


@pytest.mark.parametrize(("end", "said"), [("THIN", "1/4 in."), ("UNKNOWN", "(assumed)")])
def test_the_limit_of_a_cable_pulled_by_its_thin_end_is_the_thin_ends(end, said):
    """14,400 lb x (1/4 over 3/8)^2 = 6,400; the table's 7,000 lb is more (jaws 0.8, factor 3)."""
    limit = strength_of(replace(good_string(), pulled_end=CableEnd(end))).total_limit
    assert limit.limit_lbf == pytest.approx(6400 * 0.8 / 3)
    assert "thin end" in limit.name and said in limit.name


def test_a_grip_that_nobody_knows_counts_as_the_poorest():
    limit = strength_of(good_string(pipe_puller={"grip": ""}), **READ).drag_limit
    assert limit.limit_lbf == pytest.approx(0.6 * allowable_pull_lbf(NEW))


def test_the_rigid_length_runs_from_blade_to_expander():
    lengths = [part.component.length_in for part in good_string().parts]
    kinds = [part.component.kind for part in good_string().parts]
    expected = sum(lengths[kinds.index(Kind.BLADE) : kinds.index(Kind.EXPANDER) + 1])
    assert good_string().rigid_in == pytest.approx(expected)
    assert good_string(spacer={"length_in": None}).rigid_in is None
    assert as_built(tools()[:2]).rigid_in is None


def test_a_break_away_link_parts_before_the_new_pipe():
    assert with_link(441)["BREAKAWAY_HIGH"].level is Level.STOP
    assert not {"BREAKAWAY_HIGH", "BREAKAWAY_ADVISED"} & set(with_link(420))
    assert with_link(420)["DRAG_LIMIT"].value == 420


RATED = ["cable", "jaw_set", "expander", "swivel", "puller", "pipe_puller"]


@given(st.sampled_from(RATED), st.floats(50, 30_000), st.floats(50, 30_000))
def test_a_weaker_part_never_raises_a_limit(kind, one, other):
    figure = "breaking_force_lbf" if kind == "cable" else "rated_lbf"
    low, high = (strength_of(good_string(**{kind: {figure: f}})) for f in sorted((one, other)))
    assert low.total_limit.limit_lbf <= high.total_limit.limit_lbf
    assert low.drag_limit.limit_lbf <= high.drag_limit.limit_lbf


@given(st.sampled_from(RATED), st.floats(50, 30_000))
def test_the_limit_is_no_higher_than_any_part(kind, rating):
    figure = "breaking_force_lbf" if kind == "cable" else "rated_lbf"
    found = strength_of(good_string(**{kind: {figure: rating}}))
    assert all(found.total_limit.limit_lbf <= part.limit_lbf for part in found.total)
    limit = found.drag_limit if kind == "pipe_puller" else found.total_limit
    assert limit.limit_lbf <= rating


# ---- condition --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "rule", "level"),
    [
        ({"due_on": DAY - timedelta(days=1)}, "INSPECTION_OVERDUE", Level.STOP),
        ({"passed": False}, "INSPECTION_FAILED", Level.STOP),
        ({"inspected_on": None}, "INSPECTION_NONE", Level.CAUTION),
        ({"inspected_on": DAY + timedelta(days=1)}, "INSPECTION_FUTURE", Level.STOP),
        ({"retired_on": DAY}, "RETIRED", Level.STOP),
    ],
)
def test_inspections_block_use(changed, rule, level):
    found = found_in(good_string(swivel=changed))[rule]
    assert found.level is level and "Swivel SW-1" in found.message


def test_the_last_day_of_an_inspection_still_counts():
    assert "INSPECTION_OVERDUE" not in found_in(good_string(swivel={"due_on": DAY}))


def test_a_retirement_in_the_future_is_not_yet_one():
    assert "RETIRED" not in found_in(good_string(swivel={"retired_on": DAY + timedelta(days=1)}))


def test_without_a_day_inspections_are_not_judged_and_that_is_said():
    assert found_in(good_string(), as_of=None)["CONDITION_UNJUDGED"].level is Level.CAUTION


def test_o_rings_of_the_jaw_set_are_wear_parts():
    """Common practice, no source."""
    torn = found_in(good_string(jaw_set={"wear": {"O_RINGS": Wear.BROKEN}}))["WEAR"]
    assert torn.level is Level.CAUTION and "O-rings broken" in torn.message.replace(
        "o-rings", "O-rings"
    )
    assert "O_RINGS_UNSEEN" in found_in(good_string(jaw_set={"wear": {}}))


def test_a_broken_cable_tip_is_renewed_by_crimping_on_a_spare():
    """Common practice, no source."""
    found = found_in(good_string(cable={"wear": {"TIP": "BROKEN"}}))["CABLE_TIP"]
    assert found.level is Level.CAUTION and "Crimp on a spare" in found.do


def test_a_cable_once_pulled_past_half_its_strength_is_retired():
    assert found_in(good_string(cable={"peak_force_lbf": 7300}))["RETIRED"].level is Level.STOP
    assert "RETIRED" not in found_in(good_string(cable={"peak_force_lbf": 7200}))


# ---- the catalog ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("figures", "sentence"),
    [
        ({"outside_in": -1}, "outside_in is -1; it must be a number above 0"),
        ({"outside_in": float("nan")}, "outside_in is nan"),
        ({"rated_lbf": "5000"}, "rated_lbf is '5000'"),
        ({"fits_new_in": (0.75, 0)}, "fits_new_in is 0"),
        ({"wear": {"O_RINGS": "FINE"}}, "'FINE' is not a valid Wear"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_with_the_part_named(figures, sentence):
    with pytest.raises(BadComponent, match=sentence):
        Component(kind=Kind.EXPANDER, mark="EX-9", **figures)


def test_a_catalog_row_becomes_a_tool():
    made = component_from("BLADE", "B-7", {"outside_in": 1.4, "fits_old_in": [0.75]}, rated_lbf=900)
    assert made == Component(
        kind=Kind.BLADE, mark="B-7", outside_in=1.4, fits_old_in=(0.75,), rated_lbf=900
    )
    with pytest.raises(BadComponent, match="B-7: color is no dimension"):
        component_from("BLADE", "B-7", {"color": "blue"})
    with pytest.raises(BadComponent, match="AUGER"):
        component_from("AUGER", "A-1", {})


def test_a_single_size_or_type_is_a_list_of_one_and_null_is_not_recorded():
    """As a form or a JSON column may hold them (constructed)."""
    given = {"fits_new_types": "CTS", "fits_new_in": 1.0, "outside_in": None, "construction": None}
    made = component_from("PIPE_PULLER", "P-1", given)
    assert (made.fits_new_types, made.fits_new_in) == (("CTS",), (1.0,))
    assert made.outside_in is None and made.construction == ""
    with pytest.raises(BadComponent, match="grip is 7, no text"):
        component_from("PIPE_PULLER", "P-1", {"grip": 7})
    with pytest.raises(BadComponent, match="kind is no dimension"):
        component_from("PIPE_PULLER", "P-1", {"kind": "BLADE"})


def test_a_dimension_nobody_recorded_stops_and_is_named():
    found = found_in(as_built([Component(kind=Kind.BLADE, mark="B-7")]))["DIMENSION_MISSING"]
    assert found.level is Level.STOP and "outside_in, pilot_in" in found.message


# ---- any parts at all -------------------------------------------------------------------------

SIZE = st.none() | st.floats(0.01, 1e4)
DATES = st.none() | st.dates(date(2020, 1, 1), date(2032, 1, 1))
COMPONENTS = st.builds(
    Component,
    kind=st.sampled_from(Kind),
    mark=st.text(max_size=4),
    outside_in=SIZE,
    pilot_in=SIZE,
    length_in=SIZE,
    length_ft=SIZE,
    thin_end_in=SIZE,
    pulling_end_in=st.none() | st.sampled_from([0.25, 0.375, 0.5, 3.0]),
    construction=st.sampled_from(["", "ROPE", *constructions()]),
    termination=st.sampled_from(["", "KNOT", "JAW_SET", "SINGLE_CRIMP_STOP"]),
    breaking_force_lbf=SIZE,
    grip=st.sampled_from(["", "TAPE", "BASKET", "JOINT"]),
    fits_old_in=st.sampled_from([(), (0.5,), (0.5, 0.75), (0.75,)]),
    fits_new_in=st.sampled_from([(), (0.75,), (1.0,)]),
    fits_new_types=st.sampled_from([(), ("CTS",), ("COPPER", "IPS")]),
    fits_cable_in=st.sampled_from([(), (0.375,), (0.25,)]),
    rated_lbf=SIZE,
    inspected_on=DATES,
    passed=st.sampled_from([None, True, False]),
    due_on=DATES,
    retired_on=DATES,
    peak_force_lbf=SIZE,
    wear=st.dictionaries(st.sampled_from(["O_RINGS", "TIP", "EDGE"]), st.sampled_from(Wear)),
)
STRINGS = st.builds(
    ToolString,
    parts=st.lists(
        st.builds(Part, COMPONENTS, st.none() | st.sampled_from(Facing)), max_size=8
    ).map(tuple),
    pulled_end=st.sampled_from(CableEnd),
)
PIPES = st.sampled_from(
    [OLD, NEW, pipe("COPPER", 0.75, "K"), pipe("GALVANIZED", 1, "SCH 40"), pipe("LEAD", 0.5, "B")]
)


@examples(150)
@given(STRINGS, PIPES, PIPES, st.none() | st.floats(0, 500), DATES, SIZE, SIZE)
def test_any_parts_in_any_order_give_findings_and_a_drawing(
    string, old, new, feet, day, total, drag
):
    found = check(string, old, new, length_ft=feet, as_of=day, total_force_lbf=total, drag_lbf=drag)
    ranks = [finding.level.rank for finding in found]
    assert ranks == sorted(ranks)
    assert all(f.part is None or 0 <= f.part < len(string.parts) for f in found)
    assert all(f.message.endswith(".") and f.source for f in found)
    assert side_view(string, old, new, found).startswith("<svg")


def test_every_rule_of_the_table_says_what_to_do():
    assert all(row["do"] for row in rule_table().values())


def test_every_limit_of_a_string_has_its_words():
    assert {item.name for item in fields(StringLimits)} == set(LIMIT_LABELS)
