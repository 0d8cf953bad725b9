"""New lines beside known premises of which the file says nothing: the same, spelt otherwise?"""

from .. import bulk
from .matching import METERS_A_DEGREE, OPEN, PREMISE

NEAR_M = 30.0
FEWEST, SHARE = 5, 0.1  # of the new lines, from which it is worth a sentence


def lookalikes() -> str:
    """Return a sentence where many staged new lines stand beside premises that no row names."""
    new = list(
        bulk.stream(
            "SELECT s.latitude, s.longitude, s.row, s.address FROM intake_stage s "
            f"WHERE s.latitude IS NOT NULL AND {OPEN}"
        )
    )
    if len(new) < FEWEST:
        return ""
    known = list(
        bulk.stream(
            f"SELECT p.latitude, p.longitude, p.address FROM {PREMISE} p "
            "WHERE p.latitude IS NOT NULL AND p.address <> '' "
            "AND NOT EXISTS (SELECT 1 FROM intake_match m WHERE m.premise_id = p.id)"
        )
    )
    near = _near(new, known)
    if len(near) < max(FEWEST, SHARE * len(new)):
        return ""
    row, other = near[0]
    return (
        f"{len(near):,} of {len(new):,} new lines stand within {NEAR_M:.0f} m of known ones that "
        f"no row of this file names, such as row {new[row][2]} ({new[row][3] or 'no address'}) "
        f"beside {known[other][2]}. Are they the same, spelt otherwise, or with parts of the "
        "address in columns that are not taken in?"
    )


def _near(new: list[tuple], known: list[tuple]) -> list[tuple[int, int]]:
    if not known:
        return []
    import numpy
    from scipy.spatial import cKDTree

    scale = numpy.array([1.0, numpy.cos(numpy.radians(new[0][0]))]) * METERS_A_DEGREE
    places = [numpy.array([row[:2] for row in rows], dtype=float) * scale for rows in (new, known)]
    _, at = cKDTree(places[1]).query(places[0], distance_upper_bound=NEAR_M)
    return [(row, int(other)) for row, other in enumerate(at) if other < len(known)]
