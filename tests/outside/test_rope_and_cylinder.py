"""Cable, end fittings and cylinders against published figures."""

import pytest

from replacements.domain.hydraulics import cylinder_force_lbf, net_area_in2
from replacements.domain.reference_tables import rows
from replacements.domain.ropes import (
    RopeInspection,
    breaking_force_lbf,
    retirement_findings,
    rope,
    termination_efficiency,
    working_limit_lbf,
)
from replacements.domain.units import convert

GALVANIZED = "7X19 GALVANIZED"


@pytest.mark.parametrize(
    ("construction", "diameter", "printed"),
    [
        ("7X7 GALVANIZED", 0.0625, 480),  # FAA AC 43.13-1B, Table 7-3, MIL-W-83420 composition A
        (GALVANIZED, 0.125, 2_000),
        (GALVANIZED, 0.1875, 4_200),
        (GALVANIZED, 0.25, 7_000),
        (GALVANIZED, 0.3125, 9_800),
        (GALVANIZED, 0.375, 14_400),
        ("7X19 STAINLESS", 0.375, 12_000),  # the same table, composition B
        ("6X19 FC IPS", 0.25, 5_480),  # a public table of 6x19 fiber core rope
        ("6X19 FC IPS", 0.3125, 8_520),
        ("6X19 FC IPS", 0.375, 12_200),
        ("6X19 FC IPS", 0.4375, 16_540),
        ("6X19 FC IPS", 0.5, 21_400),
    ],
)
def test_breaking_forces(construction, diameter, printed):
    assert breaking_force_lbf(construction, diameter) == printed


@pytest.mark.parametrize(
    ("diameter", "ips_tons", "eip_tons"),
    [
        (0.25, 2.64, 2.90),
        (0.3125, 4.10, 4.51),
        (0.375, 5.86, 6.45),
        (0.4375, 7.93, 8.72),
        (0.5, 10.3, 11.3),
    ],
)
def test_six_by_seven_rope_in_short_tons(diameter, ips_tons, eip_tons):
    """API 9A, 6x7 fiber core; the 3/8 in. IPS rope is 5.86 short tons, 11,720 lb."""
    for construction, tons in (("6X7 FC IPS", ips_tons), ("6X7 FC EIP", eip_tons)):
        assert breaking_force_lbf(construction, diameter) == pytest.approx(
            convert(tons, "US ton", "lbf")
        )


@pytest.mark.parametrize(("mm", "kn"), [(6, 25.0), (8, 43.9), (10, 68.6)])
def test_metric_rope_in_kilonewtons(mm, kn):
    """A metric list of galvanized 7x19, grade 2070."""
    found = breaking_force_lbf("7X19 G2070", convert(mm, "mm", "in"))
    assert found == pytest.approx(convert(kn, "kN", "lbf"), rel=0.0005)


def test_an_independent_wire_core_adds_about_seven_percent():
    """Trade practice, from memory: 7 to 8 % over the fiber core."""
    for diameter in (0.25, 0.3125, 0.375, 0.4375, 0.5):
        ratio = breaking_force_lbf("6X19 IWRC IPS", diameter) / breaking_force_lbf(
            "6X19 FC IPS", diameter
        )
        assert ratio == pytest.approx(1.075, abs=0.003)


@pytest.mark.parametrize(
    ("code", "printed"),
    [
        ("SPELTER_SOCKET", 1.00),
        ("SWAGED_SOCKET", 0.95),
        ("MECHANICAL_SLEEVE_IWRC", 0.95),
        ("MECHANICAL_SLEEVE_FC", 0.925),
        ("HAND_SPLICE", 0.86),
        ("CLIPS", 0.80),
        ("WEDGE_SOCKET", 0.75),
    ],
)
def test_end_fittings(code, printed):
    """Army TM 5-3810-305-10, Table 4; a wedge socket is 75 to 95 % and taken at the low end."""
    assert termination_efficiency(code) == printed


