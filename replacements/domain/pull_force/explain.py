"""What the estimate says of itself, in plain sentences for a page and a printed sheet."""

from replacements.domain.methods import Method
from replacements.domain.pull_force.estimate import ForceEstimate
from replacements.domain.pull_force.spread import RANGE_COVERS
from replacements.domain.units import high_lb


def method_text(made: ForceEstimate) -> tuple[str, ...]:
    """Return in sentences what the estimate is, where it comes from and what it is not."""
    return (
        "This is a planning estimate, not a measurement. The truth may lie a factor of two "
        "above or below it.",
        f"Each range is {RANGE_COVERS}: spread {made.sigma_ln:.2f} in the logarithm, of which "
        f"{made.drawn.parameter_sigma_ln:.2f} comes from inputs and constants that are not known "
        f"exactly, by {made.drawn.draws:,} seeded draws.",
        "Relative ranking of jobs, the effect of bends and the place of spikes are more "
        "trustworthy than any absolute value.",
        "No load-cell series for slitting small lead pipe has been published. Strength of lead "
        "and soil are from textbooks; most other constants are proposals of this program, each "
        "listed with its source and mark. The blade's slitting is the largest part and rests on "
        "three of them.",
        "Total and drag are two different forces. The total is carried by cable, jaws, clevis, "
        "swivel, puller and anchor; the drag behind the expander is carried by the new pipe, its "
        "grip and a break-away link. A log at the puller shows the total only.",
        _drag_text(made),
        _learned_text(made),
        *_of_method(made),
        "Local codes, the equipment maker's ratings and the competent person on site come before "
        "this page.",
    )


def _drag_text(made: ForceEstimate) -> str:
    said = f"The high end of the drag rests on this: {made.drag_basis.label}."
    if made.case.depth_table:
        return said
    said += (
        f" The arch (Terzaghi, 1943) leaves {made.ground_psf:.0f} psf on the new pipe, counted all "
        "round it."
    )
    if made.squeeze.stability is None:
        return said
    number, least = made.squeeze.stability, made.case.parameter_set["SQUEEZE_NUMBER"]
    if not made.squeeze.shuts:
        return said + (
            f" The clay does not squeeze the hole shut: the cover is {number:.1f} times its "
            f"strength at the weakest, below {least:g} (Broms and Bennermark, 1967; Peck, 1969)."
        )
    return said + (
        f" The cover is {number:.1f} times the clay's strength at the weakest, {least:g} or more, "
        f"so that up to {high_lb(made.squeeze.with_bends_lbf)} of drag is counted."
    )


def _of_method(made: ForceEstimate) -> tuple[str, ...]:
    """Return what is other where the old pipe is not slit by a blade on a cable."""
    if made.case.comes_out:
        return (
            "The old pipe is drawn out whole: nothing is slit or opened, and the ground's hold on "
            f"what is still in it is counted instead, {made.parts.hold:,.0f} lb where the total is "
            "greatest. The hold is a textbook value for skin friction; no log has tested it.",
        )
    if made.case.method is Method.ROD_SPLIT:
        return (
            "Rods are counted like a cable: the blade's work on lead is the same, and no log of a "
            "pull with rods has tested it.",
        )
    return ()


def _learned_text(made: ForceEstimate) -> str:
    if not made.calibration:
        return "No log of a pull in this soil is used to correct the estimate."
    return (
        f"Logs of pulls in this soil have moved the total by a factor of {made.bias_factor:.2f}; "
        "the drag, which no log measures, is left as it is."
    )
