"""Soil classes, and the pressure that opens a round hole in them.

The class to give is that of the trench backfill round the old pipe, which is usually looser
than the native ground a boring shows (International Pipe Bursting Association guidance).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from types import MappingProxyType

from replacements.domain.pull_force.numeric import SCALAR
from replacements.domain.reference_tables import rows


class SoilFamily(StrEnum):
    """CLAY resists with a strength in psf, SAND with an angle of friction in degrees."""

    CLAY = "CLAY"
    SAND = "SAND"


@dataclass(frozen=True)
class Soil:
    """A soil class.

    unit_weight_pcf : weight of the ground, lb/ft3
    strength : undrained strength, psf (CLAY), or angle of internal friction, degrees (SAND)
    rigidity_index : shear stiffness over strength; the reduced index for SAND
    adhesion_factor : part of the strength that holds a buried pipe (CLAY)
    tan_delta : friction of the ground on a buried pipe (SAND)
    """

    code: str
    name: str
    family: SoilFamily
    unit_weight_pcf: float
    strength: float
    rigidity_index: float
    strength_low: float
    strength_high: float
    rigidity_low: float
    rigidity_high: float
    adhesion_factor: float = 0.0
    tan_delta: float = 0.0
    mark: str = "own"
    source: str = "Given for this pull."

    def measured(self, strength: float) -> "Soil":
        """Return the class with its strength measured for this pull, no unknown any more.

        Raises
        ------
        ValueError: if the strength is not above zero, or an angle of friction is not below 50
            degrees.
        """
        _refuse_strength(self.family, strength)
        return replace(self, strength=strength, strength_low=strength, strength_high=strength)


@cache
def soils() -> Mapping[str, Soil]:
    """Return the shipped soil classes by code."""
    return MappingProxyType({row["code"]: _soil(row) for row in rows("soils")})


def _soil(row: Mapping[str, str]) -> Soil:
    return Soil(
        code=row["code"],
        name=row["name"],
        family=SoilFamily(row["family"]),
        unit_weight_pcf=float(row["unit_weight_pcf"]),
        strength=float(row["strength"]),
        rigidity_index=float(row["rigidity_index"]),
        strength_low=float(row["strength_low"]),
        strength_high=float(row["strength_high"]),
        rigidity_low=float(row["rigidity_low"]),
        rigidity_high=float(row["rigidity_high"]),
        adhesion_factor=float(row["adhesion_factor"] or 0),
        tan_delta=float(row["tan_delta"] or 0),
        mark=row["mark"],
        source=row["source"],
    )


def soil(code: str) -> Soil:
    """Return a shipped soil class.

    Raises
    ------
    ValueError: if there is no such class; the sentence lists what there is.
    """
    try:
        return soils()[code]
    except KeyError:
        raise ValueError(
            f"There is no soil class {code!r}; choose one of {', '.join(soils())}."
        ) from None


def _refuse_strength(family: SoilFamily, strength: float) -> None:
    if not 0 < strength < math.inf:
        raise ValueError(f"The strength of the ground must be above zero, not {strength:g}.")
    if family is SoilFamily.SAND and strength >= 50:
        raise ValueError(
            f"An angle of internal friction of {strength:g} degrees is not a sand's; "
            "the strength of SAND is an angle, that of CLAY is in psf."
        )


def clay_pressure_psf(
    unit_weight_pcf, cover_ft, strength_psf, rigidity_index, r0_in, rf_in, ops=SCALAR
):
    """Return the pressure that widens a round hole in clay from radius r0 to rf, psf.

    The ground is elastic until its strength is reached, then keeps that strength, and does not
    change volume. The two cases meet without a step where the hole's edge just yields.

    Source: Gibson and Anderson (1961), finite expansion; algebra from memory, held to a numerical
    integration by a test.
    """
    widened = rigidity_index * (1 - (r0_in / rf_in) ** 2)
    shared = ops.minimum(widened, 1.0) + ops.log(ops.maximum(widened, 1.0))
    return unit_weight_pcf * cover_ft + strength_psf * shared


def mean_stress_psf(unit_weight_pcf, cover_ft, friction_deg, ops=SCALAR):
    """Return the mean of the ground's own three stresses at the pipe, psf."""
    at_rest = 1 - ops.sin(ops.radians(friction_deg))
    return unit_weight_pcf * cover_ft * (1 + 2 * at_rest) / 3


def cavity_factor(friction_deg, rigidity_index, ops=SCALAR):
    """Return the limit pressure of a long hole in sand as a multiple of the mean stress.

    Source: Vesic (1972), cylindrical cavity; algebra from memory, held to a numerical
    integration by a test.
    """
    sine = ops.sin(ops.radians(friction_deg))
    cosine = ops.cos(ops.radians(friction_deg))
    return (1 + sine) * (rigidity_index / cosine) ** (sine / (1 + sine))


def sand_pressure_psf(
    unit_weight_pcf, cover_ft, friction_deg, rigidity_index, mobilized=1.0, ops=SCALAR
):
    """Return the pressure that widens a hole in sand, psf."""
    stress = mean_stress_psf(unit_weight_pcf, cover_ft, friction_deg, ops)
    return mobilized * stress * cavity_factor(friction_deg, rigidity_index, ops)
