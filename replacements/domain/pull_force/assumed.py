"""Inputs that may be assumed: always the unfavorable way, told as assumed, with what to do."""

from replacements.domain.pipes import hottest_f, weakest_resin

ASSUMED = {
    "groundwater": (
        "Nobody has recorded whether groundwater stands above the pipe.",
        "Look in the pit; in sand it decides whether the hole holds.",
    ),
    "resin": (
        f"The resin of the new pipe was not read; {weakest_resin()}, the weakest of the table, is "
        "counted.",
        "Read it off the print on the pipe and estimate again.",
    ),
    "temperature_f": (
        f"How hot the new pipe's wall gets was not measured; {hottest_f():g} \N{DEGREE SIGN}F, "
        "the hottest of the table, is counted.",
        "Measure it, keep the pipe in the shade, and estimate again.",
    ),
    "pulled_end": (
        "Which end of the cable is pulled is not on record; the thin end's limit is counted.",
        "See which end is in the puller and record the string again.",
    ),
}


def assumed_told(name: str) -> tuple[str, str]:
    """Return what is counted for an input that was assumed, and what to do about it."""
    said = f"The input {name.replace('_', ' ')} was assumed, not measured."
    return ASSUMED.get(name, (said, "Measure it in the pit or with a camera."))
