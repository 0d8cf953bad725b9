"""A finished job: complete facts pass, whatever is left out or out of bounds is named."""

from dataclasses import replace
from datetime import date

import pytest

from replacements.domain.completion import (
    AfterRules,
    BadCompletion,
    CompletionFacts,
    Disinfection,
    Flush,
    Household,
    LeadRemoved,
    PressureTest,
    TracerTest,
    check,
    disinfection_words,
    flush_rate_gpm,
    flushing_values,
    pressure_test_plan,
    return_to_service_findings,
    shipped_requirements,
    water_volume_gal,
)
from replacements.domain.findings import Level, worst
from services_inventory.domain.regulation import inventory_rules

DONE = date(2028, 5, 15)
RULES = AfterRules.on(inventory_rules(), DONE)
HOUSEHOLD = Household(DONE, DONE, DONE, 6, DONE)
FLUSH = Flush(30, aerators_off=True, bottom_floor_up=True, cold_only=True)
FACTS = CompletionFacts(
    completed_on=DONE,
    line_length_ft=40,
    new_material="PE",
    new_inside_in=0.875,
    new_outside_in=1.125,
    static_psi=60,
    pressure_test=PressureTest(100, 15, 1.5, False, settled_minutes=5),
    tracer=TracerTest(True, True, 3.0),
    depths_ft={"main": 5.0, "house": 4.5},
    leading_outside_in=1.12,
    cut_off_ft=1.5,
    disinfection=Disinfection("SWAB"),
    crew_flush=Flush(10, velocity_ft_s=3.0),
    premise_flush=FLUSH,
    lead=LeadRemoved(40, 140),
    photos=frozenset({"OLD_PIPE", "LEAD_REMOVED", "NEW_AT_MAIN", "NEW_AT_HOUSE", "RESTORED"}),
    bonding_checked=True,
    restored_on=DONE,
    returned_to_service_on=DONE,
    household=HOUSEHOLD,
)


def rules_of(facts, **how):
    found = check(facts, RULES, DONE, **how)
    return {f.rule for f in found if f.level == Level.STOP}


def test_a_complete_job_passes():
    assert check(FACTS, RULES, DONE, lead_weight_lb_per_ft=3.5) == []


def test_nothing_on_record_is_not_accepted():
    bare = CompletionFacts(DONE, 40, "PE", 0.875, 1.125)
    mandatory = {name for name, need in shipped_requirements().checks.items() if need.mandatory}
    assert rules_of(bare) == mandatory


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"pressure_test": PressureTest(99, 15, 1, False, settled_minutes=5)}, "PRESSURE_TEST"),
        ({"static_psi": 70}, "PRESSURE_TEST"),
        ({"pressure_test": PressureTest(100, 14, 1, False, settled_minutes=5)}, "PRESSURE_TEST"),
        ({"pressure_test": PressureTest(100, 15, 2.1, False, settled_minutes=5)}, "PRESSURE_TEST"),
        ({"pressure_test": PressureTest(100, 15, 0, True, settled_minutes=5)}, "PRESSURE_TEST"),
        ({"pressure_test": PressureTest(100, 15, 0, False)}, "PRESSURE_TEST"),
        (
            {"pressure_test": PressureTest(100, 15, 0, False, "air", settled_minutes=5)},
            "PRESSURE_TEST",
        ),
        ({"tracer": None}, "TRACER"),
        ({"tracer": TracerTest(True, False)}, "TRACER"),
        ({"tracer": TracerTest(True, True, 10.1)}, "TRACER"),
        ({"depths_ft": {"main": 0}}, "DEPTH"),
        ({"leading_outside_in": 1.10}, "DIMENSIONS"),
        ({"cut_off_ft": 0.5}, "DIMENSIONS"),
        ({"disinfection": Disinfection("SLUG", 100, 3, 49)}, "DISINFECTION"),
        ({"disinfection": Disinfection("CONTINUOUS", 25, 23, 10)}, "DISINFECTION"),
        ({"disinfection": Disinfection("BLEACH")}, "DISINFECTION"),
        ({"crew_flush": Flush(9, 3)}, "CREW_FLUSH"),
        ({"crew_flush": Flush(10, 2.9)}, "CREW_FLUSH"),
        ({"premise_flush": replace(FLUSH, minutes=29)}, "PREMISE_FLUSH"),
        ({"premise_flush": replace(FLUSH, aerators_off=False)}, "PREMISE_FLUSH"),
        ({"premise_flush": replace(FLUSH, bottom_floor_up=False)}, "PREMISE_FLUSH"),
        ({"premise_flush": replace(FLUSH, cold_only=False)}, "PREMISE_FLUSH"),
        ({"lead": LeadRemoved(37, 130)}, "LEAD_REMOVED"),
        ({"lead": LeadRemoved(40, 80)}, "LEAD_REMOVED"),
        ({"photos": FACTS.photos - {"OLD_PIPE"}}, "PHOTO_OLD_PIPE"),
        ({"bonding_checked": False}, "BONDING"),
    ],
)
def test_each_fault_is_named(change, rule):
    assert rules_of(replace(FACTS, **change), lead_weight_lb_per_ft=3.5) == {rule}


