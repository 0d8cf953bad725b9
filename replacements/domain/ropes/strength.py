"""Wire rope: breaking force by construction, and how much of it may be used.

The tables are a default. Constructions of one diameter differ by a third, so the figure on the
cable's own certificate goes before them.
Sources: `replacements/reference/`, one on every row.
"""

import math
import re
from dataclasses import dataclass

from replacements.domain.findings import Finding, Level
from replacements.domain.reference_tables import constants, interpolate, rows, series
from replacements.domain.units import inches

_SIZE_TOLERANCE_IN = 0.002


class RopeError(ValueError):
    """Something asked of a cable cannot be answered; fit to show."""


class UnknownRope(RopeError, LookupError):
    """No table holds this construction, diameter or termination; lists what there is."""


class DesignFactorTooLow(RopeError):
    """A design factor below the floor was asked for."""


@dataclass(frozen=True)
class Rope:
    """One size of one construction of wire rope."""

    construction: str
    diameter_in: float
    breaking_force_lbf: float
    strands: int
    wires_per_strand: int
    source: str
    mark: str

    @property
    def wires(self) -> int:
        """Wires in the whole section."""
        return self.strands * self.wires_per_strand


def rope(construction: str, diameter_in: float) -> Rope:
    """Return one wire rope of the table.

    Raises
    ------
    UnknownRope: no such construction, or no such diameter of it; lists what there is.
    """
    code = " ".join(construction.upper().split())
    of_kind = [row for row in rows("wire_rope") if row["construction"] == code]
    if not of_kind:
        known = ", ".join(constructions())
        raise UnknownRope(f"There is no wire rope {construction!r}. There are: {known}.")
    for row in of_kind:
        if abs(float(row["diameter_in"]) - diameter_in) <= _SIZE_TOLERANCE_IN:
            return Rope(
                code,
                float(row["diameter_in"]),
                float(row["breaking_force_lbf"]),
                int(row["strands"]),
                int(row["wires_per_strand"]),
                row["source"],
                row["mark"],
            )
    sizes = ", ".join(inches(float(row["diameter_in"])) for row in of_kind)
    raise UnknownRope(
        f"{code} has no diameter {inches(diameter_in)} There are: {sizes} "
        "Use the certificate's figure."
    )


def constructions() -> dict[str, str]:
    """Return the constructions in the table, each code with its words, such as 7x19 galvanized."""
    return {row["construction"]: _in_words(row["construction"]) for row in rows("wire_rope")}


def _in_words(code: str) -> str:
    code = re.sub(r"(?<=\d)X(?=\d)", "x", code)
    return " ".join(word.lower() if len(word) > 5 else word for word in code.split())


def breaking_force_lbf(construction: str, diameter_in: float) -> float:
    """Return the minimum breaking force of new rope by the table, lb; the certificate goes first.

    Raises
    ------
    UnknownRope: no such construction, or no such diameter of it; lists what there is.

    Examples
    --------
    >>> breaking_force_lbf("7x19 galvanized", 0.375)
    14400.0
    """
    return rope(construction, diameter_in).breaking_force_lbf


def strongest_lbf(diameter_in: float) -> float | None:
    """Return what the strongest rope of the table of one size breaks at, lb; None without one."""
    of_size = [
        float(row["breaking_force_lbf"])
        for row in rows("wire_rope")
        if abs(float(row["diameter_in"]) - diameter_in) <= _SIZE_TOLERANCE_IN
    ]
    return max(of_size, default=None)


def termination_codes() -> dict[str, str]:
    """Return the end fittings in the table, each code with its words."""
    return {row["code"]: row["label"] for row in rows("terminations")}


def termination_efficiency(code: str) -> float:
    """Return the share of the breaking force that an end fitting holds.

    Raises
    ------
    UnknownRope: no such termination; lists what there is.
    """
    found = {row["code"]: float(row["efficiency"]) for row in rows("terminations")}
    if code not in found:
        raise UnknownRope(f"There is no termination {code!r}. There are: {', '.join(found)}.")
    return found[code]


def holds_a_pull(code: str) -> bool:
    """Tell whether a termination may be pulled on at all.

    Raises
    ------
    UnknownRope: no such termination; lists what there is.
    """
    termination_efficiency(code)
    return any(row["code"] == code and row["pulling_end"] == "YES" for row in rows("terminations"))


def bend_efficiency(diameter_ratio: float | None) -> float:
    """Return the share of the breaking force left over a sheave of so many rope diameters.

    None means a straight pull: 1.0. Above 20 diameters no more than at 20 is credited.

    Raises
    ------
    RopeError: the ratio is below 1, where the curve ends.
    """
    if diameter_ratio is None:
        return 1.0
    if not diameter_ratio >= 1:
        raise RopeError(
            f"A bend of {diameter_ratio} rope diameters is a sharp edge: no figure exists. "
            "Lead the cable straight or over a sheave."
        )
    return interpolate(series("rope_constants", "BEND_EFFICIENCY"), diameter_ratio)


def working_limit_lbf(
    breaking_lbf: float,
    *,
    termination: str = "JAW_SET",
    design_factor: float | None = None,
    diameter_ratio: float | None = None,
) -> float:
    """Return how hard a cable may be pulled, lb: breaking force x end x bend / design factor.

    Parameters
    ----------
    breaking_lbf : the certificate's figure, or `breaking_force_lbf`
    termination : code of `terminations.csv`
    design_factor : 3 when None, never below 2
    diameter_ratio : sheave over rope diameter, None for a straight pull

    Raises
    ------
    RopeError: the breaking force is not positive, or the bend is sharper than the curve.
    DesignFactorTooLow: the design factor is below the floor of 2.
    UnknownRope: no such termination.

    Examples
    --------
    >>> working_limit_lbf(14400)
    3840.0
    """
    if not 0 < breaking_lbf < math.inf:
        raise RopeError(f"A breaking force of {breaking_lbf} lb cannot be; read the certificate.")
    known = constants("rope_constants")
    floor = design_factor_floor()
    factor = known["DESIGN_FACTOR", "PLANNING"].value if design_factor is None else design_factor
    if not floor <= factor < math.inf:
        raise DesignFactorTooLow(f"A design factor of {factor:g} is below the floor of {floor:g}.")
    efficiency = termination_efficiency(termination) * bend_efficiency(diameter_ratio)
    return breaking_lbf * efficiency / factor


def design_factor_floor() -> float:
    """Return the least design factor that may be set, 2."""
    return constants("rope_constants")["DESIGN_FACTOR", "FLOOR"].value


def design_factor_findings(design_factor: float) -> list[Finding]:
    """Return STOP below the floor of 2, CAUTION below the planning value of 3, else nothing."""
    known = constants("rope_constants")
    floor, planning = known["DESIGN_FACTOR", "FLOOR"], known["DESIGN_FACTOR", "PLANNING"]
    if design_factor >= planning.value:
        return []
    below = floor if not design_factor >= floor.value else planning
    return [
        Finding(
            Level.STOP if below is floor else Level.CAUTION,
            "DESIGN_FACTOR",
            f"The design factor is {design_factor:g}, below {below.value:g}.",
            below.cited,
            "Ask the utility's safety officer which factor binds this pull.",
            value=design_factor,
        )
    ]
