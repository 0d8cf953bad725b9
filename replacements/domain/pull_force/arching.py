"""How ground bears on an opening: the arch over it, and the clay that squeezes it shut.

Loosened ground over a narrow opening hangs on the ground beside it, so that only a little of it
rests on what lies in the opening, however deep that is. Where clay is too weak for its depth the
opening closes instead, and the whole of the ground comes to bear.
"""

from replacements.domain.pull_force.numeric import SCALAR
from services_inventory.domain.labels import Labeled

ARCHING = "Terzaghi (1943), arching over a yielding strip (trapdoor) [memory, held to a test]"
SQUEEZING = (
    "Broms and Bennermark (1967), Peck (1969): an opening in clay squeezes shut above a stability "
    "number of about 5 to 6 [memory]"
)


class DragBasis(Labeled):
    """What the high end of the drag rests on."""

    ARCHING = "ARCHING", "the ground arches over the opening"
    SQUEEZED_CLAY = "SQUEEZED_CLAY", "the clay squeezes the opening shut"
    RUNNING_SAND = "RUNNING_SAND", "wet sand runs in, so that the arch is counted at its weakest"
    DEPTH_TABLE = "DEPTH_TABLE", "the published table of depths, read beyond its end"


def arching_psf(unit_weight_pcf, cover_ft, width_ft, ratio, friction_deg, ops=SCALAR):
    """Return the pressure of loosened ground on an opening of a width, psf.

    ratio : of the pressure sideways to that downward in the loosened ground

    The weight of a column of ground, less what its two sides hold by friction; cohesion is left
    out, which is on the safe side. Marston's load of a trench is the same formula.
    Source: Terzaghi (1943), trapdoor.
    """
    held = 2 * ratio * ops.tan(ops.radians(friction_deg))
    return unit_weight_pcf * width_ft / held * (1 - ops.exp(-held * cover_ft / width_ft))


def stability_number(unit_weight_pcf: float, cover_ft: float, strength_psf: float) -> float:
    """Return the overburden over the undrained strength of clay round an open hole.

    Source: Broms and Bennermark (1967); Peck (1969).
    """
    return unit_weight_pcf * cover_ft / strength_psf
