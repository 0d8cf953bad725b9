"""Safety limits against 29 CFR 1926 subpart P as printed, clocks and effort against worked cases.

Excavation: 29 CFR 1926.651 and .652 (protective system at 5 ft, egress at 4 ft within 25 ft, spoil
back 2 ft, daily inspection). Consent and clocks: constructed from 40 CFR 141.84(d)(3) and (f).
"""

from datetime import date, timedelta

import pytest

from replacements.domain.completion import AfterRules, sample_window, water_volume_gal
from replacements.domain.consent import (
    Attempt,
    ConsentRules,
    Method,
    customer_initiated_clocks,
    effort,
    owner_change_clocks,
)
from replacements.domain.safety import Excavation, excavation_findings, exclusion_zone_ft
from services_inventory.domain.regulation import inventory_rules

DAY = date(2028, 5, 15)
RULES = ConsentRules.on(inventory_rules(), DAY)


def pit(**facts):
    sound = {
        "name": "pit at the main",
        "depth_ft": 6.0,
        "protective_system": "trench box",
        "egress_within_ft": 10.0,
        "spoil_setback_ft": 2.0,
        "inspected_on": DAY,
        "inspected_by": "competent person",
    }
    return {f.rule for f in excavation_findings(Excavation(**{**sound, **facts}), DAY)}


@pytest.mark.parametrize(
    ("facts", "rules"),
    [
        ({}, set()),
        ({"depth_ft": 4.9, "protective_system": None}, set()),
        ({"depth_ft": 5.0, "protective_system": None}, {"EXCAVATION_PROTECTION"}),
        ({"depth_ft": 5.0, "protective_system": None, "in_stable_rock": True}, set()),
        (
            {"depth_ft": 3.0, "protective_system": None, "cave_in_signs": True},
            {"EXCAVATION_PROTECTION"},
        ),
        ({"depth_ft": 3.9, "egress_within_ft": None}, set()),
        ({"depth_ft": 4.0, "egress_within_ft": None}, {"EXCAVATION_EGRESS"}),
        ({"egress_within_ft": 25.0}, set()),
        ({"egress_within_ft": 25.1}, {"EXCAVATION_EGRESS"}),
        ({"spoil_setback_ft": 2.0}, set()),
        ({"spoil_setback_ft": 1.9}, {"EXCAVATION_SPOIL"}),
        ({"inspected_on": DAY - timedelta(days=1)}, {"EXCAVATION_INSPECTION"}),
        ({"inspected_on": DAY + timedelta(days=1)}, {"EXCAVATION_INSPECTION"}),
        ({"rain_since_inspection": True}, {"EXCAVATION_INSPECTION"}),
        ({"inspected_by": " "}, {"EXCAVATION_INSPECTION"}),
        ({"hazardous_air_likely": True}, {"EXCAVATION_AIR"}),
        ({"hazardous_air_likely": True, "depth_ft": 4.0}, set()),
        ({"depth_ft": 20.0}, set()),
        ({"depth_ft": 20.1}, {"EXCAVATION_DESIGN"}),
        ({"depth_ft": 20.1, "engineered": True}, set()),
    ],
)
def test_excavation(facts, rules):
    assert pit(**facts) == rules


def test_exclusion_zone():
    """Common practice, no source: one and a half times the free cable length at either end."""
    assert exclusion_zone_ft(20) == 30


def attempts(*methods):
    return [Attempt(DAY + timedelta(days=i), Method(m)) for i, m in enumerate(methods)]


@pytest.mark.parametrize(
    ("methods", "enough"),
    [
        (["PHONE"] * 4, False),
        (["PHONE"] * 3 + ["LETTER"], True),
        (["PHONE"] * 2 + ["LETTER"], False),
        (["PHONE", "LETTER", "TEXT", "EMAIL"], True),
        ([], False),
    ],
)
def test_reasonable_effort(methods, enough):
    assert effort(attempts(*methods), RULES).reasonable is enough


def test_customer_initiated_clocks():
    clocks = customer_initiated_clocks(date(2028, 3, 1), date(2028, 3, 1), RULES)
    assert clocks.system_side_due == date(2028, 4, 15)
    assert clocks.limit == date(2028, 8, 28)
    assert clocks.state_notice_due == date(2028, 3, 31)


@pytest.mark.parametrize(
    ("learned", "start"),
    [
        (date(2028, 2, 1), date(2028, 3, 1)),
        (date(2028, 6, 10), date(2028, 6, 10)),
        (date(2028, 9, 1), date(2028, 9, 1)),
        (date(2028, 9, 2), None),
    ],
)
def test_customer_work_found_out_later(learned, start):
    clocks = customer_initiated_clocks(date(2028, 3, 1), learned, RULES)
    assert clocks.applies is (start is not None)
    assert clocks.start == start


def test_change_of_owner():
    clocks = owner_change_clocks(date(2028, 8, 31), RULES)
    assert clocks.offer_due == date(2029, 2, 28)
    assert clocks.effort_due == date(2029, 8, 31)


def test_sample_window():
    rules = AfterRules.on(inventory_rules(), DAY)
    assert sample_window(date(2028, 11, 30), rules) == (date(2029, 2, 28), date(2029, 5, 30))


@pytest.mark.parametrize(
    ("inside_in", "length_ft", "gallons", "within"),
    [
        (0.875, 40, 1.25, 0.002),
        (1.0, 1, 0.0408, 0.001),
        # PEX tubing chart: 1.83 and 3.03 gal per 100 ft, from a slightly smaller bore.
        (0.681, 100, 1.83, 0.04),
        (0.875, 100, 3.03, 0.04),
    ],
)
def test_water_volume(inside_in, length_ft, gallons, within):
    assert water_volume_gal(inside_in, length_ft) == pytest.approx(gallons, rel=within)


def test_water_volume_against_pint():
    import pint

    registry = pint.UnitRegistry()
    area = registry.Quantity(3.141592653589793 / 4 * 0.995**2, "inch**2")
    exact = (area * registry.Quantity(35, "foot")).to("gallon").magnitude
    assert water_volume_gal(0.995, 35) == pytest.approx(exact, rel=1e-9)
