"""Tiers, numbers of samples and the 90th percentile on both sides of every step."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.regulation import RULES
from program.domain.sampling_tiers import (
    Sample,
    Site,
    Structure,
    common_plumbing,
    deciding,
    exceeds,
    ninetieth,
    sample_count,
    site_of,
    tier,
)
from services_inventory.domain.classification import Category
from services_inventory.domain.materials import Connector
from services_inventory.domain.plumbing import Plumbing, PlumbingInside, Treatment
from tests.program.domain.test_calendar import override

SINGLE, MULTI, OTHER = Structure.SINGLE_FAMILY, Structure.MULTI_FAMILY, Structure.OTHER
NON_LEAD, UNKNOWN = Category.NON_LEAD, Category.UNKNOWN


def percentile_90(values, method=None, rules=RULES):
    return float(ninetieth(values, method, rules).value)


@pytest.mark.parametrize(
    ("site", "expected"),
    [
        (Site(SINGLE, Category.LEAD), 1),
        (Site(SINGLE, NON_LEAD, lead_plumbing=True), 1),
        (Site(SINGLE, UNKNOWN, lead_plumbing=True), 1),
        (Site(MULTI, Category.LEAD), 2),
        (Site(OTHER, Category.LEAD), 2),
        (Site(SINGLE, NON_LEAD, Connector.LEAD), 3),
        (Site(SINGLE, UNKNOWN, Connector.LEAD), 3),
        (Site(SINGLE, Category.GRR), 3),
        (Site(SINGLE, Category.GRR, galvanized_below_lead=False), None),
        (Site(SINGLE, NON_LEAD, galvanized_below_lead=True), 3),
        (Site(SINGLE, NON_LEAD, leaded_solder=True), 4),
        (Site(SINGLE, NON_LEAD, representative=True), 5),
        (Site(SINGLE, UNKNOWN), None),
        (Site(SINGLE, NON_LEAD, Connector.UNKNOWN), None),
        (Site(SINGLE, Category.LEAD, treated=True), None),
    ],
)
def test_tier(site, expected):
    found = tier(site)
    assert found.tier == expected
    assert found.reason.endswith(".")


@pytest.mark.parametrize(
    ("share", "expected"),
    [(None, 2), (Fraction(199, 1000), 2), (Fraction(1, 5), 1), (Fraction(1, 2), 1)],
)
def test_multi_family_buildings_may_stand_in_tier_1(share, expected):
    assert tier(Site(MULTI, Category.LEAD), multi_family_share=share).tier == expected
    assert tier(Site(OTHER, Category.LEAD), multi_family_share=share).tier == 2


LEAD_BAN = date(1988, 6, 19)


def placed(pipes=None, year=None, treatment=None, **more):
    """Return the tier of a non-lead single-family site with this plumbing inside."""
    inside = PlumbingInside(pipes, year, treatment)
    site = site_of(SINGLE, NON_LEAD, Connector.NON_LEAD, inside, lead_ban=LEAD_BAN, **more)
    return tier(site).tier


@pytest.mark.parametrize(
    ("pipes", "year", "expected"),
    [
        (None, None, None),
        (Plumbing.LEAD, None, 1),
        (Plumbing.GALVANIZED, None, None),
        (Plumbing.GALVANIZED_AND_SOLDER, 1970, 4),
        (Plumbing.COPPER, 1970, None),
        (Plumbing.COPPER_LEAD_SOLDER, None, 4),
        (Plumbing.COPPER_LEAD_SOLDER, 1988, 4),  # a bare year counts from its first day
        (Plumbing.COPPER_LEAD_SOLDER, 1989, None),
    ],
)
def test_the_tier_that_plumbing_inside_gives(pipes, year, expected):
    assert placed(pipes, year) == expected


def test_galvanized_plumbing_is_in_tier_3_below_lead_and_a_device_leaves_a_site_out():
    assert placed(Plumbing.GALVANIZED, lead_above=True) == 3
    assert placed(Plumbing.LEAD, treatment=Treatment.NONE) == 1
    for device in (Treatment.POINT_OF_USE, Treatment.POINT_OF_ENTRY):
        assert placed(Plumbing.LEAD, treatment=device) is None


def test_lead_solder_of_no_year_is_to_be_confirmed():
    inside = PlumbingInside(Plumbing.COPPER_LEAD_SOLDER)
    site = site_of(SINGLE, NON_LEAD, Connector.NONE, inside, lead_ban=LEAD_BAN)
    assert "confirm" in tier(site).reason


@pytest.mark.parametrize(("copper", "expected"), [(9, False), (10, True), (11, True)])
def test_plumbing_is_common_from_a_tenth_of_what_is_on_record(copper, expected):
    numbers = {Plumbing.COPPER: copper, Plumbing.PLASTIC: 100 - copper}
    assert (Plumbing.COPPER in common_plumbing(numbers)) is expected
    assert placed(Plumbing.COPPER, common=common_plumbing(numbers)) == (5 if expected else None)
    assert common_plumbing({}) == frozenset()


@pytest.mark.parametrize(
    ("population", "standard", "reduced"),
    [
        (100_001, 100, 50),
        (100_000, 60, 30),
        (10_001, 60, 30),
        (10_000, 40, 20),
        (3_301, 40, 20),
        (3_300, 20, 10),
        (501, 20, 10),
        (500, 10, 5),
        (101, 10, 5),
        (100, 5, 5),
        (1, 5, 5),
    ],
)
def test_sample_count_on_both_sides_of_every_step(population, standard, reduced):
    day = date(2028, 1, 1)
    assert sample_count(population, day) == standard
    assert sample_count(population, day, reduced=True) == reduced


def test_nobody_served_is_a_sentence():
    with pytest.raises(ValueError, match="at least 1"):
        sample_count(0, date(2028, 1, 1))


def decided(by_tier, required):
    samples = [Sample(tier, Fraction(one)) for tier, some in by_tier.items() for one in some]
    return [sample.value for sample in deciding(samples, required)]


def test_a_shortfall_of_lead_sites_is_filled_with_the_highest_of_the_others():
    by_tier = {1: [12, 3], 2: [5], 3: [1, 8], 4: [2, 9]}
    assert decided(by_tier, 5) == [3, 5, 8, 9, 12]
    assert decided(by_tier, 3) == [3, 5, 12]
    assert decided(by_tier, 2) == [3, 5, 12]
    assert decided(by_tier, 20) == [1, 2, 3, 5, 8, 9, 12]
    assert decided({3: [1, 8], 5: [2]}, 2) == [1, 2, 8]


@pytest.mark.parametrize(
    ("count", "interpolated", "nearest"),
    [(6, 5.4, 5), (7, 6.3, 6), (9, 8.1, 8), (10, 9, 9), (11, 9.9, 10), (15, 13.5, 14)],
)
def test_a_rank_that_is_not_whole(count, interpolated, nearest):
    values = range(1, count + 1)
    assert percentile_90(values) == interpolated
    assert percentile_90(values, "nearest") == nearest


def test_the_way_is_a_states_setting():
    rules = RULES.with_overrides([override("PERCENTILE_RANK_METHOD", "nearest")])
    assert percentile_90(range(1, 7), rules=rules) == 5
    assert percentile_90(range(1, 7), "interpolate", rules) == 5.4


@pytest.mark.parametrize("values", [[], [1, -2], [float("nan")], [float("inf")], ["ND"]])
def test_results_that_cannot_be_are_a_sentence(values):
    with pytest.raises(ValueError, match=r"result|number"):
        percentile_90(values)


def test_a_method_nobody_knows_is_a_sentence():
    with pytest.raises(ValueError, match="'interpolate' or 'nearest'"):
        percentile_90([1, 2], "median")


@given(st.lists(st.integers(0, 500), min_size=1, max_size=60), st.integers(0, 59), st.randoms())
def test_the_percentile_is_a_matter_of_size_not_of_order_and_never_falls(values, place, random):
    found = percentile_90(values)
    assert percentile_90(random.sample(values, len(values))) == found
    assert min(values) <= found <= max(values)
    raised = list(values)
    raised[place % len(values)] += 7
    assert percentile_90(raised) >= found


@pytest.mark.parametrize(
    ("value", "unit", "day", "expected"),
    [
        (15, "ug/L", date(2027, 10, 31), False),
        (15.1, "ug/L", date(2027, 10, 31), True),
        (15, "ug/L", date(2027, 11, 1), True),
        (10, "ug/L", date(2027, 11, 1), False),
        (10.1, "ug/L", date(2027, 11, 1), True),
        (0.010, "mg/L", date(2027, 11, 1), False),
        (0.0101, "mg/L", date(2027, 11, 1), True),
        (0.015, "mg/L", date(2027, 10, 31), False),
    ],
)
def test_an_exceedance_is_strictly_greater_than_the_level_of_the_day(value, unit, day, expected):
    assert exceeds(value, day, unit=unit) is expected


def test_copper_has_its_own_level():
    assert not exceeds(1.3, date(2028, 1, 1), unit="mg/L", metal="COPPER")
    assert exceeds(1.31, date(2028, 1, 1), unit="mg/L", metal="COPPER")


@pytest.mark.parametrize("wrong", [{"unit": "ppm"}, {"metal": "TIN"}])
def test_units_and_metals_nobody_knows_are_a_sentence(wrong):
    with pytest.raises(ValueError, match="may be"):
        exceeds(1, date(2028, 1, 1), **wrong)


def test_a_line_requiring_replacement_is_not_said_to_be_below_lead_where_nothing_shows_it():
    site = Site(Structure.SINGLE_FAMILY, Category.GRR, Connector.NONE)
    found = tier(site)
    assert (found.tier, found.reason) == (3, "The line is galvanized requiring replacement.")
