"""A laboratory's table of results as results: headings, units, days, "less than".

Two layouts are read: a row for each analyte (analyte, result, unit), or one row for a bottle with
a column for lead and one for copper. What can't be read is named by row and column, all of it at
once, and then nothing of the file is taken in. No Django here: it is run beside the reader.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from services_inventory.intake.checking.problems import Bad, RowProblem
from services_inventory.intake.checking.values import day, text_of

EARLIEST_YEAR = 1991  # the first lead and copper rule
MOST_ROWS = 20_000
# What no tap holds: a slip of unit or decimal point. Common practice, no source.
MOST_UG_PER_L = {"LEAD": 50_000, "COPPER": 500_000}

_HEADINGS = {
    "place": (
        "location id", "location identifier", "location", "site id", "site code", "site",
        "sample site", "sampling site", "site number", "line id", "sample point",
        "sampling point", "sample location",
    ),
    "address": (
        "address", "service address", "site address", "street address", "sample address",
        "sampling address", "location address",
    ),
    "sampled_on": (
        "sampled on", "date sampled", "sample date", "sampling date", "collected",
        "date collected", "collection date", "collected on", "sampled",
    ),
    "number": (
        "laboratory number", "lab number", "laboratory id", "lab id", "sample id",
        "sample number", "lab sample id", "laboratory sample id", "sample no", "bottle id",
        "lab no", "laboratory no",
    ),
    "liter": ("liter", "litre", "draw", "bottle", "sample liter", "liter number", "sample draw"),
    "metal": ("analyte", "parameter", "contaminant", "metal", "analyte name", "element"),
    "result": ("result", "results", "value", "concentration", "result value", "level"),
    "unit": ("unit", "units", "result unit", "result units", "unit of measure", "uom"),
    "lead": ("lead", "pb", "lead result", "total lead", "lead pb", "lead total", "lead level"),
    "copper": (
        "copper", "cu", "copper result", "total copper", "copper cu", "copper total",
        "copper level",
    ),
    "purpose": ("purpose", "sample purpose", "sample type", "sample reason", "reason"),
}  # fmt: skip
_FIELD_OF = {heading: name for name, headings in _HEADINGS.items() for heading in headings}
_UNITS = {
    "mg/l": 1000, "ppm": 1000, "milligrams per liter": 1000, "mgl": 1000,
    "ug/l": 1, "µg/l": 1, "μg/l": 1, "mcg/l": 1, "ppb": 1, "micrograms per liter": 1, "ugl": 1,
}  # fmt: skip
_UNIT_IN_HEADING = re.compile(r"[(\[]\s*([^)\]]+?)\s*[)\]]|\b(mg/l|[uµμ]g/l|ppb|ppm)\s*$", re.I)
_METALS = {"lead": "LEAD", "pb": "LEAD", "copper": "COPPER", "cu": "COPPER"}
_LITERS = {
    "": 1, "1": 1, "1st": 1, "first": 1, "first draw": 1, "first liter": 1, "1st liter": 1,
    "1st draw": 1, "5": 5, "5th": 5, "fifth": 5, "fifth liter": 5, "5th liter": 5,
    "fifth draw": 5, "5th draw": 5,
}  # fmt: skip
_PURPOSES = {
    "compliance": "COMPLIANCE", "routine": "COMPLIANCE", "c": "COMPLIANCE",
    "follow up": "FOLLOW_UP", "follow-up": "FOLLOW_UP", "followup": "FOLLOW_UP",
    "after replacement": "FOLLOW_UP", "special": "REQUESTED", "requested": "REQUESTED",
    "customer request": "REQUESTED", "customer": "REQUESTED",
}  # fmt: skip
_RESULT = re.compile(
    r"(?P<below><|less than|below)?\s*"
    r"(?P<number>[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?|\d*\.?\d+(?:e-?\d+)?)\s*(?P<unit>[^\d\s].*)?",
    re.IGNORECASE,
)
_NOT_DETECTED = ("nd", "n.d.", "not detected", "non-detect", "non detect", "bdl", "none detected")


class LaboratoryRefused(Exception):
    """The file can't be taken in as results; the message says why and what to do."""


@dataclass(frozen=True)
class Result:
    """One metal in one bottle, as read; `micrograms` is the limit where it is below one."""

    row: int
    place: str
    address: str
    sampled_on: date
    liter: int
    metal: str
    written: str
    micrograms: Fraction
    below: bool
    number: str
    purpose: str


