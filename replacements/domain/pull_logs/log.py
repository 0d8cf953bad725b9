"""What a pull log is once read: force, time, distance, and how the file was understood."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from replacements.domain.hydraulics import PLANNING_EFFICIENCY, cylinder_force_lbf

if TYPE_CHECKING:
    import numpy as np

ROLES = ("time", "force", "distance")


class PullLogError(ValueError):
    """The file cannot be used as a pull log; the sentence says what, where and what to do."""


@dataclass(frozen=True)
class Column:
    """How one column of the file was understood.

    role : time, force or distance (a pressure column has the role force)
    quantity : TIME, PRESSURE, FORCE or DISTANCE
    header : as it stands in the file
    index : place in the row, from 0
    unit : code of the unit, such as psi or ft; for times also ISO and CLOCK
    guessed_from : what the guess rests on, in words for the screen
    unit_assumed : True when neither header nor cells name a unit
    """

    role: str
    quantity: str
    header: str
    index: int
    unit: str
    guessed_from: str
    unit_assumed: bool = False


@dataclass(frozen=True)
class Cylinder:
    """The hydraulic puller, for turning its gauge pressure into force.

    bore_in, rod_in : diameters, inch
    efficiency : share of the force that reaches the cable, 0 to 1
    count : cylinders pulling side by side
    rod_side : True when the rod is drawn in and the rod's area is lost
    """

    bore_in: float
    rod_in: float = 0.0
    efficiency: float = PLANNING_EFFICIENCY
    count: int = 1
    rod_side: bool = True

    def lbf_per_psi(self) -> float:
        """Return the force of one psi above the free-running pressure, lbf."""
        rod_in = self.rod_in if self.rod_side else 0.0
        return cylinder_force_lbf(1.0, self.bore_in, rod_in, self.efficiency, cylinders=self.count)


@dataclass(frozen=True)
class CleaningNote:
    """Something done to rows of the file, with how many and where it happened first."""

    kind: str
    count: int
    sentence: str
    first_row: int | None = None


@dataclass(frozen=True)
class PullLog:
    """A pull log, cleaned, in file order, times counted from the first sample.

    time_s, force_lbf, distance_ft : arrays of equal length, one value per sample kept
    row : array, the line of the file that each sample stands on, counted from 1
    columns : role to Column, as guessed or as told
    notes : what cleaning did; every row set aside is counted in one of them
    raw_count : rows of data in the file
    missing_share : samples missing in gaps or set aside, over all that should be there
    """

    time_s: "np.ndarray"
    force_lbf: "np.ndarray"
    distance_ft: "np.ndarray"
    row: "np.ndarray"
    columns: Mapping[str, Column]
    sha256: str
    notes: tuple[CleaningNote, ...] = ()
    raw_count: int = 0
    missing_share: float = 0.0
    interval_s: float = 1.0
    unused: tuple[str, ...] = ()
    units: Mapping[str, str] = field(init=False)

    def __post_init__(self):
        units = {role: column.unit for role, column in self.columns.items()}
        object.__setattr__(self, "units", MappingProxyType(units))

    def __len__(self) -> int:
        return len(self.time_s)

    @property
    def peak_lbf(self) -> float:
        """The highest single sample, lbf."""
        return float(self.force_lbf.max())

    @property
    def set_aside(self) -> int:
        """Rows of the file that are not among the samples."""
        return self.raw_count - len(self)

    def note(self, kind: str) -> CleaningNote | None:
        """Return the cleaning note of one kind, None when cleaning had no cause for it."""
        return next((note for note in self.notes if note.kind == kind), None)


def rows_counted(count: int) -> str:
    """Return a number of rows in words, such as 1 row or 1,200 rows."""
    return "1 row" if count == 1 else f"{count:,} rows"
