"""Cylinder force and relief: rules of our own; the published examples are in tests/outside."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.hydraulics import (
    BadCylinder,
    cylinder_force_lbf,
    net_area_in2,
    relief_setting_psi,
)


def test_the_pressure_that_moves_the_puller_without_a_load_pulls_nothing():
    assert cylinder_force_lbf(60, 3.25, 1.5, free_run_psi=60) == 0
    assert cylinder_force_lbf(40, 3.25, 1.5, free_run_psi=60) == 0


def test_two_cylinders_pull_twice():
    one = cylinder_force_lbf(1500, 2.5, 1.25)
    assert cylinder_force_lbf(1500, 2.5, 1.25, cylinders=2) == pytest.approx(2 * one)


@given(st.lists(st.floats(100, 50_000), min_size=1, max_size=8))
def test_at_the_relief_setting_no_limit_is_passed_even_without_friction(limits):
    pressure = relief_setting_psi(limits, 3.25, 1.5)
    assert cylinder_force_lbf(pressure, 3.25, 1.5) <= min(limits) * (1 + 1e-12)
    assert cylinder_force_lbf(pressure, 3.25, 1.5, efficiency=0.9) < min(limits)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({"pressure_psi": -5, "bore_in": 4}, "pressure of -5 psi"),
        ({"pressure_psi": float("nan"), "bore_in": 4}, "pressure of nan psi"),
        ({"pressure_psi": 100, "bore_in": 0}, "bore of 0 in"),
        ({"pressure_psi": 100, "bore_in": 2, "rod_in": 4}, "were they swapped"),
        ({"pressure_psi": 100, "bore_in": 4, "efficiency": 92}, "outside 0 to 1"),
        ({"pressure_psi": 100, "bore_in": 4, "cylinders": 0}, "at least one cylinder"),
        ({"pressure_psi": 100, "bore_in": 4, "free_run_psi": -1}, "free-run pressure of -1"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(arguments, sentence):
    with pytest.raises(BadCylinder, match=sentence):
        cylinder_force_lbf(**arguments)


def test_a_relief_setting_without_limits_is_refused():
    with pytest.raises(BadCylinder, match="needs every limit"):
        relief_setting_psi([], 4)


def test_the_rod_takes_its_area_from_the_pulling_side():
    assert net_area_in2(4, 2) == pytest.approx(0.75 * net_area_in2(4))
