"""Whether the string and the new pipe pass each bend of the old pipe.

A rigid length in a bore passes a bend only where the middle of its chord has room beside it: the
chord's sagitta, length squared over eight radii, may not pass the bore less what runs in it. The
nose of the blade is one piece of steel; the whole string, from the blade to the expander, is
strung on the cable and may hinge a little, so that a bend too tight for it asks for a decision
and one too tight for the nose stops. A bend of which nobody knows the radius is never taken for a
gentle one.
"""

from collections.abc import Iterator
from functools import cache

from replacements.domain.findings import Finding, Level
from replacements.domain.methods import Method
from replacements.domain.pull_force.case import Bend, PullCase, RigidString
from replacements.domain.reference_tables import rows
from replacements.domain.units import inches

GEOMETRY = "geometry: sagitta of a chord in a curved bore [derived]"
_MEASURE = "Measure it by camera or sonde, expose the bend, or cut the run there"


def least_radius_in(rigid_in: float, outside_in: float, bore_in: float) -> float:
    """Return the least radius that a rigid length in a bore passes, in.; infinite without room."""
    room = bore_in - outside_in
    return rigid_in**2 / (8 * room) if room > 0 else float("inf")


def bend_findings(case: PullCase) -> Iterator[Finding]:
    """Yield what stands against each bend: unknown radius, string, new pipe; rods run straight."""
    if case.method is Method.ROD_SPLIT:
        yield from _rods(case)
    for bend in case.bends:
        if bend.radius_in is None:
            yield _unknown(case, bend)
        else:
            yield from _string(case, bend, bend.radius_in)
            yield from _new_pipe(case, bend, bend.radius_in)


def _unknown(case: PullCase, bend: Bend) -> Finding:
    rigid = case.rigid
    needs = [
        f"{inches(_up(radius))} for {what}"
        for what, radius in (
            (
                "the string in one piece",
                rigid and _radius_of(case, rigid, rigid.length_in),
            ),
            ("the new pipe", case.bend_limit_in),
        )
        if radius and radius != float("inf")
    ]
    asked = f" It takes {' and '.join(needs)}." if needs else ""
    return Finding(
        Level.CAUTION,
        "BEND_RADIUS_UNKNOWN",
        f"How tight {_named(bend)} is, nobody has measured.{asked}",
        GEOMETRY,
        f"{_MEASURE}; enter its radius before the pull.",
        at_ft=bend.station_ft,
    )


def _rods(case: PullCase) -> Iterator[Finding]:
    most = rods_bend_deg()
    if case.bends_deg > most:
        yield Finding(
            Level.STOP,
            "BENDS_RODS",
            f"Rods need a straight line; the bends add up to {case.bends_deg:.0f} degrees, above "
            f"{most:g}.",
            "Proposed weights of this program [judgment]",
            "Cut the run at the bend, or choose another method.",
            value=case.bends_deg,
        )


@cache
def rods_bend_deg() -> float:
    """Return the sum of bends above which rods are not used, degrees."""
    return next(
        float(row["value"])
        for row in rows("method_rules")
        if (row["method"], row["condition"]) == (Method.ROD_SPLIT, "BENDS_OVER")
    )


def _string(case: PullCase, bend: Bend, radius_in: float) -> Iterator[Finding]:
    rigid = case.rigid
    if rigid is None and case.comes_out:
        return  # one cone on a cable: the old pipe draws straight what it passes
    if rigid is None:
        yield Finding(
            Level.CAUTION,
            "BEND_STRING_UNKNOWN",
            f"Whether the string passes {_named(bend)} is not checked: no string with the lengths "
            "of its parts is on record.",
            GEOMETRY,
            "Record the string with the length of every part, then estimate again.",
            at_ft=bend.station_ft,
        )
        return
    nose, whole = (_radius_of(case, rigid, length) for length in (rigid.nose_in, rigid.length_in))
    if radius_in < nose:
        yield _tight(
            bend, radius_in, Level.STOP, "BEND_NOSE", "the blade's nose,", rigid.nose_in, nose
        )
    elif radius_in < whole:
        what = "the string from blade to expander, taken as one piece,"
        yield _tight(bend, radius_in, Level.CAUTION, "BEND_STRING", what, rigid.length_in, whole)


def _tight(
    bend: Bend, radius_in: float, level: Level, rule: str, what: str, length_in: float, needs: float
) -> Finding:
    needed = f"needs {inches(_up(needs))}" if needs < float("inf") else "has no room in the bore."
    return Finding(
        level,
        rule,
        f"{_named(bend).capitalize()} has a radius of {inches(radius_in)}; {what} "
        f"{inches(length_in)} long, {needed}",
        GEOMETRY,
        "Cut the run at the bend, or take a shorter string; ask its maker whether it hinges.",
        at_ft=bend.station_ft,
        value=radius_in,
    )


def _new_pipe(case: PullCase, bend: Bend, radius_in: float) -> Iterator[Finding]:
    least = case.bend_limit_in
    if least is not None and radius_in < least:
        yield Finding(
            Level.STOP,
            "BEND_NEW_PIPE",
            f"{_named(bend).capitalize()} has a radius of {inches(radius_in)}; the new pipe "
            f"may not be bent tighter than {inches(_up(least))}",
            case.bend_source,
            "Cut the run at the bend, or choose a new pipe that bends further.",
            at_ft=bend.station_ft,
            value=radius_in,
        )


def _radius_of(case: PullCase, rigid: RigidString, length_in: float) -> float:
    return least_radius_in(length_in, rigid.pilot_in, case.old_pipe.inside_in)


def _named(bend: Bend) -> str:
    return f"the bend of {bend.degrees:g}\N{DEGREE SIGN} at {bend.station_ft:g} ft"


def _up(radius_in: float) -> float:
    """Return a least radius in whole inches, rounded up."""
    return float(-(-radius_in // 1))
