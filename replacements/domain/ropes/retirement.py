"""When a wire rope is retired: every criterion that is met, each with its own source.

The criteria come from lifting, mining and slings; none was written for pulling through the
ground, so the strictest decides unless the utility's safety officer names a duty.
"""

from dataclasses import dataclass

from replacements.domain.findings import Finding, Level
from replacements.domain.reference_tables import cited, rows
from replacements.domain.ropes.strength import Rope


@dataclass(frozen=True)
class RopeInspection:
    """What an inspection of a cable found, over its worst length; None where nobody looked.

    Shares are between 0 and 1. `peak_force_lbf` is the highest force the cable is known to have
    carried, `breaking_force_lbf` the figure of its certificate.
    """

    broken_wires_in_lay: int | None = None
    broken_wires_in_strand: int | None = None
    broken_wires_at_end: int | None = None
    broken_wires_in_8_diameters: int | None = None
    diameter_loss: float | None = None
    outer_wire_wear: float | None = None
    strength_loss: float | None = None
    peak_force_lbf: float | None = None
    breaking_force_lbf: float | None = None
    kinked: bool | None = None
    crushed: bool | None = None
    unstranded: bool | None = None
    birdcaged: bool | None = None
    core_protrudes: bool | None = None
    severely_corroded: bool | None = None
    heat_or_arc_damage: bool | None = None
    spliced: bool | None = None


def retirement_findings(
    inspection: RopeInspection, cable: Rope | None = None, *, duty: str | None = None
) -> list[Finding]:
    """Return a STOP for every criterion that retires a cable, each citing its own source.

    Parameters
    ----------
    cable : needed for criteria that count a share of the wires
    duty : RUNNING or STANDING keeps the criteria of that duty only; None applies all, so that
        the strictest decides
    """
    found = []
    for row in rows("retirement"):
        if duty is not None and row["duty"] not in (duty, "ANY"):
            continue
        measured = _measure(inspection, row["measure"], cable)
        if measured is not None and _exceeds(measured, row["compare"], float(row["limit"])):
            found.append(_retire(row, measured))
    return found


def _measure(inspection: RopeInspection, measure: str, cable: Rope | None) -> float | None:
    shares = {
        "share_of_wires_in_lay": (inspection.broken_wires_in_lay, cable and cable.wires),
        "share_of_wires_in_strand": (
            inspection.broken_wires_in_strand,
            cable and cable.wires_per_strand,
        ),
        "share_of_wires_in_8_diameters": (
            inspection.broken_wires_in_8_diameters,
            cable and cable.wires,
        ),
        "peak_share_of_breaking": (
            inspection.peak_force_lbf,
            inspection.breaking_force_lbf or (cable and cable.breaking_force_lbf),
        ),
    }
    if measure not in shares:
        return getattr(inspection, measure)
    part, whole = shares[measure]
    return None if part is None or not whole else part / whole


def _exceeds(measured: float, compare: str, limit: float) -> bool:
    return measured > limit if compare == "OVER" else measured >= limit


def _retire(row: dict[str, str], measured: float) -> Finding:
    limit = float(row["limit"])
    if row["compare"] == "SEEN":
        message = f"The cable shows {row['finding']}: retire it."
    elif limit < 1:
        message = f"{measured:.1%} {row['finding']}, limit {limit:.0%}: retire the cable."
    else:
        allowed = limit - 1 if row["compare"] == "AT_LEAST" else limit
        message = f"{measured:g} {row['finding']}, at most {allowed:g}: retire the cable."
    return Finding(
        Level.STOP,
        f"RETIRE_{row['code']}",
        message,
        cited(row["source"], row["mark"]),
        "Take the cable out of use and cut it so that nobody pulls on it again.",
        value=float(measured),
    )
