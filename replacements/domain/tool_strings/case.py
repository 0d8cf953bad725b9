"""One string, the two pipes, and all else that its checks look at."""

from dataclasses import dataclass
from datetime import date

from replacements.domain.pipes import MEASURED, Pipe
from replacements.domain.tool_strings.components import Component, Kind, ToolString
from replacements.domain.tool_strings.rules import DEFAULT_LIMITS, StringLimits
from replacements.domain.tool_strings.setup import LEAD_SIZES_IN


@dataclass(frozen=True, kw_only=True)
class StringCase:
    """What a string is checked against.

    length_ft : of the old line between the pits
    as_of : day of the pull, for inspections
    run_materials : whatever the old run holds besides lead, such as GALVANIZED or BRASS
    entry_hole_in : hole in the wall that the string must pass, where it enters a house
    total_force_lbf, drag_lbf : high estimates, where known: all that the cable pulls, and the
        drag behind the expander
    minutes, resin, temperature_f, copper_factor : see `pipes.allowable_pull_lbf`
    """

    tool_string: ToolString
    old_pipe: Pipe
    new_pipe: Pipe
    length_ft: float | None = None
    as_of: date | None = None
    run_materials: tuple[str, ...] = ()
    entry_hole_in: float | None = None
    total_force_lbf: float | None = None
    drag_lbf: float | None = None
    minutes: float = 60
    resin: str = "PE4710"
    temperature_f: float = 73
    copper_factor: float | None = None
    limits: StringLimits = DEFAULT_LIMITS

    def first(self, kind: Kind) -> Component | None:
        """Return the first tool of a kind in the string."""
        return self.tool_string.first(kind)

    def of_kind(self, kind: Kind) -> list[tuple[int, Component]]:
        """Return (place, tool) of every tool of a kind in the string."""
        return self.tool_string.of_kind(kind)

    @property
    def expander_in(self) -> float | None:
        """Greatest diameter of the expander, None where unknown."""
        expander = self.first(Kind.EXPANDER)
        return expander.outside_in if expander else None


def nominal_bore_in(old_pipe: Pipe) -> float:
    """Return the trade size of the old line: of a measured one the size nearest to its bore."""
    if old_pipe.grade != MEASURED:
        return old_pipe.nominal_in
    return min(LEAD_SIZES_IN, key=lambda size: abs(size - old_pipe.inside_in))
