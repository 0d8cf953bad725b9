"""How hard a new pipe may be pulled in, and how tightly it may be bent.

The pull is the drag behind the expander, never the total.

The new pipe carries no slitting force, and may still be the weak link: a 1 in. polyethylene
tube is allowed about 550 lb where a 3/8 in. cable works at 3,840 lb.
"""

import math
from typing import NamedTuple

from replacements.domain.pipes.dimensions import Pipe, PipeError, UnknownPipe
from replacements.domain.reference_tables import cited, constants, interpolate, rows, series

NEW_PIPE_MATERIALS = ("COPPER", "PE", "PEX")


class NotPullable(PipeError):
    """This pipe cannot be pulled in, or not under these conditions."""


def allowable_pull_lbf(
    pipe: Pipe,
    minutes: float = 60,
    *,
    resin: str = "PE4710",
    temperature_f: float = 73,
    copper_factor: float | None = None,
    grip: str | None = None,
) -> float:
    """Return how hard a new pipe may be pulled, lb: the drag behind the expander, not the total.

    PE: design factor x time factor x temperature factor x yield x area (ASTM F1804; PPI
    Handbook of PE Pipe ch. 12). PEX: the PE2708 row as a floor; the maker's limit goes before
    it. Copper, soft: factor x 9,000 psi x area. A grip multiplies by its efficiency.

    Parameters
    ----------
    minutes : time under tension, up to 24 h for plastics
    resin : PE2406, PE2708, PE3408, PE3608 or PE4710; used for PE only
    temperature_f : of the pipe wall; colder than 73 F gives no credit
    copper_factor : share of the yield, 0.40 to 0.67, default 0.50
    grip : code of `grips.csv`; None leaves the grip out

    Raises
    ------
    NotPullable: lead or galvanized steel; a time above 24 h or not positive; a wall hotter
        than 120 F; a copper factor outside its range.
    UnknownPipe: the resin or the grip is not in its table.

    Examples
    --------
    >>> from replacements.domain.pipes import pipe
    >>> round(allowable_pull_lbf(pipe("PE", 1.0, "CTS SDR 9")))
    550
    """
    if pipe.material not in NEW_PIPE_MATERIALS:
        raise NotPullable(
            f"{pipe.label} cannot be a new pipe: choose one of {', '.join(NEW_PIPE_MATERIALS)}."
        )
    if not 0 < minutes < math.inf:
        raise NotPullable(f"A pull of {minutes} minutes cannot be; give the time under tension.")
    efficiency = 1.0 if grip is None else grip_efficiency(grip)
    if pipe.material == "COPPER":
        return efficiency * _copper_stress_psi(copper_factor) * pipe.area_in2
    if pipe.material == "PEX":
        resin = _pex_resin()
    return efficiency * _pe_stress_psi(resin, minutes, temperature_f) * pipe.area_in2


class LeastRadius(NamedTuple):
    """How tightly a pipe may be bent: radius of its center line, in., and the source with mark."""

    radius_in: float
    source: str


def least_bend_radius(pipe: Pipe) -> LeastRadius:
    """Return how tight a bend a new pipe may be drawn round, cold, no fitting in it.

    Raises
    ------
    UnknownPipe: no row of `bending_radius.csv` is of this material and wall.

    Examples
    --------
    >>> from replacements.domain.pipes import pipe
    >>> least_bend_radius(pipe("PE", 1.0, "CTS SDR 9")).radius_in
    22.5
    """
    ratio = pipe.outside_in / pipe.wall_in
    for row in rows("bending_radius"):
        if row["material"] == pipe.material and (
            float(row["from_ratio"]) < ratio <= float(row["to_ratio"])
        ):
            radius = float(row["times_outside"]) * pipe.outside_in
            return LeastRadius(radius, cited(row["source"], row["mark"]))
    raise UnknownPipe(f"No least bending radius is known of {pipe.label}; ask its maker.")


def weakest_resin() -> str:
    """Return the PE resin that is counted where nobody read the print: the weakest of the table."""
    return resins()[-1]


def hottest_f() -> float:
    """Return the hottest wall of plastic pipe for which the table gives a strength, F."""
    return series("pe_strength", "TEMPERATURE_FACTOR")[-1][0]


def resins() -> tuple[str, ...]:
    """Return the PE resins of the table, the strongest first."""
    yields = {
        key: c.value for (what, key), c in constants("pe_strength").items() if what == "YIELD"
    }
    return tuple(sorted(yields, key=lambda key: (-yields[key], key)))


def grip_codes() -> dict[str, str]:
    """Return the grips in the table, each code with its words."""
    return {row["code"]: row["label"] for row in rows("grips")}


def grip_efficiency(grip: str) -> float:
    """Return the share of the pipe's strength that a grip can use, 0 for a joint in the length.

    Raises
    ------
    UnknownPipe: `grips.csv` has no such code; the sentence lists what there is.
    """
    found = {row["code"]: float(row["efficiency"]) for row in rows("grips")}
    if grip not in found:
        raise UnknownPipe(f"There is no grip {grip!r}. There are: {', '.join(found)}.")
    return found[grip]


def least_grip_efficiency() -> float:
    """Return what the poorest grip of the table leaves the pipe: counted where none is known."""
    return min(float(row["efficiency"]) for row in rows("grips") if float(row["efficiency"]))


def _copper_stress_psi(factor: float | None) -> float:
    known = constants("copper_strength")
    low, high = known["PULL_FACTOR", "LOW"].value, known["PULL_FACTOR", "HIGH"].value
    factor = known["PULL_FACTOR", "DEFAULT"].value if factor is None else factor
    if not low <= factor <= high:
        raise NotPullable(f"A copper factor of {factor} is outside {low} to {high} of the yield.")
    return factor * known["YIELD", "O60"].value


def _pex_resin() -> str:
    return next(key for what, key in constants("pe_strength") if what == "PEX_AS_RESIN")


def _pe_stress_psi(resin: str, minutes: float, temperature_f: float) -> float:
    known = constants("pe_strength")
    yields = {key: c.value for (what, key), c in known.items() if what == "YIELD"}
    if resin not in yields:
        raise UnknownPipe(f"There is no PE resin {resin!r}. There are: {', '.join(yields)}.")
    return (
        known["DESIGN_FACTOR", ""].value
        * _time_factor(minutes)
        * _temperature_factor(temperature_f)
        * yields[resin]
    )


def _time_factor(minutes: float) -> float:
    for longest, factor in series("pe_strength", "TIME_FACTOR"):
        if minutes <= longest:
            return factor
    raise NotPullable(
        f"A pull of {minutes:g} minutes is longer than the 24 h the table covers; ask the maker."
    )


def _temperature_factor(temperature_f: float) -> float:
    pairs = series("pe_strength", "TEMPERATURE_FACTOR")
    if not temperature_f <= pairs[-1][0]:
        raise NotPullable(
            f"At {temperature_f:g} F the table gives no strength (it ends at {pairs[-1][0]:g} F); "
            "let the pipe cool in the shade."
        )
    return interpolate(pairs, temperature_f)
