"""Other utilities near a run; how far they must lie is decided by `ground`."""

from dataclasses import dataclass

from services_inventory.domain.labels import Labeled


class UtilityKind(Labeled):
    """What the other line is."""

    WATER = "WATER"
    SEWER = "SEWER"
    STORM = "STORM"
    GAS = "GAS"
    ELECTRIC = "ELECTRIC"
    FIBRE = "FIBRE"
    TELEPHONE = "TELEPHONE"
    STEAM = "STEAM"
    OTHER = "OTHER"

    @property
    def sensitive(self) -> bool:
        """Gas, electric and fibre keep the larger floor; so does what nobody could name."""
        return self in {UtilityKind.GAS, UtilityKind.ELECTRIC, UtilityKind.FIBRE, UtilityKind.OTHER}


@dataclass(frozen=True)
class OtherLine:
    """Another utility near the run.

    separation_in : clear distance from the old pipe's centerline, in; None when not known
    crossing : it crosses the run; otherwise it runs alongside
    exposed : dug up by hand or vacuum, seen and measured
    rigid : cast iron, clay or asbestos cement, which break and do not bend
    at_ft : station of the crossing, from the pit where the new pipe enters
    relieved : the ground between the two is dug away where the head passes
    """

    kind: UtilityKind
    separation_in: float | None
    crossing: bool = True
    exposed: bool = False
    rigid: bool = False
    at_ft: float | None = None
    relieved: bool = False

    def __post_init__(self):
        """Refuse a distance below zero.

        Raises
        ------
        ValueError: if the separation is below zero.
        """
        if self.separation_in is not None and self.separation_in < 0:
            raise ValueError(f"A separation cannot be below zero: {self.separation_in:g} in.")

    @property
    def label(self) -> str:
        """The line in words, with its place."""
        way = "crossing" if self.crossing else "alongside"
        at = "" if self.at_ft is None else f" at {self.at_ft:g} ft"
        return f"{self.kind.label} line {way}{at}"
