"""The order's own particulars: pipes, run, ground."""

import re

from django import forms

from services_inventory.forms.days import day_field

from ..domain.ground import GroundCondition, Surface
from ..domain.methods import Method
from ..domain.pipes import NEW_PIPE_MATERIALS, grade_named, grades_of, pipe_named, sizes_of
from ..domain.pull_force import JointKind, soils
from ..models import Contractor, WorkOrder
from .fields import feet, figure, several, size, words

OLD = [("LEAD", "lead"), ("GALVANIZED", "galvanized steel"), ("COPPER", "copper")]
_ROW = re.compile(r"^\s*([\d.]+)\s*[,;/ ]\s*(\S.*?)\s*$")


def new_pipes() -> list[tuple[str, str]]:
    """Return every pipe of the tables that may be laid, as (code, words)."""
    return [
        (f"{material}|{nominal}|{grade}", pipe_named(material, nominal, grade))
        for material in NEW_PIPE_MATERIALS
        for grade in grades_of(material)
        for nominal in sizes_of(material, grade)
    ]


def lead_grades() -> list[tuple[str, str]]:
    """Return the weight classes of lead pipe."""
    return [("", "not known"), *((code, grade_named("LEAD", code)) for code in grades_of("LEAD"))]


_ANEW = ("due_on", "other_lines_looked_for_on", "frozen_to_ft")


PARTS = (
    ("Who, how and by when", ("contractor", "method", "due_on", "note")),
    ("Old and new pipe", ("old_material", "old_nominal_in", "old_grade", "old_outside_in",
                          "new_pipe", "length_ft", "cover_ft", "bends", "joints",
                          "snaking_deg_per_10_ft")),
    ("Ground and cover", ("soil", "groundwater", "required_cover_ft", "frozen_to_ft",
                          "other_lines_looked_for_on")),
    ("Over the run and at the place", ("surfaces", "ground_conditions")),
)  # fmt: skip


