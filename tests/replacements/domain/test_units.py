"""Units against pint, whose registry is an independent reading of the same definitions."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.units import UNITS, UnitError, convert, fahrenheit, inches

REGISTRY = pint.UnitRegistry()
PINT_NAMES = {
    "PSF": "pound_force / foot ** 2",
    "KIP": "kip",
    "TONNE_FORCE": "metric_ton * standard_gravity",
    "US_TON": "US_ton_force",
    "LB_MASS": "pound",
    "GAL": "gallon",
    "FT_LB": "foot_pound",
    "KPA": "kPa",
    "MPA": "MPa",
    "KN": "kN",
    "KJ": "kJ",
    "N": "newton",
    "KGF": "kilogram_force",
    "IN": "inch",
    "FT": "foot",
    "MM": "mm",
    "CM": "cm",
    "M": "m",
    "LITER": "liter",
    "KG": "kg",
    "PSI": "psi",
    "BAR": "bar",
    "LBF": "lbf",
}
PAIRS = [(a, b) for a in UNITS for b in UNITS if a.quantity == b.quantity and a is not b]


@pytest.mark.parametrize(("have", "want"), PAIRS, ids=lambda unit: unit.code)
def test_every_pair_of_units_agrees_with_pint(have, want):
    expected = REGISTRY.Quantity(7.0, PINT_NAMES[have.code]).to(PINT_NAMES[want.code]).magnitude
    assert math.isclose(convert(7.0, have.code, want.code), expected, rel_tol=1e-12)


def test_the_factors_crews_use_are_the_published_ones():
    assert convert(1, "bar", "psi") == pytest.approx(14.504, abs=5e-4)
    assert convert(1, "kN", "lbf") == pytest.approx(224.81, abs=5e-3)
    assert convert(1, "tonne-force", "lbf") == pytest.approx(2204.6, abs=0.05)
    assert convert(1, "US ton", "lb") == 2000
    assert convert(80_000, "ft-lb", "kJ") == pytest.approx(108, abs=0.5)


@given(st.floats(0, 1e6), st.sampled_from(PAIRS))
def test_there_and_back_is_the_same(value, pair):
    have, want = pair
    there = convert(value, have.code, want.code)
    assert math.isclose(convert(there, want.code, have.code), value, rel_tol=1e-12, abs_tol=1e-9)


def test_pressure_does_not_become_a_force():
    with pytest.raises(UnitError, match="PSI measures pressure and LBF force"):
        convert(100, "psi", "lbf")


def test_an_unknown_unit_lists_the_known_ones():
    with pytest.raises(UnitError, match="'furlong' is not a unit.*PSI, BAR"):
        convert(1, "furlong", "ft")


def test_a_spelling_stands_for_one_unit_only():
    spellings = [name for unit in UNITS for name in {unit.code.lower(), *unit.spellings}]
    assert len(spellings) == len(set(spellings))


@pytest.mark.parametrize(("celsius", "expected"), [(0, 32), (100, 212), (-40, -40), (23, 73.4)])
def test_fahrenheit(celsius, expected):
    assert fahrenheit(celsius) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.25, "1/4 in."),
        (0.625, "5/8 in."),
        (1.25, "1-1/4 in."),
        (2, "2 in."),
        (0, "0 in."),
        (1.212, "1.212 in."),
        (0.09375, "3/32 in."),
        (1 / 3, "0.333 in."),
    ],
)
def test_sizes_are_written_as_the_trade_does(value, text):
    assert inches(value) == text
