"""One string, the two pipes, and all else that its checks look at."""

from dataclasses import dataclass
from datetime import date

from replacements.domain.methods import Method
from replacements.domain.pipes import MEASURED, Pipe, allowable_pull_lbf, hottest_f, weakest_resin
from replacements.domain.tool_strings.components import Component, Kind, ToolString
from replacements.domain.tool_strings.rules import DEFAULT_LIMITS, StringLimits
from replacements.domain.tool_strings.setup import LEAD_SIZES_IN


@dataclass(frozen=True, kw_only=True)
class StringCase:
    """What a string is checked against.

    method : how the order is pulled, which decides what its string needs
    length_ft : of the old line between the pits
    as_of : day of the pull, for inspections
    run_materials : whatever the old run holds besides lead, such as GALVANIZED or BRASS
    entry_hole_in : hole in the wall that the string must pass, where it enters a house
    total_force_lbf, drag_lbf : high estimates, where known: all that the cable pulls, and the
        drag behind the expander
    minutes, copper_factor : see `pipes.allowable_pull_lbf`
    resin, temperature_f : of a plastic new pipe; None where nobody read them, then the weakest and
        the hottest of the table are counted
    """

    tool_string: ToolString
    old_pipe: Pipe
    new_pipe: Pipe
    method: Method = Method.SPLIT
    length_ft: float | None = None
    as_of: date | None = None
    run_materials: tuple[str, ...] = ()
    entry_hole_in: float | None = None
    total_force_lbf: float | None = None
    drag_lbf: float | None = None
    minutes: float = 60
    resin: str | None = None
    temperature_f: float | None = None
    copper_factor: float | None = None
    limits: StringLimits = DEFAULT_LIMITS

    @property
    def unread(self) -> tuple[str, ...]:
        """What nobody read of the new pipe, of what decides how hard it may be pulled."""
        asked = {"PE": ("resin", "temperature_f"), "PEX": ("temperature_f",)}
        return tuple(
            name for name in asked.get(self.new_pipe.material, ()) if getattr(self, name) is None
        )

    @property
    def counted_resin(self) -> str:
        """The resin that is counted: as read, else the weakest."""
        return self.resin or weakest_resin()

    @property
    def counted_temperature_f(self) -> float:
        """The wall's temperature that is counted: as measured, else the hottest of the table, F."""
        return hottest_f() if self.temperature_f is None else self.temperature_f

    @property
    def allowed_lbf(self) -> float:
        """How hard the new pipe may be pulled before its grip, lb.

        Raises
        ------
        PipeError: see `pipes.allowable_pull_lbf`.
        """
        return allowable_pull_lbf(
            self.new_pipe,
            self.minutes,
            resin=self.counted_resin,
            temperature_f=self.counted_temperature_f,
            copper_factor=self.copper_factor,
        )

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