class OrderForm(forms.Form):
    """What is to be replaced, by whom, under what ground."""

    contractor = forms.ModelChoiceField(
        label="Contractor", queryset=Contractor.objects.filter(active=True).order_by("name")
    )
    method = forms.ChoiceField(label="Method", choices=[(m.value, m.label) for m in Method])
    old_material = forms.ChoiceField(label="Old pipe", choices=OLD)
    old_nominal_in = size("Old bore, in.", help_text="Measured or from the card; blank: unknown.")
    old_grade = forms.ChoiceField(label="Weight class of lead", choices=lead_grades, required=False)
    old_outside_in = size("Old outside diameter, in.", help_text="If measured in the pit.")
    new_pipe = forms.ChoiceField(label="New pipe", choices=new_pipes, initial="PE|1.0|CTS SDR 9")
    length_ft = feet("Length between the pits, ft")
    cover_ft = feet("Cover over the pipe, ft")
    soil = forms.ChoiceField(
        label="Soil of the backfill",
        required=False,
        choices=lambda: [("", "not known"), *((s.code, s.name) for s in soils().values())],
    )
    groundwater = forms.NullBooleanField(
        label="Groundwater above the pipe",
        required=False,
        widget=forms.Select(choices=[("", "not known"), ("True", "yes"), ("False", "no")]),
    )
    required_cover_ft = feet("Least cover by the local code, ft")
    frozen_to_ft = feet("Ground frozen to, ft")
    other_lines_looked_for_on = day_field(
        "Other lines looked for on",
        required=False,
        help_text="The day marks and maps were looked at and owners of private lines asked.",
    )
    snaking_deg_per_10_ft = figure(
        "Wavy line: degrees in every 10 ft",
        help_text="About 10 to 20 [judgment]; blank: straight.",
    )
    surfaces = several("Over the run", Surface)
    ground_conditions = several("Known of the place", GroundCondition)
    due_on = day_field("Due by", required=False)
    bends = words(
        "Bends",
        help_text="One a line: distance in ft from the entry pit, degrees, radius in inches where "
        "it was measured. Such as: 12, 45, 36",
    )
    joints = words(
        "Joints left in the run",
        help_text="One a line: distance in ft, kind ("
        + ", ".join(kind.label for kind in JointKind)
        + "). Such as: 20, wiped",
    )
    note = words("Note for the crew")

    def __init__(self, *args, changing: bool = False, **kwargs):
        super().__init__(*args, **kwargs)
        if changing:
            del self.fields["contractor"]

    @property
    def parts(self) -> list[tuple[str, list]]:
        """The fields by what they are about, in the order in which an order is thought through."""
        return [(part, [self[n] for n in names if n in self.fields]) for part, names in PARTS]

    @classmethod
    def of(cls, order: WorkOrder) -> "OrderForm":
        """Return the form as an order stands."""
        return cls(initial=cls.stands(order), changing=True)

    @classmethod
    def stands(cls, order: WorkOrder) -> dict:
        """Return what an order says, as the fields take it."""
        names = [n for n in cls.base_fields if hasattr(order, n) and n not in ("bends", "joints")]
        initial = {name: getattr(order, name) for name in names}
        initial["new_pipe"] = f"{order.new_material}|{order.new_nominal_in}|{order.new_grade}"
        initial["bends"] = "\n".join(
            ", ".join(f"{b[name]:g}" for name in BEND if b.get(name) is not None)
            for b in order.bends
        )
        initial["joints"] = "\n".join(
            f"{j['station_ft']:g}, {JointKind(j['kind']).label}" for j in order.joints
        )
        return initial

    @classmethod
    def again(cls, order: WorkOrder, line_says: dict) -> "OrderForm":
        """Return the form for planning an order again.

        What the line says by now counts for the old pipe, and what must be looked at anew is empty.
        """
        initial = {name: value for name, value in cls.stands(order).items() if name not in _ANEW}
        old = {n: v for n, v in line_says.items() if n.startswith("old_") and v is not None}
        return cls(initial=initial | old)

    def clean_bends(self) -> list[dict]:
        """Read the bends line by line."""
        rows = _rows(self.cleaned_data["bends"], "bend", "12, 45 or 12, 45, 36")
        return [_bend(row, at, text) for row, at, text in rows]

    def clean_joints(self) -> list[dict]:
        """Read the joints line by line."""
        found = []
        for row, at, text in _rows(self.cleaned_data["joints"], "joint", "20, wiped"):
            kind = text.upper().replace(" ", "_")
            if kind not in set(JointKind):
                known = ", ".join(kind.label for kind in JointKind)
                raise forms.ValidationError(f"Line {row}: {text!r} is no joint. Write {known}.")
            found.append({"station_ft": at, "kind": kind})
        return found

    def particulars(self, clear: bool = False) -> dict:
        """Return what the operations take; `clear` keeps blanks, which empties a value."""
        values = dict(self.cleaned_data)
        material, size, grade = values.pop("new_pipe").split("|")
        values |= {"new_material": material, "new_nominal_in": float(size), "new_grade": grade}
        return values if clear else {k: v for k, v in values.items() if v not in (None, "")}


def _rows(text: str, what: str, such_as: str):
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        found = _ROW.match(line)
        if not found:
            raise forms.ValidationError(f"Line {number}: write the {what} such as: {such_as}")
        yield number, _number(found[1], number, "distance"), found[2]


BEND = ("station_ft", "degrees", "radius_in")
_NOT_KNOWN = {"?", "-", "unknown", "not known"}


def _bend(row: int, station_ft: float, text: str) -> dict:
    """Read degrees and, where it was measured, the radius in inches (or in ft, if it says so)."""
    degrees, *more = re.split(r"\s*[,;]\s*|\s+", text, maxsplit=1)
    turned = _number(degrees.rstrip("°"), row, "degrees")
    bend = {"station_ft": station_ft, "degrees": turned}
    rest = "".join(more).lower().removeprefix("radius").strip(" ,.")
    if rest and rest not in _NOT_KNOWN:
        figure_, unit = re.fullmatch(r"([\d.]*)\s*(.*)", rest).groups()
        if unit not in _RADIUS_UNITS:
            raise forms.ValidationError(
                f"Line {row}: {rest!r} is no radius. Write inches, such as 36, or leave it out."
            )
        bend["radius_in"] = _number(figure_, row, "radius") * _RADIUS_UNITS[unit]
        if not bend["radius_in"] > 0:
            raise forms.ValidationError(f"Line {row}: a radius must be above zero.")
    return bend


_RADIUS_UNITS = {"": 1, "in": 1, '"': 1, "inches": 1, "ft": 12, "feet": 12, "'": 12}


def _number(text: str, row: int, what: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise forms.ValidationError(f"Line {row}: {text!r} is no {what}.") from None


class CallOffForm(forms.Form):
    """Why an order ends without the work."""

    reason = words("Why the order is called off", required=True, rows=2)
