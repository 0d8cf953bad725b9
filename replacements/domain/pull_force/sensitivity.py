"""Which unknown matters most, and what can be measured of it before the pull."""

from dataclasses import dataclass
from typing import NamedTuple

from replacements.domain.pull_force.case import PullCase
from replacements.domain.pull_force.model import SOIL_RIGIDITY, SOIL_STRENGTH, run
from replacements.domain.pull_force.soils import SoilFamily
from replacements.domain.pull_force.spread import central, intervals
from replacements.domain.pull_force.verdict import Force
from replacements.domain.reference_tables import rows

GROUND = {SOIL_STRENGTH: "Strength of the ground", SOIL_RIGIDITY: "Stiffness of the ground"}


@dataclass(frozen=True)
class Swing:
    """What one unknown does to one force when it goes from its low to its high end, lb."""

    code: str
    name: str
    force: Force
    low_value: float
    high_value: float
    at_low_lbf: float
    at_high_lbf: float

    @property
    def swing_lbf(self) -> float:
        return abs(self.at_high_lbf - self.at_low_lbf)


def sensitivity(case: PullCase, force: Force = Force.TOTAL) -> list[Swing]:
    """Return the unknowns that move a force, the one that moves it most first."""
    found = intervals(case)
    values = central(found)
    names = {code: p.name for code, p in case.parameter_set.parameters.items()} | GROUND
    swings = [
        Swing(
            code,
            names[code],
            force,
            interval.low,
            interval.high,
            _force_lbf(case, {**values, code: interval.low}, force),
            _force_lbf(case, {**values, code: interval.high}, force),
        )
        for code, interval in found.items()
        if interval.uncertain
    ]
    moving = [swing for swing in swings if swing.swing_lbf > 0]
    return sorted(moving, key=lambda swing: (-swing.swing_lbf, swing.code))


class Measurement(NamedTuple):
    """Something that can be measured before a pull: how, in which unit, and what it would move."""

    swing: Swing
    how: str
    unit: str


def measurements(case: PullCase) -> list[Measurement]:
    """Return what can still be measured for a pull, what moves the total most first.

    Each moves the middle of the range. The range itself is the model's own doubt for the most part,
    which only logs of pulls narrow (see `replacements.domain.learning`).
    """
    able = {row["code"]: row for row in rows("measurements")}
    if case.ground.family is SoilFamily.SAND:
        del able[SOIL_STRENGTH]  # a vane turns in clay only
    return [
        Measurement(swing, able[swing.code]["how"], able[swing.code]["unit"])
        for swing in sensitivity(case)
        if swing.code in able
    ]


def _force_lbf(case: PullCase, values: dict[str, float], force: Force) -> float:
    pull = run(case, values)
    return pull.peak() if force is Force.TOTAL else pull.drag(case.length_ft)
