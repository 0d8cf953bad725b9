"""Old and new pipe: dimensions from the published tables.

Lead pipe was sold by bore and weight per foot, so its outside diameter follows from the two;
the tables are a default until the pipe is measured in the pit.
Sources: `replacements/reference/`, one on every row.
"""

import math
from dataclasses import dataclass

from replacements.domain.reference_tables import cited, rows
from replacements.domain.units import inches

# lb/in3: lead 11.34 g/cm3 (Callister), copper and steel as in the B88 and A53 weights, PE 0.955.
DENSITY_LB_PER_IN3 = {
    "LEAD": 0.41,
    "COPPER": 0.323,
    "GALVANIZED": 0.2833,
    "PE": 0.0345,
    "PEX": 0.0339,
}
MATERIALS = tuple(DENSITY_LB_PER_IN3)
MEASURED = "MEASURED"
_TABLES = {
    "LEAD": "lead_pipe",
    "COPPER": "copper_tube",
    "PE": "pe_tube",
    "PEX": "pex_tube",
    "GALVANIZED": "galvanized_steel",
}
_SIZE_TOLERANCE_IN = 0.002


class PipeError(ValueError):
    """Something asked of a pipe cannot be answered; fit to show."""


class UnknownPipe(PipeError, LookupError):
    """No table holds this material, size or grade; the sentence lists what there is."""


class BadPipe(PipeError):
    """A measured pipe cannot be: its bore is not smaller than its outside."""


_WORDS = {"PE": "PE", "PEX": "PEX", "GALVANIZED": "galvanized steel"}
_GRADES = {"LEAD": "class {}", "COPPER": "type {}"}


def material_named(material: str) -> str:
    """Return a pipe's material in words: lead, copper, galvanized steel, PE, PEX."""
    return _WORDS.get(material, material.lower())


def pipe_named(material: str, nominal_in: float | None, grade: str = "") -> str:
    """Return a pipe as a crew names it.

    Examples
    --------
    >>> pipe_named("LEAD", 0.75, "AA"), pipe_named("COPPER", 1.0, "K"), pipe_named("LEAD", None)
    ('3/4 in. lead, class AA', '1 in. copper, type K', 'lead')
    >>> pipe_named("PE", 1.0, "CTS SDR 9"), pipe_named("GALVANIZED", 0.75, "SCH 40")
    ('1 in. PE, CTS SDR 9', '3/4 in. galvanized steel, schedule 40')
    """
    named = material_named(material)
    if nominal_in:
        named = f"{inches(nominal_in)} {named}"
    return f"{named}, {grade_named(material, grade)}" if grade else named


def grade_named(material: str, grade: str) -> str:
    """Return a pipe's class, type or series in words, such as class AA, type K, CTS SDR 9."""
    first, _, rest = grade.partition(" ")
    if first == "TABLE":
        return f"{rest.lower()} by the table"
    if first == "SCH":
        return f"schedule {rest}"
    return MEASURED.lower() if grade == MEASURED else _GRADES.get(material, "{}").format(grade)


@dataclass(frozen=True)
class Pipe:
    """One size of pipe.

    outside_in, inside_in, wall_in : in.; for PE and PEX the wall is the minimum wall
    area_in2 : metal or plastic area in section; for PE and PEX by the dimension ratio
    source, mark : where the row comes from and how surely it is known
    """

    outside_in: float
    inside_in: float
    wall_in: float
    area_in2: float
    source: str
    material: str
    nominal_in: float
    grade: str
    mark: str
    weight_lb_per_ft: float

    @property
    def label(self) -> str:
        """The pipe as a crew names it, such as 3/4 in. lead, class AA."""
        return pipe_named(self.material, self.nominal_in, self.grade)

    @property
    def cited(self) -> str:
        """The source with its mark."""
        return cited(self.source, self.mark)

    @property
    def fitting_type(self) -> str | None:
        """What a collar must match besides the size: CTS, IPS or COPPER; None if only measured."""
        if self.grade == MEASURED:
            return None
        return self.material if self.material == "COPPER" else self.grade.split()[0]


def ring_area_in2(outside_in: float, inside_in: float) -> float:
    """Return the area between two circles, in2."""
    return math.pi / 4 * (outside_in**2 - inside_in**2)


def dr_area_in2(outside_in: float, dimension_ratio: float) -> float:
    """Return the area of a pipe by its dimension ratio, in2 (ASTM F1804, PPI ch. 12)."""
    return math.pi * outside_in**2 * (1 / dimension_ratio - 1 / dimension_ratio**2)


def lead_outside_in(bore_in: float, lb_per_ft: float) -> float:
    """Return the outside diameter of lead pipe from its bore and weight, in.

    British weights are per yard: divide by 3 first.

    Raises
    ------
    BadPipe: the bore or the weight is not positive.

    Examples
    --------
    >>> round(lead_outside_in(0.75, 3.5), 3)
    1.212
    """
    if not (0 < bore_in < math.inf and 0 < lb_per_ft < math.inf):
        raise BadPipe(f"A bore of {bore_in} in. at {lb_per_ft} lb/ft cannot be a lead pipe.")
    return math.sqrt(bore_in**2 + 4 * lb_per_ft / (12 * math.pi * DENSITY_LB_PER_IN3["LEAD"]))


