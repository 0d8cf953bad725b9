"""What the estimate says of itself, in plain sentences for a page and a printed sheet."""

from replacements.domain.pull_force.estimate import ForceEstimate
from replacements.domain.pull_force.model import effective_depth_in


def method_text(made: ForceEstimate) -> tuple[str, ...]:
    """Return in sentences what the estimate is, where it comes from and what it is not."""
    depth_in = effective_depth_in(made.case.cover_ft * 12, made.case.new_pipe.outside_in)
    return (
        "This is a planning estimate, not a measurement. The truth may lie a factor of two "
        "above or below it.",
        "Relative ranking of jobs, the effect of bends and the place of spikes are more "
        "trustworthy than any absolute value.",
        "No load-cell series for slitting small lead pipe has been published. Strength of lead "
        "and soil are from textbooks; most other constants are proposals of this program, each "
        "listed with its source and mark.",
        f"The ranges shown are the tenth and ninetieth percentile, by a spread of "
        f"{made.sigma_ln:.2f} in the logarithm or by {made.drawn.draws:,} seeded draws of the "
        f"constants (spread {made.drawn.parameter_sigma_ln:.2f}), whichever reaches further.",
        "Total and drag are two different forces. The total is carried by cable, jaws, clevis, "
        "swivel, puller and anchor; the drag behind the expander is carried by the new pipe and "
        "its grip. A log at the puller shows the total only.",
        f"The drag counts {depth_in:.0f} in. of ground on a part of the run; should the hole "
        f"squeeze shut it could reach {made.squeeze.with_bends_lbf:,.0f} lb, so that the pull "
        "should not stop for long midway.",
        _learned_text(made),
        "Local codes, the equipment maker's ratings and the competent person on site come before "
        "this page.",
    )


def _learned_text(made: ForceEstimate) -> str:
    if not made.calibration:
        return "No accepted pull in this soil has yet been used to correct the estimate."
    return (
        f"Accepted pulls in this soil have moved the total by a factor of {made.bias_factor:.2f}."
    )
