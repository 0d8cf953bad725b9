"""What is known of a line whose material is not, and the table of numbers made from it."""

from __future__ import annotations

from dataclasses import dataclass

from program.planning.geometry import middle_of, on_plane


@dataclass(frozen=True)
class LineFeatures:
    """One line: `is_lead` is None where unknown, True or False where evidence settled it.

    `other_portion` is the material code of the portion that is known, if one is.
    """

    id: str
    lat: float | None
    lon: float | None
    neighborhood: str
    decade: int | None = None
    size_in: float | None = None
    other_portion: str = ""
    is_lead: bool | None = None


class BadUnknowns(ValueError):
    """Too little is known to learn from; the message says what is missing."""


@dataclass(frozen=True)
class Encoding:
    """The columns of the table, fixed by the lines learned from."""

    decades: tuple[int, ...]
    hoods: tuple[str, ...]
    sizes: tuple[float, ...]
    materials: tuple[str, ...]

    @classmethod
    def of(cls, lines) -> Encoding:
        """The values that occur, in order."""
        return cls(
            tuple(sorted({ln.decade for ln in lines if ln.decade is not None})),
            tuple(sorted({ln.neighborhood for ln in lines})),
            tuple(sorted({ln.size_in for ln in lines if ln.size_in is not None})),
            tuple(sorted({ln.other_portion for ln in lines if ln.other_portion})),
        )

    def table(self, lines, nearby):
        """0/1 columns for every value, and how lead the nearby verified lines are (log odds)."""
        import numpy as np

        groups = (
            (self.decades, [ln.decade for ln in lines]),
            (self.hoods, [ln.neighborhood for ln in lines]),
            (self.sizes, [ln.size_in for ln in lines]),
            (self.materials, [ln.other_portion for ln in lines]),
        )
        columns = [np.ones(len(lines))]
        for values, found in groups:
            place = {value: k for k, value in enumerate(values)}
            block = np.zeros((len(lines), len(values)))
            for row, value in enumerate(found):
                if value in place:
                    block[row, place[value]] = 1.0
            columns.append(block)
        columns.append(np.log(nearby / (1 - nearby)))
        return np.column_stack(columns)


def nearby_share(lines, verified, *, neighbors: int, prior: float, strength: float = 4.0):
    """Share of lead among the nearest verified lines, smoothed toward `prior`.

    A line never counts among its own neighbors; one without coordinates gets the prior.
    """
    import numpy as np
    from scipy.spatial import cKDTree

    share = np.full(len(lines), prior)
    known = [line for line in verified if line.lat is not None and line.lon is not None]
    placed = [k for k, ln in enumerate(lines) if ln.lat is not None and ln.lon is not None]
    if not known or not placed:
        return share
    middle = middle_of((line.lat, line.lon) for line in known)
    tree = cKDTree(np.array(on_plane(((ln.lat, ln.lon) for ln in known), middle)))
    lead = np.array([float(line.is_lead) for line in known])
    own = {line.id: k for k, line in enumerate(known)}
    asked = np.array(on_plane(((lines[k].lat, lines[k].lon) for k in placed), middle))
    count = min(neighbors + 1, len(known))
    _, near = tree.query(asked, k=count)
    near = np.asarray(near).reshape(len(placed), count)
    selves = np.array([own.get(lines[k].id, -1) for k in placed])
    other = near != selves[:, None]
    # Where the line itself is not among them, the last and farthest is dropped.
    other[other.all(axis=1), neighbors:] = False
    found = (lead[near] * other).sum(axis=1)
    share[placed] = (found + strength * prior) / (other.sum(axis=1) + strength)
    return share
