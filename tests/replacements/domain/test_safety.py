"""A start: complete facts let it go, every fact left out stops it (constructed cases)."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from replacements.domain.cautions import PULL_ONLY, Step, all_cautions, cautions_for
from replacements.domain.findings import Level, worst
from replacements.domain.safety import (
    Excavation,
    JobSafety,
    LeadHandling,
    OneCallTicket,
    PullSetup,
    safety_rules,
    site_findings,
)

DAY = date(2028, 5, 15)
PIT = Excavation(
    "pit at the main",
    6.0,
    "trench box",
    egress_within_ft=8,
    spoil_setback_ft=3,
    inspected_on=DAY,
    inspected_by="competent person",
)
TICKET = OneCallTicket("28-0415", DAY - timedelta(days=3), DAY + timedelta(days=10), True)
PULL = PullSetup(
    free_cable_ft=20,
    exclusion_zone_ft=30,
    barriers_at_both_pits=True,
    spotter_with_radio=True,
    emergency_stop_tried=True,
    relief_set=True,
    gauge_calibrated_on=DAY - timedelta(days=100),
    bore_proved=True,
)
LEAD = LeadHandling(True, "shear", True)
READY = JobSafety((PIT,), TICKET, LEAD, PULL, True, True, True)


def rules_of(facts):
    return {finding.rule for finding in site_findings(facts, DAY)}


def test_a_job_with_everything_on_record_site_findings():
    assert site_findings(READY, DAY) == []


def test_nothing_on_record_stops_every_part():
    rules = rules_of(JobSafety((), None, None, PullSetup()))
    assert rules >= {"NO_EXCAVATION", "ONE_CALL", "LEAD_HANDLING", "EXCLUSION_ZONE"}
    assert rules >= {"TRAFFIC_PLAN", "PULLER_GAUGE", "ELECTRICAL_GROUND", "RELIEF", "SPOTTER"}
    assert worst(site_findings(JobSafety((), None, None), DAY)) == Level.STOP


@pytest.mark.parametrize("name", [f for f in vars(PULL) if f != "gauge_calibrated_on"])
def test_each_fact_of_the_pull_counts(name):
    without = replace(
        READY, pull=replace(PULL, **{name: PullSetup.__dataclass_fields__[name].default})
    )
    assert worst(site_findings(without, DAY)) == Level.STOP


@pytest.mark.parametrize(
    ("ticket", "level"),
    [
        (replace(TICKET, number=" "), Level.STOP),
        (replace(TICKET, marks_visible=False), Level.STOP),
        (replace(TICKET, valid_from=DAY), None),
        (replace(TICKET, valid_from=DAY + timedelta(days=1)), Level.STOP),
        (replace(TICKET, valid_from=None), Level.STOP),
        (replace(TICKET, expires_on=DAY), Level.CAUTION),
        (replace(TICKET, expires_on=DAY - timedelta(days=1)), Level.STOP),
        (replace(TICKET, expires_on=None), Level.STOP),
        (replace(TICKET, expires_on=DAY + timedelta(days=3)), None),
    ],
)
def test_ticket(ticket, level):
    assert worst(site_findings(replace(READY, ticket=ticket), DAY)) == level


@pytest.mark.parametrize(("zone", "stops"), [(30, False), (29.9, True), (None, True)])
def test_exclusion_zone(zone, stops):
    facts = replace(READY, pull=replace(PULL, exclusion_zone_ft=zone))
    assert ("EXCLUSION_ZONE" in rules_of(facts)) is stops


@pytest.mark.parametrize(
    ("calibrated", "stops"),
    [(date(2027, 5, 15), False), (date(2027, 5, 14), True), (DAY + timedelta(days=1), True)],
)
def test_gauge_within_a_year(calibrated, stops):
    facts = replace(READY, pull=replace(PULL, gauge_calibrated_on=calibrated))
    assert ("PULLER_GAUGE" in rules_of(facts)) is stops


@pytest.mark.parametrize("method", ["torch", "Abrasive saw", "angle grinder", ""])
def test_lead_is_not_burnt_or_ground(method):
    assert "LEAD_HANDLING" in rules_of(replace(READY, lead=replace(LEAD, cutting_method=method)))


@pytest.mark.parametrize("pull", [PULL, None])
def test_the_line_and_the_house_ground_are_asked_however_the_pipe_is_laid(pull):
    told = replace(READY, pull=pull, line_isolated=False, electrical_ground_checked=False)
    assert rules_of(told) == {"ISOLATION", "ELECTRICAL_GROUND"}


def test_open_cut_needs_no_puller_and_a_yard_no_traffic_plan():
    assert site_findings(replace(READY, pull=None, traffic_plan=None), DAY) == []
    assert rules_of(replace(READY, traffic_plan=False)) == {"TRAFFIC_PLAN"}


@pytest.mark.parametrize("depth", [0, -3, 600, float("nan")])
def test_impossible_depth(depth):
    assert rules_of(replace(READY, excavations=(replace(PIT, depth_ft=depth),))) == {
        "EXCAVATION_DEPTH"
    }


def test_every_pit_is_checked():
    second = replace(PIT, name="pit at the house", inspected_on=None)
    found = site_findings(replace(READY, excavations=(PIT, second)), DAY)
    assert [f.message.split(":")[0] for f in found] == ["pit at the house"]


def test_rules_and_cautions_carry_sources():
    assert all(rule.source and rule.mark for rule in safety_rules().values())
    assert all(found.source and found.mark for found in all_cautions())
    texts = [str(found) for found in all_cautions()]
    assert "Local codes" in texts[0]
    assert any("5 ft" in text and "4 ft" in text for text in texts)


def test_each_step_has_its_cautions_and_defers_first():
    for step in Step:
        found = cautions_for(step)
        assert found[0].step is Step.FIRST
        assert "maker's instructions" in str(found[0]) and "competent person" in str(found[0])
        assert step in {each.step for each in found}


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (Step.ASSEMBLY, ("puller off", "pressure released", "controls locked", "blade")),
        (Step.RELEASE, ("puller off", "pressure released", "controls locked")),
        (Step.LEAVING, ("Slack the cable",)),
        (Step.UTILITIES, ("911", "upwind")),
        (Step.LINE, ("electrical ground",)),
        (Step.LEAD, ("scrap", "Dust")),
        (Step.TRAFFIC, ("flaggers",)),
        (Step.PITS, ("protective system", "competent person")),
    ],
)
def test_what_hurts_is_named_at_its_step(step, words):
    said = " ".join(str(found) for found in cautions_for(step) if found.step is step)
    assert [word for word in words if word not in said] == []


def test_an_open_cut_is_not_told_of_a_cable():
    assert not {found.step for found in cautions_for(*Step, pulled=False)} & PULL_ONLY
