"""A second opinion: a plainer model made of other assumptions, for tests and for doubt.

One cutting edge takes three times the strength of lead over its own section; the soil is at its
limit pressure over the ring the expander and the shell take up; the pipe rubs under an even contact
pressure; one capstan factor takes all bends. Constructed for this purpose, no published source;
on the worked runs the two agree within a factor of two. On short runs in soft ground the main
model, whose blade has two edges, comes out a little more than twice as high.
"""

import math
from dataclasses import dataclass

from replacements.domain.pull_force.case import PullCase
from replacements.domain.pull_force.model import capstan_factor, effective_depth_in
from replacements.domain.pull_force.soils import SoilFamily, sand_pressure_psf


@dataclass(frozen=True)
class SimpleConstants:
    """Constants of the plain model (constructed)."""

    constraint: float = 3.0
    lead_psi: float = 2300
    blade_in: float = 0.125
    half_angle_deg: float = 12
    tool_friction: float = 0.25
    contact_psi: float = 0.5
    pipe_friction: float = 0.30
    bend_friction: float = 0.2


def second_opinion_lbf(
    case: PullCase,
    soil_psi: float | None = None,
    constants: SimpleConstants = SimpleConstants(),  # noqa: B008 (frozen)
) -> float:
    """Return the total by the plain model, wiped joints left out, lb.

    `soil_psi` is the ground's limit pressure where that is known otherwise.
    """
    old, of = case.old_pipe, constants
    wall = (old.outside_in - old.inside_in) / 2
    slit = of.constraint * of.lead_psi * wall * of.blade_in
    ring = math.pi * ((case.expander_in / 2 + wall) ** 2 - (old.outside_in / 2) ** 2)
    cone = 1 + of.tool_friction / math.tan(math.radians(of.half_angle_deg))
    pressure = _limit_psi(case) if soil_psi is None else soil_psi
    around = math.pi * case.new_pipe.outside_in
    rub = of.pipe_friction * of.contact_psi * around * case.length_ft * 12
    return (slit + pressure * ring * cone + rub) * capstan_factor(of.bend_friction, case.bends_deg)


def _clay_limit_psf(unit_weight_pcf, cover_ft, strength_psf, rigidity_index):
    """Return the pressure that widens a hole in clay without end, psf."""
    return unit_weight_pcf * cover_ft + strength_psf * (1 + math.log(rigidity_index))


def _limit_psi(case: PullCase) -> float:
    ground = case.soil
    pressure = _clay_limit_psf if ground.family is SoilFamily.CLAY else sand_pressure_psf
    values = (ground.unit_weight_pcf, case.cover_ft, ground.strength, ground.rigidity_index)
    return pressure(*values) / 144


def planning_drag_lbf(cover_in: float, pipe_in: float, length_ft: float) -> float:
    """Return the published planning rule for the drag on a pulled pipe, lb.

    Source: Najafi, Trenchless Technology Piping, pp. 270-272: effective depth x diameter x
    length / 6, for one quarter of the run in contact (seen).
    """
    return effective_depth_in(cover_in, pipe_in) * pipe_in * length_ft / 6
