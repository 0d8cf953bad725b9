"""Lines near planned paving and main works: what the plan does before, with and after the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

FEET_A_DEGREE = 111_195 / 0.3048  # of latitude, on a sphere of the earth's mean radius


@dataclass(frozen=True)
class Near:
    """The lines within reach of one work: their numbers, in the order of the lines given."""

    work: int
    lines: list[int]


def near_works(
    longitudes: np.ndarray, latitudes: np.ndarray, works: Sequence[str], feet: float
) -> list[Near]:
    """Return for each work the points no farther from it than so many feet.

    Parameters
    ----------
    works : lines or areas as WKT in longitude and latitude
    feet : measured on a plane around the middle of the points, which is true to a foot in a town
    """
    import numpy as np
    import shapely

    if not len(longitudes) or not works:
        return [Near(k, []) for k in range(len(works))]
    narrow = np.cos(np.radians(float(np.mean(latitudes))))
    scale = np.array([FEET_A_DEGREE * narrow, FEET_A_DEGREE])
    points = shapely.points(np.column_stack([longitudes, latitudes]) * scale)
    shapes = shapely.transform(shapely.from_wkt(list(works)), lambda xy: xy * scale)
    tree = shapely.STRtree(points)
    own, found = tree.query(shapes, predicate="dwithin", distance=feet)
    lines: dict[int, list[int]] = {}
    for work, line in zip(own.tolist(), found.tolist(), strict=True):
        lines.setdefault(work, []).append(line)
    return [Near(k, sorted(lines.get(k, []))) for k in range(len(works))]


@dataclass
class Timing:
    """Lines near one work by when the plan replaces them: in its year, before, after, or not."""

    together: int = 0
    before: int = 0
    after: int = 0
    unplanned: int = 0
    areas_after: set[str] = field(default_factory=set)

    def count(self, year: int | None, works: tuple[int, int], area: str) -> None:
        """Count one line by its program year against the work's first and last."""
        if year is None:
            self.unplanned += 1
        elif year < works[0]:
            self.before += 1
        elif year <= works[1]:
            self.together += 1
        else:
            self.after += 1
            self.areas_after.add(area)
