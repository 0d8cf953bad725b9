"""Inputs that may be assumed: always the unfavorable way, told as assumed, with what to do."""

from replacements.domain.pipes import hottest_f, weakest_resin

ASSUMED = {
    "groundwater": (
        "Nobody has recorded whether groundwater stands above the pipe; it is counted as above it, "
        "where sand runs into the hole and presses on the new pipe all along.",
        "Look in the pit and have it put on the order; in sand it decides whether the hole holds.",
    ),
    "old_pipe": (
        "Bore and weight class of the old pipe are not both on record; of a class not known, the "
        "heaviest of the table is counted.",
        "Measure bore and outside diameter in the pit and have them put on the order.",
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
    what = name.removesuffix("_ft").removesuffix("_in").replace("_", " ").capitalize()
    said = f"{what}: assumed, not measured."
    return ASSUMED.get(name, (said, "Measure it in the pit or with a camera."))