def test_a_jaw_set_meets_what_mines_must_use():
    """30 CFR 57.19025: attachments develop at least 80 % of the rope's strength."""
    assert termination_efficiency("JAW_SET") >= 0.80


@pytest.mark.parametrize(
    ("breaking", "end", "factor", "limit"),
    [
        (14_400, "JAW_SET", 3, 3840),
        (14_400, "JAW_SET", 5, 2304),
        (14_400, "JAW_SET", 2, 5760),
        (14_400, "SWAGED_SOCKET", 3, 4560),
        (14_400, "SWAGED_SOCKET", 5, 2736),
        (15_100, "JAW_SET", 3, 4027),
        (17_400, "SWAGED_SOCKET", 3, 5510),
    ],
)
def test_working_limits(breaking, end, factor, limit):
    """Breaking forces as above, ends by TM 5-3810-305-10 or as proposed (derived)."""
    assert working_limit_lbf(breaking, termination=end, design_factor=factor) == pytest.approx(
        limit, abs=0.7
    )


def test_a_thin_cable_at_five():
    """A fifth of the 480 lb that AC 43.13-1B prints for 1/16 in. cable."""
    breaking = breaking_force_lbf("7X7 GALVANIZED", 0.0625)
    found = working_limit_lbf(breaking, termination="SPELTER_SOCKET", design_factor=5)
    assert found == 96


def test_the_published_safe_load_of_a_fiber_core_rope_is_a_fifth():
    """A public table: 3/8 in. 6x19 FC, 12,200 lb and a safe load of 2,440 lb (10.9 kN)."""
    breaking = breaking_force_lbf("6X19 FC IPS", 0.375)
    found = working_limit_lbf(breaking, termination="SPELTER_SOCKET", design_factor=5)
    assert found == 2440
    assert convert(10.9, "kN", "lbf") == pytest.approx(2440, rel=0.005)
    assert convert(10.9, "kN", "kgf") == pytest.approx(1111, abs=1)


@pytest.mark.parametrize(
    "seen", [{"broken_wires_in_lay": 6}, {"broken_wires_in_strand": 3}], ids=["lay", "strand"]
)
def test_running_rope_is_retired(seen):
    """29 CFR 1926.1413: six broken wires in one lay, or three in one strand in one lay."""
    cable = rope(GALVANIZED, 0.375)
    found = retirement_findings(RopeInspection(**seen), cable, duty="RUNNING")
    assert any("1926.1413" in f.source for f in found)
    one_less = {name: value - 1 for name, value in seen.items()}
    assert retirement_findings(RopeInspection(**one_less), cable, duty="RUNNING") == []


def test_every_row_of_the_rope_tables_names_its_source():
    for table in ("wire_rope", "terminations", "retirement", "rope_constants"):
        assert all(row["source"] and row["mark"] for row in rows(table))


@pytest.mark.parametrize(
    ("pressure", "bore", "rod", "push", "pull"),
    [
        (100, 4, 2, 1257, 942),  # Fluid Power Journal, worked problem
        (800, 3, 1.875, 5655, 3446),  # inputs of a textbook problem (jiskha.com)
        (2500, 3.25, 1.5, 20739, 16322),  # derived
    ],
)
def test_cylinders(pressure, bore, rod, push, pull):
    assert cylinder_force_lbf(pressure, bore) == pytest.approx(push, abs=1)
    assert cylinder_force_lbf(pressure, bore, rod) == pytest.approx(pull, abs=1)


def test_cylinder_with_losses():
    """Derived: (540 - 60) psi on 6.529 in2 at 0.92 is 2,883 lb."""
    assert net_area_in2(3.25, 1.5) == pytest.approx(6.529, abs=5e-4)
    found = cylinder_force_lbf(540, 3.25, 1.5, 0.92, free_run_psi=60)
    assert found == pytest.approx(2883, abs=0.5)
    assert cylinder_force_lbf(2000, 2.5, 1.25, 0.9) == pytest.approx(6627, abs=1)
