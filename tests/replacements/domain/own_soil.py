"""A soil with measured values."""

from replacements.domain.pull_force.soils import Soil, SoilFamily


def own_soil(family: str, unit_weight_pcf: float, strength: float, rigidity_index: float) -> Soil:
    """Return a soil with measured values, taken as known."""
    return Soil(
        code="OWN",
        name="Measured for this line",
        family=SoilFamily(family),
        unit_weight_pcf=unit_weight_pcf,
        strength=strength,
        rigidity_index=rigidity_index,
        strength_low=strength,
        strength_high=strength,
        rigidity_low=rigidity_index,
        rigidity_high=rigidity_index,
    )
