"""Units against pint, whose registry is an independent reading of the same definitions."""

import io
import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.pull_logs import PullLogError, columns_of, read
from replacements.domain.units import (
    ASKED,
    BASE_UNIT,
    FACTORS,
    UNITS,
    UnitError,
    convert,
    inches,
)

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
    "KSI": "ksi",
    "KGF_CM2": "kilogram_force / centimeter ** 2",
    "DAN": "decanewton",
    "YD": "yard",
    "S": "second",
    "MS": "millisecond",
    "MIN": "minute",
    "H": "hour",
}
PAIRS = [(a, b) for a in UNITS for b in UNITS if a.quantity == b.quantity and a is not b]


@pytest.mark.parametrize(("have", "want"), PAIRS, ids=lambda unit: unit.code)
def test_every_pair_of_units_agrees_with_pint(have, want):
    expected = REGISTRY.Quantity(7.0, PINT_NAMES[have.code]).to(PINT_NAMES[want.code]).magnitude
    assert math.isclose(convert(7.0, have.code, want.code), expected, rel_tol=1e-12)


LOGGED = {"time": "TIME", "pressure": "PRESSURE", "force": "FORCE", "length": "DISTANCE"}
HEADED = {"TIME": "Time", "PRESSURE": "Pressure", "FORCE": "Load", "DISTANCE": "Distance"}
SPELLED = [
    (spelling, unit)
    for unit in UNITS
    if unit.quantity in LOGGED
    for spelling in (unit.symbol, *unit.spellings, *unit.heading)
]


def columns_read(**headings) -> dict:
    """Return how the columns of a log with these headings are understood."""
    names = {"TIME": "Time (s)", "FORCE": "Load (lbf)", "DISTANCE": "Distance (ft)", **headings}
    if "PRESSURE" in headings:
        del names["FORCE"]
    rows = "\n".join(f"{n};{500 + n};{n * 0.1:.1f}" for n in range(8))
    order = [name for name in ("TIME", "FORCE", "PRESSURE", "DISTANCE") if name in names]
    text = ";".join(names[name] for name in order) + "\n" + rows
    return columns_of(io.BytesIO(text.encode()))


@pytest.mark.parametrize(("spelling", "unit"), SPELLED)
def test_every_spelling_is_read_from_a_heading_and_worth_what_pint_says(spelling, unit):
    quantity = LOGGED[unit.quantity]
    role = {"TIME": "time", "DISTANCE": "distance"}.get(quantity, "force")
    for form in ("{} ({})", "{}, {}", "{} [{}]", "{}_{}"):
        column = columns_read(**{quantity: form.format(HEADED[quantity], spelling)})[role]
        assert (column.quantity, column.unit) == (quantity, unit.symbol), form
    base = BASE_UNIT[quantity]
    expected = REGISTRY.Quantity(1.0, PINT_NAMES[unit.code]).to(base).magnitude
    assert FACTORS[quantity][column.unit] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("word", ["ton", "tons", "tonf", "Ton", "TONF", "ton-force", "ton force"])
def test_a_ton_is_asked_about_and_never_guessed(word):
    for heading in (f"Load ({word})", f"Pull {word}"):
        with pytest.raises(PullLogError, match="US ton of 2,000 lb or the metric tonne"):
            columns_read(FORCE=heading)
    with pytest.raises(UnitError, match="write US ton or tf"):
        convert(1, word, "lbf")
    assert set(ASKED["ton?"]) <= set(FACTORS["FORCE"])


@pytest.mark.parametrize(("told", "pounds"), [("US ton", 2000), ("tf", 2204.6), ("tonne", 2204.6)])
def test_which_ton_it_is_can_be_told(told, pounds):
    text = "Time (s),Load (ton),Distance (ft)\n0,1,0\n1,1,0.1\n2,1,0.2\n"
    log = read(io.BytesIO(text.encode()), columns={"force": (None, told)})
    assert log.force_lbf[0] == pytest.approx(pounds, abs=0.1)
    cells = "Time (s),Load,Distance (ft)\n0,1 ton,0\n1,1 ton,0.1\n2,1 ton,0.2\n"
    log = read(io.BytesIO(cells.encode()), columns={"force": ("Load", told)})
    assert log.force_lbf[0] == pytest.approx(pounds, abs=0.1)
    with pytest.raises(PullLogError, match="A ton may be"):
        read(io.BytesIO(text.encode()), columns={"force": (None, "ton")})


def test_a_ton_in_a_column_that_is_not_needed_asks_nothing():
    text = "Time (s),Truck load (ton),Load (lbf),Distance (ft)\n0,9,10,0\n1,9,20,1\n2,9,9,2\n"
    assert columns_of(io.BytesIO(text.encode()))["force"].header == "Load (lbf)"


def test_a_gauge_in_kilograms_per_square_centimeter_is_read():
    assert convert(1, "kg/cm2", "psi") == pytest.approx(14.2233, abs=5e-5)
    assert columns_read(PRESSURE="Pressure (kg/cm²)")["force"].unit == "kgf/cm2"


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