@dataclass
class Reading:
    """What a file says: results, what is wrong with which row, and columns nobody reads."""

    results: list[Result] = field(default_factory=list)
    faults: list[RowProblem] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    other_analytes: int = 0


def results_in(
    header: Sequence[str], rows: Iterable[tuple[int, Sequence]], *, unit: str, purpose: str,
    as_of: date,
) -> Reading:  # fmt: skip
    """Read a table of a laboratory.

    Parameters
    ----------
    rows : (row number, cells), as `intake.reading` gives them
    unit : "mg/L" or "ug/L", taken where the file names none; or empty
    purpose : what samples are that say nothing of it

    Raises
    ------
    LaboratoryRefused: a column is missing, stands twice, or there are no rows.
    """
    columns = _Columns(header, unit)
    found, number = Reading(left_out=columns.left_out), 0
    read_day = day(as_of, "MDY", EARLIEST_YEAR)
    for number, (row, cells) in enumerate(rows, 1):
        if number > MOST_ROWS:
            raise LaboratoryRefused(f"There are more than {MOST_ROWS:,} rows. Part the file.")
        _read_row(found, columns, row, cells, purpose, read_day)
    if not number:
        raise LaboratoryRefused("There is no row below the headings.")
    return found


def doubts(results: Sequence[Result]) -> list[str]:
    """Return what looks like a slip of the unit, as questions; a person may confirm it."""
    found = []
    lead = [result.micrograms for result in results if result.metal == "LEAD" and not result.below]
    if lead and max(lead) < Fraction(1, 2):
        found.append(
            f"The highest lead result is {float(max(lead)):g} µg/L. Are these milligrams per "
            "liter, a thousand times as much?"
        )
    if lead and max(lead) >= 1_000:
        found.append(
            f"The highest lead result is {float(max(lead)):,g} µg/L. Are these micrograms per "
            "liter, a thousandth of it?"
        )
    return found


class _Columns:
    """Which column holds what, and the unit that its heading names."""

    def __init__(self, header: Sequence[str], unit: str):
        self.at: dict[str, int] = {}
        self.units: dict[str, int | None] = {}
        self.headings = list(header)
        self.left_out: list[str] = []
        self.default = _UNITS.get(unit.casefold())
        for at, heading in enumerate(header):
            self._take(at, heading)
        self._check()

    def _take(self, at: int, heading: str) -> None:
        said = _UNIT_IN_HEADING.search(heading)
        bare = heading[: said.start()] if said else heading
        name = _FIELD_OF.get(" ".join(re.sub(r"[_.#:-]+", " ", bare).casefold().split()))
        if name is None:
            self.left_out.append(heading)
            return
        if name in self.at:
            raise LaboratoryRefused(
                f"{self.headings[self.at[name]]!r} and {heading!r} both look like "
                f"{_WORDS.get(name, name)}. Leave one of them out."
            )
        self.at[name] = at
        inside = (said[1] or said[2]).casefold() if said else ""
        self.units[name] = _UNITS.get(inside)

    def _check(self) -> None:
        if "place" not in self.at and "address" not in self.at:
            raise LaboratoryRefused(
                "No column says where a sample was taken. Head it “Location ID” or “Address”."
            )
        if "sampled_on" not in self.at:
            raise LaboratoryRefused(
                "No column says on which day a sample was taken. Head it “Date sampled”."
            )
        if {"metal", "result"} <= set(self.at) or {"lead", "copper"} & set(self.at):
            return
        raise LaboratoryRefused(
            "No column holds results. Head them “Lead (µg/L)” and “Copper (µg/L)”, or “Analyte”, "
            "“Result” and “Unit” with a row for each."
        )

    def cell(self, name: str, cells: Sequence):
        """Return a field's cell of a row, None where there is none."""
        at = self.at.get(name)
        return cells[at] if at is not None and at < len(cells) else None

    def heading(self, name: str) -> str:
        """Return what stands over a field."""
        return self.headings[self.at[name]] if name in self.at else ""


_WORDS = {
    "place": "the location", "address": "the address", "sampled_on": "the day of the sample",
    "number": "the laboratory's number", "liter": "the liter", "metal": "the analyte",
    "result": "the result", "unit": "the unit", "lead": "the lead result",
    "copper": "the copper result", "purpose": "the purpose",
}  # fmt: skip


