"""The puller's hydraulic cylinder: pressure to force and back.

Force is pressure times the area it acts on: the full bore when pushing, the bore less the rod
when pulling with the rod side. A gauge also shows what it takes to move the puller without a
load; that part pulls nothing.
"""

import math
from collections.abc import Iterable

PLANNING_EFFICIENCY = 0.90  # proposed default for a pressure log, usual range 0.85 to 0.95


class BadCylinder(ValueError):
    """A pressure, a bore or a rod cannot be right; fit to show."""


def net_area_in2(bore_in: float, rod_in: float = 0, cylinders: int = 1) -> float:
    """Return the area the oil acts on, in2: full bore, or rod side where a rod is given.

    Raises
    ------
    BadCylinder: the bore is not positive, or the rod is not thinner than the bore.
    """
    if not bore_in > 0 or not math.isfinite(bore_in):
        raise BadCylinder(f"A cylinder bore of {bore_in} in. cannot be; measure the bore.")
    if not 0 <= rod_in < bore_in:
        raise BadCylinder(
            f"A rod of {rod_in} in. does not go into a bore of {bore_in} in.; were they swapped?"
        )
    if cylinders < 1:
        raise BadCylinder(f"A puller has at least one cylinder, not {cylinders}.")
    return math.pi / 4 * (bore_in**2 - rod_in**2) * cylinders


def cylinder_force_lbf(
    pressure_psi: float,
    bore_in: float,
    rod_in: float = 0,
    efficiency: float = 1.0,
    *,
    free_run_psi: float = 0,
    cylinders: int = 1,
) -> float:
    """Return the force of a cylinder, lb.

    Parameters
    ----------
    pressure_psi : gauge pressure
    bore_in, rod_in : in.; a rod means that the cylinder pulls with its rod side
    efficiency : share of the force that reaches the cable, above 0 and at most 1
    free_run_psi : pressure that moves the puller without a load, taken at the job

    Returns
    -------
    float, lb, never below 0

    Raises
    ------
    BadCylinder: a pressure is negative or not a number, the efficiency is outside 0 to 1, or
        the bore and rod cannot be.

    Examples
    --------
    >>> round(cylinder_force_lbf(100, 4)), round(cylinder_force_lbf(100, 4, 2))
    (1257, 942)
    """
    for what, value in (("pressure", pressure_psi), ("free-run pressure", free_run_psi)):
        if not 0 <= value < math.inf:
            raise BadCylinder(f"A {what} of {value} psi cannot be; check the gauge and its unit.")
    if not 0 < efficiency <= 1:
        raise BadCylinder(f"An efficiency of {efficiency} is outside 0 to 1.")
    net_psi = max(pressure_psi - free_run_psi, 0.0)
    return net_psi * net_area_in2(bore_in, rod_in, cylinders) * efficiency


def relief_setting_psi(
    limits_lbf: Iterable[float], bore_in: float, rod_in: float = 0, *, cylinders: int = 1
) -> float:
    """Return the highest relief pressure at which no limit can be passed, psi.

    The efficiency is taken as 1.0: friction is not a safety device.

    Raises
    ------
    BadCylinder: no limit is given, a limit is not positive, or the bore and rod cannot be.
    """
    limits = list(limits_lbf)
    if not limits or not all(0 < limit < math.inf for limit in limits):
        raise BadCylinder("A relief setting needs every limit of the pull, each above 0 lb.")
    return min(limits) / net_area_in2(bore_in, rod_in, cylinders)
