"""New lines beside known premises of which the file says nothing: the same, spelt otherwise?"""

from collections.abc import Callable, Collection

from .. import bulk
from .matching import LINE, METERS_A_DEGREE, OPEN, PREMISE

NEAR_M = 30.0
FEWEST, SHARE = 5, 0.1  # of the new lines, from which it is worth a sentence


def lookalikes(named: Callable[[], Collection[int]]) -> str:
    """Return a sentence where many staged new lines stand beside premises that no row names.

    Parameters
    ----------
    named : returns the lines that rows besides the staged ones name, as hashes of identifiers
    """
    new = list(
        bulk.stream(
            "SELECT s.latitude, s.longitude, s.row, s.address FROM intake_stage s "
            f"WHERE s.latitude IS NOT NULL AND {OPEN}"
        )
    )
    if len(new) < FEWEST:
        return ""
    known = _not_named(named())
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


def _not_named(named: Collection[int]) -> list[tuple]:
    found = {
        premise: place
        for premise, *place in bulk.stream(
            f"SELECT p.id, p.latitude, p.longitude, p.address FROM {PREMISE} p "
            "WHERE p.latitude IS NOT NULL AND p.address <> '' "
            "AND NOT EXISTS (SELECT 1 FROM intake_match m WHERE m.premise_id = p.id)"
        )
    }
    if named:
        for name, premise in bulk.stream(f"SELECT location_id, premise_id FROM {LINE}"):
            if hash(name) in named:
                found.pop(premise, None)
    return list(found.values())


def _near(new: list[tuple], known: list[tuple]) -> list[tuple[int, int]]:
    if not known:
        return []
    import numpy
    from scipy.spatial import cKDTree

    scale = numpy.array([1.0, numpy.cos(numpy.radians(new[0][0]))]) * METERS_A_DEGREE
    places = [numpy.array([row[:2] for row in rows], dtype=float) * scale for rows in (new, known)]
    _, at = cKDTree(places[1]).query(places[0], distance_upper_bound=NEAR_M)
    return [(row, int(other)) for row, other in enumerate(at) if other < len(known)]
