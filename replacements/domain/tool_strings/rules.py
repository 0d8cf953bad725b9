"""The rules of a tool string as data: level, source and what to do, and the limits they use."""

import math
from dataclasses import dataclass, fields
from functools import cache

from replacements.domain.findings import Finding, Level
from replacements.domain.reference_tables import cited, rows


@dataclass(frozen=True)
class StringLimits:
    """Limits that a utility owns; the defaults are proposals, published by nobody [judgment].

    Lengths in inches, shares of one.
    """

    clearance_in: float = 1 / 16
    tight_clearance_in: float = 1 / 8
    blade_reach_in: float = 1 / 8
    pilot_slack_least_in: float = 1 / 32
    pilot_slack_most_in: float = 1 / 8
    step_up: float = 0.35
    expander_least: float = 1.10
    expander_most: float = 1.50
    expander_aim: float = 1.25
    entry_hole_clearance_in: float = 1 / 2
    cable_extra_ft: float = 15
    pulling_cable_in: float = 3 / 8
    design_factor: float = 3.0
    caution_share: float = 0.80

    def __post_init__(self):
        """Refuse limits that are not above 0.

        Raises
        ------
        ValueError: a limit is zero, negative or not a number, or a share is above 1.
        """
        for item in fields(self):
            if not 0 < getattr(self, item.name) < math.inf:
                raise ValueError(f"{self.label(item.name)} must be above 0.")
        if self.caution_share > 1:
            raise ValueError("The share at which to be careful cannot be above 1.")

    @staticmethod
    def label(name: str) -> str:
        """Return a limit's name in words, with its unit."""
        return LIMIT_LABELS[name]


LIMIT_LABELS = {
    "clearance_in": "Clearance of cable in the old bore, in.",
    "tight_clearance_in": "Clearance up to which a caution is given, in.",
    "blade_reach_in": "Blade over the old pipe's outside, at least, in.",
    "pilot_slack_least_in": "Pilot under the old bore, at least, in.",
    "pilot_slack_most_in": "Pilot under the old bore, at most, in.",
    "step_up": "One step of widening, at most, share of the diameter before",
    "expander_least": "Expander over new pipe's outside, at least, times",
    "expander_most": "Expander over new pipe's outside, at most, times",
    "expander_aim": "Expander over new pipe's outside, aimed at, times",
    "entry_hole_clearance_in": "Hole in a wall over the expander, in.",
    "cable_extra_ft": "Cable beyond the length of the line, ft",
    "pulling_cable_in": "Pulling end of the cable, in.",
    "design_factor": "Design factor of the cable",
    "caution_share": "Share of a limit above which to be careful",
}
DEFAULT_LIMITS = StringLimits()


@cache
def rule_table() -> dict[str, dict[str, str]]:
    """Return every rule of `string_rules.csv` by its code."""
    return {row["rule"]: row for row in rows("string_rules")}


def finding(
    rule: str,
    message: str,
    *,
    part: int | None = None,
    value: float | None = None,
    source: str | None = None,
) -> Finding:
    """Return what a rule has to say, with level, source and advice from its row."""
    row = rule_table()[rule]
    return Finding(
        level=Level(row["level"]),
        rule=rule,
        message=message,
        source=source or cited(row["source"], row["mark"]),
        do=row["do"],
        part=part,
        value=value,
    )
