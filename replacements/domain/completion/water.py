"""Water in the new line: what it holds, how fast a flush must run, what it is tested at."""

import math
from dataclasses import dataclass

from .requirements import BadCompletion, CompletionRequirements, shipped_requirements

IN3_PER_GALLON = 231


@dataclass(frozen=True)
class PressureTestPlan:
    """What the new line is to be tested at, for how long, and what it may lose."""

    pressure_psi: float
    minutes: float
    allowance_psi: float
    settle_minutes: float


def water_volume_gal(inside_in: float, length_ft: float) -> float:
    """Return the water a pipe holds, US gallons.

    Examples
    --------
    >>> round(water_volume_gal(0.875, 40), 2)
    1.25
    """
    if not inside_in > 0 or not length_ft >= 0:
        raise BadCompletion(f"A pipe of {inside_in} in. and {length_ft} ft cannot be.")
    return math.pi / 4 * inside_in**2 * length_ft * 12 / IN3_PER_GALLON


def flush_rate_gpm(inside_in: float, velocity_ft_s: float) -> float:
    """Return the flow that gives a velocity in a pipe, US gallons a minute."""
    return water_volume_gal(inside_in, 1.0) * velocity_ft_s * 60


def pressure_test_plan(
    static_psi: float, plastic: bool, requirements: CompletionRequirements | None = None
) -> PressureTestPlan:
    """Return how the new line is to be tested, from the static pressure of the main.

    Raises
    ------
    BadCompletion: the static pressure cannot be.
    """
    if not 0 < static_psi < 400:
        raise BadCompletion(f"A static pressure of {static_psi} psi cannot be; check its unit.")
    values = (requirements or shipped_requirements())["PRESSURE_TEST"].values
    return PressureTestPlan(
        max(values["min_psi"], values["static_factor"] * static_psi),
        values["minutes"],
        values["drop_psi"],
        values["settle_minutes"] if plastic else 0.0,
    )