def test_ways_of_disinfecting_are_told_apart_in_words():
    """The figures of the plumbing code's short hold: 200 mg/L for 3 hours."""
    ways = {method for kind, method in flushing_values() if kind == "DISINFECTION"}
    told = {disinfection_words(way) for way in ways}
    assert len(told) == len(ways) and not any("_" in words for words in told)
    assert "(200 mg/L, 3 h)" in disinfection_words("PLUMBING_3H")
    assert disinfection_words("OTHER_WAY") == "other way"


def test_other_disinfection_methods_pass():
    for done in (
        Disinfection("SLUG", 100, 3, 50),
        Disinfection("CONTINUOUS", 25, 24, 10),
        Disinfection("PLUMBING_3H", 200, 3, 5),
    ):
        assert rules_of(replace(FACTS, disinfection=done)) == set()


def test_copper_needs_no_tracer_and_does_not_settle():
    copper = replace(
        FACTS, new_material="COPPER", tracer=None, pressure_test=PressureTest(100, 15, 0, False)
    )
    assert rules_of(copper) == set()


def test_split_lead_left_in_the_ground_is_recorded():
    found = check(replace(FACTS, lead=LeadRemoved(4, 14, 36)), RULES, DONE)
    assert [(f.level, f.rule) for f in found] == [(Level.NOTE, "LEAD_LEFT_IN_GROUND")]


def test_what_is_mandatory_is_the_utility_s():
    needs = shipped_requirements().with_overrides(
        {"TRACER": {"mandatory": False}, "PRESSURE_TEST": {"minutes": 30}}, by="Utility"
    )
    found = check(replace(FACTS, tracer=None), RULES, DONE, requirements=needs)
    assert {(f.rule, f.level) for f in found} == {
        ("TRACER", Level.CAUTION),
        ("PRESSURE_TEST", Level.STOP),
    }
    assert needs["PRESSURE_TEST"].source.startswith("set by Utility")
    assert shipped_requirements()["TRACER"].mandatory


@pytest.mark.parametrize(
    "overrides",
    [{"WELDING": {}}, {"TRACER": {"meters": 3}}, {"TRACER": {"mandatory": "yes"}}],
)
def test_overrides_that_mean_nothing(overrides):
    with pytest.raises(BadCompletion):
        shipped_requirements().with_overrides(overrides, by="Utility")


@pytest.mark.parametrize(
    ("household", "rules"),
    [
        (HOUSEHOLD, set()),
        (Household(), {"NOTICE", "FLUSHING_INSTRUCTIONS", "FILTER", "CARTRIDGES"}),
        (replace(HOUSEHOLD, notice_on=date(2028, 5, 16)), {"NOTICE"}),
        (replace(HOUSEHOLD, filter_on=None), {"FILTER"}),
        (replace(HOUSEHOLD, cartridge_months=5), {"CARTRIDGES"}),
        (replace(HOUSEHOLD, flushing_instructions_on=date(2028, 5, 1)), set()),
    ],
)
def test_return_to_service(household, rules):
    found = return_to_service_findings(household, DONE, RULES)
    assert {f.rule for f in found} == {f"RETURN_NEEDS_{rule}" for rule in rules}
    assert worst(found) == (Level.STOP if rules else None)
    assert rules_of(replace(FACTS, household=household)) == {f.rule for f in found}


@pytest.mark.parametrize(
    ("taken", "offered", "as_of", "level"),
    [
        (None, DONE, date(2028, 8, 14), None),
        (None, DONE, date(2028, 9, 1), Level.NOTE),
        (None, DONE, date(2028, 11, 16), Level.CAUTION),
        (None, None, DONE, Level.NOTE),
        (None, None, date(2028, 11, 16), Level.CAUTION),
        (date(2028, 8, 15), DONE, date(2029, 1, 1), None),
        (date(2028, 11, 15), DONE, date(2029, 1, 1), None),
        (date(2028, 8, 14), DONE, date(2029, 1, 1), Level.CAUTION),
        (date(2028, 11, 16), DONE, date(2029, 1, 1), Level.CAUTION),
    ],
)
def test_sample_afterwards(taken, offered, as_of, level):
    household = replace(HOUSEHOLD, sample_taken_on=taken, sample_offered_on=offered)
    assert worst(check(replace(FACTS, household=household), RULES, as_of)) == level


def test_pressure_test_plan():
    assert pressure_test_plan(60, True).pressure_psi == 100
    assert pressure_test_plan(80, True).pressure_psi == 120
    assert pressure_test_plan(80, False).settle_minutes == 0
    with pytest.raises(BadCompletion, match="psi"):
        pressure_test_plan(0, True)


def test_flush_rate():
    assert flush_rate_gpm(0.875, 3) == pytest.approx(5.62, abs=0.01)
    with pytest.raises(BadCompletion):
        water_volume_gal(-1, 40)


def test_a_galvanized_line_has_no_lead_to_account_for():
    without = replace(
        FACTS, lead=None, photos=FACTS.photos - {"LEAD_REMOVED"}, old_pipe_is_lead=False
    )
    assert rules_of(without) == set()
    assert rules_of(replace(without, old_pipe_is_lead=True)) == {
        "LEAD_REMOVED",
        "PHOTO_LEAD_REMOVED",
    }
