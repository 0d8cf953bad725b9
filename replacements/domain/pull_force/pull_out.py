"""How hard the ground holds an old pipe that is drawn out whole, and what run its lead bears."""

import math

from replacements.domain.pull_force.case import PipeSize
from replacements.domain.pull_force.soils import Soil, SoilFamily

HOLDING = (
    "adhesion in clay, earth pressure times friction in sand, along the skin of the old pipe "
    "[memory]"
)


def holding_psf(ground: Soil, cover_ft: float, values, strength=None):
    """Return how hard the ground holds the skin of a buried pipe, psf.

    Adhesion in clay; in sand the weight of the ground, sideways, times friction.

    values : of the model's parameters, LATERAL_K among them
    strength : of clay, where it is not the soil's own
    """
    if ground.family is SoilFamily.CLAY:
        return ground.adhesion_factor * (ground.strength if strength is None else strength)
    return values["LATERAL_K"] * ground.unit_weight_pcf * cover_ft * ground.tan_delta


def longest_pull_out_ft(old_pipe: PipeSize, held_psf: float, lead_psi: float = 2000.0) -> float:
    """Return the run at which the old pipe, gripped at its end, tears, ft.

    Raises
    ------
    ValueError: if the holding stress is not above zero.
    """
    if held_psf <= 0:
        raise ValueError("The stress that holds the pipe must be above zero.")
    area_in2 = math.pi / 4 * (old_pipe.outside_in**2 - old_pipe.inside_in**2)
    return lead_psi * area_in2 / (math.pi * old_pipe.outside_in / 12 * held_psf)