class _Row:
    """One row while it is read, with what is wrong with it."""

    def __init__(self, columns: _Columns, number: int, cells: Sequence):
        self.columns, self.number, self.cells = columns, number, cells
        self.faults: list[RowProblem] = []

    def fault(self, name: str, why: str) -> None:
        """Say what is wrong with a cell; one reason is enough."""
        heading = self.columns.heading(name)
        if not any(one.column == heading for one in self.faults):
            value = self.columns.cell(name, self.cells)
            self.faults.append(RowProblem(self.number, heading, str(value or ""), why))

    def text(self, name: str) -> str:
        """Return a cell's text, empty where it can't be read."""
        read = text_of(self.columns.cell(name, self.cells))
        if isinstance(read, Bad):
            self.fault(name, read.why)
            return ""
        return read

    def sampled_on(self, read_day) -> date | None:
        """Return the day of the sample."""
        found = read_day(self.columns.cell("sampled_on", self.cells))
        if isinstance(found, date):
            return found
        self.fault("sampled_on", found.why if found else "The day is missing. Add it.")
        return None

    def liter(self) -> int:
        """Return which liter it is; the first where nothing says it."""
        said = self.text("liter")
        found = _LITERS.get(said.casefold(), 0)
        if not found:
            self.fault("liter", f"{said!r} is neither the first nor the fifth liter.")
        return found

    def purpose(self, otherwise: str) -> str:
        """Return what the sample is for."""
        said = self.text("purpose")
        found = _PURPOSES.get(said.casefold(), "" if said else otherwise)
        if not found:
            words = "compliance, follow-up or requested"
            self.fault("purpose", f"{said!r} is no purpose known here. Write {words}.")
        return found


def _read_row(found: Reading, columns: _Columns, number: int, cells: Sequence, purpose, read_day):
    row = _Row(columns, number, cells)
    place, address = row.text("place"), row.text("address")
    if not (place or address):
        row.fault("place" if "place" in columns.at else "address", "It does not say where. Add it.")
    sampled_on, liter, meant = row.sampled_on(read_day), row.liter(), row.purpose(purpose)
    said = row.text("number")
    read = list(_metals(found, row))
    if row.faults or sampled_on is None:
        found.faults += row.faults
        return
    for metal, written, micrograms, below in read:
        found.results.append(
            Result(number, place, address, sampled_on, liter, metal, written, micrograms, below,
                   said, meant)
        )  # fmt: skip


def _metals(found: Reading, row: _Row) -> Iterator[tuple]:
    """Yield (metal, as written, micrograms, whether below a limit) of a row."""
    stated = row.text("unit")
    if stated and stated.casefold() not in _UNITS:
        row.fault("unit", f"{stated!r} is no unit known here. Write mg/L, µg/L, ppm or ppb.")
        return
    if "metal" in row.columns.at:
        name = row.text("metal")
        metal = _METALS.get(re.split(r"[\s,(]", name.casefold() + " ")[0])
        if not name:
            row.fault("metal", "The analyte is missing. Write lead or copper.")
        elif metal is None:
            found.other_analytes += 1
        elif read := _result(row, "result", metal, stated):
            yield read
        return
    sides = [(name, name.upper()) for name in ("lead", "copper") if row.text(name)]
    if not sides:
        row.fault("lead" if "lead" in row.columns.at else "copper", "There is no result. Add it.")
    for name, metal in sides:
        if read := _result(row, name, metal, stated):
            yield read


def _result(row: _Row, name: str, metal: str, stated: str) -> tuple | None:
    written = row.text(name)
    if not written:
        row.fault(name, "The result is missing. Add it, or leave the row out.")
        return None
    if written.casefold() in _NOT_DETECTED:
        return metal, written, Fraction(0), True
    parts = _RESULT.fullmatch(written)
    if parts is None:
        row.fault(name, f"{written!r} is no result. Write a number, “<1” or “ND”.")
        return None
    own = (parts["unit"] or "").strip().casefold()
    if own and own not in _UNITS:
        row.fault(name, f"{parts['unit']!r} is no unit known here. Write mg/L, µg/L, ppm or ppb.")
        return None
    said = {_UNITS[word] for word in (own, stated.casefold()) if word in _UNITS}
    said |= {row.columns.units[name]} - {None}
    if len(said) > 1:
        row.fault(name, "Heading, unit column and result name different units. Leave one of them.")
        return None
    factor = said.pop() if said else row.columns.default
    if factor is None:
        row.fault(
            name, "No unit is named. Put it into the heading or a column, or choose it below."
        )
        return None
    micrograms = Fraction(parts["number"].replace(",", "")) * factor
    if micrograms > MOST_UG_PER_L[metal]:
        row.fault(
            name, f"{float(micrograms):,g} µg/L is more than any tap holds. Look at the unit."
        )
        return None
    return metal, written, micrograms, bool(parts["below"])
