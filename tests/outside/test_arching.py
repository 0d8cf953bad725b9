"""Ground over an opening against published formulas and tables, and bends against geometry.

Terzaghi (1943), Theoretical Soil Mechanics, ch. 5: pressure on a yielding strip of width 2B.
Marston (1930) and Spangler: load coefficient of a trench. Both from memory; the differential
equation they solve is integrated here by scipy, so that a slip of memory would show.
"""

import math

import pytest
from scipy import integrate, optimize

from replacements.domain import pipes
from replacements.domain.pull_force import arching_psf, least_radius_in, soils, stability_number


@pytest.mark.parametrize("friction", [25, 30, 34, 40])
@pytest.mark.parametrize("ratio", [0.5, 0.7, 1.0])
@pytest.mark.parametrize("cover_ft, width_ft", [(5, 0.13), (0.2, 0.15), (8, 2.0)])
def test_arching_solves_the_equilibrium_of_the_sinking_column(friction, ratio, cover_ft, width_ft):
    """d(sigma)/dz = gamma - 2 K tan(phi) sigma / width, from nothing at the surface."""
    held = 2 * ratio * math.tan(math.radians(friction)) / width_ft
    solved = integrate.solve_ivp(
        lambda _, s: 115 - held * s, (0, cover_ft), [0.0], rtol=1e-10, method="Radau"
    )
    found = arching_psf(115, cover_ft, width_ft, ratio, friction)
    assert found == pytest.approx(solved.y[0, -1], rel=1e-5)


@pytest.mark.parametrize("cover_ft", [1, 4, 30])
def test_arching_is_terzaghis_formula_for_a_strip_of_width_2b(cover_ft):
    """Sigma = B gamma / (K tan phi) x (1 - exp(-K tan phi z / B)) (Terzaghi 1943, c and q zero)."""
    half, k_tan = 0.7, 1.0 * math.tan(math.radians(35))
    printed = half * 110 / k_tan * (1 - math.exp(-k_tan * cover_ft / half))
    assert arching_psf(110, cover_ft, 2 * half, 1.0, 35) == pytest.approx(printed, rel=1e-12)


# Load coefficients of a trench by depth over width: sand and gravel, K mu' 0.165; saturated clay,
# 0.110 (Marston; tabled in trench load charts, from memory).
MARSTON = {
    0.165: {1: 0.85, 2: 1.46, 3: 1.90, 4: 2.22, 5: 2.45, 10: 2.92, 15: 3.01},
    0.110: {1: 0.90, 2: 1.62, 3: 2.20, 4: 2.66, 5: 3.03, 10: 4.04, 15: 4.38},
}


@pytest.mark.parametrize("k_mu", MARSTON)
def test_arching_gives_marstons_load_coefficients(k_mu):
    """Load over unit weight and width squared, with a wall friction of K mu'."""
    angle = math.degrees(math.atan(k_mu))
    for depth, coefficient in MARSTON[k_mu].items():
        found = arching_psf(100, depth * 2.5, 2.5, 1.0, angle) / (100 * 2.5)
        assert found == pytest.approx(coefficient, abs=0.006), depth


def test_a_narrow_opening_at_depth_feels_tens_of_psf_and_no_more():
    """Openings of 1.4 to 1.8 in., 110 to 125 pcf, 30 to 36 degrees: of the order of 10 to 25 psf,
    where an extrapolated table of depths gives about 190 (derived).
    """
    found = [
        arching_psf(gamma, 5, width / 12, ratio, friction)
        for gamma in (110, 125)
        for width in (1.4, 1.8)
        for ratio in (0.5, 1.0)
        for friction in (30, 36)
    ]
    assert 8 < min(found) < 12 and 25 < max(found) < 35
    assert arching_psf(115, 5, 0.13, 0.7, 34) == pytest.approx(arching_psf(115, 50, 0.13, 0.7, 34))