def weight_lb_per_ft(material: str, outside_in: float, inside_in: float) -> float:
    """Return the weight of a pipe from its diameters and the density of its material, lb/ft."""
    density = DENSITY_LB_PER_IN3[_known_material(material)]
    return 12 * density * ring_area_in2(outside_in, inside_in)


def water_volume_gal(inside_in: float, length_ft: float) -> float:
    """Return the water that a pipe holds, US gallons of 231 in3."""
    return math.pi / 4 * inside_in**2 * 12 * length_ft / 231


def pipe(material: str, nominal_in: float, grade: str) -> Pipe:
    """Return one pipe of the published tables.

    Parameters
    ----------
    material : LEAD, COPPER, PE, PEX or GALVANIZED
    nominal_in : in.; the bore for lead
    grade : LEAD: AAA AA A B, TABLE HEAVY, TABLE LIGHT; COPPER: K L; PE: CTS SDR 9,
        IPS DR 7 / 9 / 11; PEX: CTS SDR 9; GALVANIZED: SCH 40

    Raises
    ------
    UnknownPipe: the tables have no such material, grade or size, or the printed row
        contradicts itself; the sentence lists what there is.

    Examples
    --------
    >>> round(pipe("COPPER", 0.75, "K").area_in2, 4)
    0.1654
    """
    material, grade = _known_material(material), " ".join(grade.upper().split())
    of_grade = [row for row in rows(_TABLES[material]) if row["grade"] == grade]
    if not of_grade:
        grades = ", ".join(grades_of(material))
        raise UnknownPipe(f"{material} has no grade {grade!r}. There are: {grades}.")
    for row in of_grade:
        if abs(float(row[_size_column(row)]) - nominal_in) <= _SIZE_TOLERANCE_IN:
            return _from_row(material, row)
    sizes = ", ".join(inches(size) for size in sizes_of(material, grade))
    raise UnknownPipe(
        f"{material} {grade} has no size {inches(nominal_in)} There are: {sizes} "
        "Another size can be entered as measured."
    )


def grades_of(material: str) -> tuple[str, ...]:
    """Return the grades of a material in the order of its table."""
    return tuple(dict.fromkeys(row["grade"] for row in rows(_TABLES[_known_material(material)])))


def sizes_of(material: str, grade: str) -> tuple[float, ...]:
    """Return the nominal sizes of a grade, in., ascending, without rows that must not be used."""
    found = (row for row in rows(_TABLES[_known_material(material)]) if row["grade"] == grade)
    return tuple(
        sorted(float(row[_size_column(row)]) for row in found if row.get("usable") != "NO")
    )


def pipe_measured(material: str, inside_in: float, outside_in: float) -> Pipe:
    """Return a pipe as measured by caliper, the outside taken in two directions and averaged.

    Raises
    ------
    UnknownPipe: the material is none of the five.
    BadPipe: the bore is not positive, or not smaller than the outside.
    """
    material = _known_material(material)
    if not 0 < inside_in < outside_in < math.inf:
        raise BadPipe(
            f"A bore of {inside_in} in. inside an outside diameter of {outside_in} in. cannot "
            "be; measure both again. Were they swapped, or is one in millimeters?"
        )
    return Pipe(
        outside_in=outside_in,
        inside_in=inside_in,
        wall_in=(outside_in - inside_in) / 2,
        area_in2=ring_area_in2(outside_in, inside_in),
        source="measured at the pit",
        material=material,
        nominal_in=inside_in,
        grade=MEASURED,
        mark="seen",
        weight_lb_per_ft=weight_lb_per_ft(material, outside_in, inside_in),
    )


def _known_material(material: str) -> str:
    code = material.strip().upper()
    if code not in _TABLES:
        raise UnknownPipe(f"There is no table for {material!r}. There are: {', '.join(_TABLES)}.")
    return code


def _size_column(row: dict[str, str]) -> str:
    return "bore_in" if "bore_in" in row else "nominal_in"


def _from_row(material: str, row: dict[str, str]) -> Pipe:
    if row.get("usable") == "NO":
        raise UnknownPipe(
            f"{inches(float(row['bore_in']))} {material} {row['grade']} is not used: "
            f"{row['note']}. Measure the pipe."
        )
    outside, inside = _diameters(row)
    ratio = row.get("dimension_ratio")
    weight = row.get("weight_lb_per_ft")
    return Pipe(
        outside_in=outside,
        inside_in=inside,
        wall_in=(outside - inside) / 2,
        area_in2=dr_area_in2(outside, float(ratio)) if ratio else ring_area_in2(outside, inside),
        source=row["source"],
        material=material,
        nominal_in=float(row[_size_column(row)]),
        grade=row["grade"],
        mark=row["mark"],
        weight_lb_per_ft=float(weight) if weight else weight_lb_per_ft(material, outside, inside),
    )


def _diameters(row: dict[str, str]) -> tuple[float, float]:
    if "bore_in" in row:
        bore = float(row["bore_in"])
        printed = row["outside_in"]
        outside = (
            float(printed) if printed else lead_outside_in(bore, float(row["weight_lb_per_ft"]))
        )
        return outside, bore
    outside = float(row["outside_in"])
    wall = float(row.get("wall_in") or row["minimum_wall_in"])
    return outside, round(outside - 2 * wall, 6)