def test_a_shallow_wide_opening_bears_its_whole_cover():
    assert arching_psf(115, 0.1, 50, 0.7, 34) == pytest.approx(11.5, rel=0.01)


def test_stability_number_and_which_classes_squeeze():
    """Overburden over undrained strength; 5 to 6 closes a hole (Broms and Bennermark 1967)."""
    assert stability_number(110, 10, 200) == pytest.approx(5.5)
    at_5_ft = {
        code: stability_number(soil.unit_weight_pcf, 5, soil.strength_low)
        for code, soil in soils().items()
        if soil.family == "CLAY"
    }
    assert [code for code, number in at_5_ft.items() if number >= 5] == ["VERY_SOFT_CLAY"]


@pytest.mark.parametrize("rigid, outside, bore", [(3, 0.6875, 0.75), (12, 0.6, 0.75)])
def test_a_rigid_length_touches_at_its_middle(rigid, outside, bore):
    """The chord's exact sagitta, R - sqrt(R2 - L2/4), equals the room beside the string."""
    exact = optimize.brentq(
        lambda r: r - math.sqrt(r**2 - rigid**2 / 4) - (bore - outside), rigid / 2, 1e5
    )
    assert least_radius_in(rigid, outside, bore) == pytest.approx(exact, rel=0.01)


def test_without_room_no_bend_is_passed():
    assert least_radius_in(3, 0.75, 0.75) == math.inf


# PPI Handbook of Polyethylene Pipe ch. 7, minimum cold bending radius in outside diameters (seen).
PPI = {"CTS SDR 9": 20, "IPS DR 7": 20, "IPS DR 9": 20, "IPS DR 11": 25}


@pytest.mark.parametrize("grade", PPI)
def test_least_bending_radius_of_polyethylene(grade):
    for size in pipes.sizes_of("PE", grade):
        pipe = pipes.pipe("PE", size, grade)
        found = pipes.least_bend_radius(pipe)
        assert found.radius_in == pytest.approx(PPI[grade] * pipe.outside_in)
        assert "PPI Handbook" in found.source


def test_least_bending_radius_of_pex_and_copper():
    """PEX 5, 7 and 9 in. for 1/2, 3/4 and 1 in. (textbook of plumbing, seen). Copper: no bend drawn
    is as tight as the handbook's 2-1/4, 3, 4 and 9 in., which hold in a bender (seen).
    """
    for size, radius in ((0.5, 5), (0.75, 7), (1.0, 9)):
        found = pipes.least_bend_radius(pipes.pipe("PEX", size, "CTS SDR 9")).radius_in
        assert found == pytest.approx(radius)
    for size, bender in ((0.5, 2.25), (0.75, 3), (1.0, 4), (1.25, 9)):
        assert pipes.least_bend_radius(pipes.pipe("COPPER", size, "K")).radius_in > bender


@pytest.mark.parametrize(("hot_f", "factor"), [(73, 1.0), (100, 0.78), (120, 0.63)])
def test_hot_plastic_bears_less(hot_f, factor):
    """PPI temperature factors (memory), on 1 in. CTS SDR 9 PE4710: 550 lb at 73 F (derived)."""
    pipe = pipes.pipe("PE", 1.0, "CTS SDR 9")
    assert pipes.allowable_pull_lbf(pipe, temperature_f=hot_f) == pytest.approx(550 * factor, abs=1)


def test_what_is_counted_unread_is_the_weakest_and_hottest_of_the_tables():
    pipe = pipes.pipe("PE", 1.0, "CTS SDR 9")
    every = [
        pipes.allowable_pull_lbf(pipe, resin=resin, temperature_f=hot)
        for resin in pipes.resins()
        for hot in (40, 73, 100, 120)
    ]
    counted = pipes.allowable_pull_lbf(
        pipe, resin=pipes.weakest_resin(), temperature_f=pipes.hottest_f()
    )
    assert counted == min(every) == pytest.approx(408 * 0.63, abs=1)
    assert pipes.weakest_resin() == "PE2708"
