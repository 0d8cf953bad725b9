"""Tools with their dimensions, inspections, and a string part by part."""

from django import forms

from ..domain.methods import Method
from ..domain.tool_strings import Kind, Need, Wear, parts_of
from ..models import Component
from ..operations.tools.catalog import LISTED, OTHER
from .fields import day, figure, tick, words

KINDS = [(kind.value, kind.label) for kind in Kind]
FIGURES = {
    "outside_in": "Outside diameter, in.",
    "pilot_in": "Pilot of the blade, in.",
    "length_in": "Length along the string, in.",
    "length_ft": "Length of the cable, or of all rods joined, ft",
    "pulling_end_in": "Pulling end of the cable, in.",
    "thin_end_in": "Threading end of the cable, in.",
    "breaking_force_lbf": "Breaking force by certificate, lb",
    "jaw_faces": "Faces of the jaw set",
    "cylinder_bore_in": "Bore of the puller's cylinder, in.",
    "cylinder_rod_in": "Rod of the puller's cylinder, in.",
    "cylinders": "Cylinders of the puller",
}
SIZES = {
    "fits_old_in": "Fits old pipe, in.",
    "fits_new_in": "Fits new pipe, in.",
    "fits_cable_in": "Fits cable, in.",
    "fits_rod_in": "Fits rods, in.",
}
TEXTS = {
    "construction": "Construction of the cable",
    "termination": "End fitting of the cable",
    "grip": "Grip of the pipe puller",
    "serial": "Serial number",
}
# What tables list is chosen, not typed; another part than they know needs its paper.
_ANOTHER = (OTHER, "another, which the tables do not list: needs its paper")
ROWS = 15
WEAR_PARTS = (("O_RINGS", "O-rings"), ("TIP", "Tip of the cable"), ("EDGE", "Cutting edge"))


def measures_of(component: Component) -> list[tuple[str, str]]:
    """Return a tool's dimensions as (name with unit, value), in the order of the form."""
    labels = {**FIGURES, **SIZES, "fits_new_types": "Fits new pipe of type", **TEXTS}
    found = []
    for name, label in labels.items():
        value = component.dimensions.get(name)
        if value not in (None, "", []):
            several = isinstance(value, list)
            found.append((label, ", ".join(map(str, value)) if several else value))
    return found


class ComponentForm(forms.Form):
    """A tool: kind, the contractor's own mark, and the dimensions that its kind has."""

    kind = forms.ChoiceField(label="Kind", choices=KINDS)
    mark = forms.CharField(label="Your mark on it", max_length=60)
    description = forms.CharField(label="Description", max_length=200, required=False)
    rated_lbf = figure("Rated load, lb", help_text="From tag or certificate.")
    in_service_since = day("In service since", required=False)

    def __init__(self, *args, correcting: bool = False, sets=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.correcting = correcting
        if correcting:
            del self.fields["kind"], self.fields["mark"]
        for name, label in FIGURES.items():
            self.fields[name] = figure(label)
        for name, label in SIZES.items():
            hint = "Several with commas, such as: 0.75, 1"
            self.fields[name] = forms.CharField(label=label, required=False, help_text=hint)
        self.fields["fits_new_types"] = forms.MultipleChoiceField(
            label="Fits new pipe of type", required=False, widget=forms.CheckboxSelectMultiple(),
            choices=[(code, code) for code in LISTED["fits_new_types"]()],
        )  # fmt: skip
        for name, label in TEXTS.items():
            self.fields[name] = _chosen(name, label)
        self.sets = {str(each.pk): each for each in sets}
        self.fields["tool_set"] = forms.ChoiceField(
            label="Tool set", required=False,
            choices=[("", "none"), *((pk, each.name) for pk, each in self.sets.items())],
            help_text="Its maker's instructions set tail, gap and sizes.",
        )  # fmt: skip
        if correcting:
            self.fields["reason"] = forms.CharField(label="Why it is corrected", max_length=200)

    @classmethod
    def of(cls, component: Component) -> "ComponentForm":
        """Return the form as the catalog stands."""
        initial = {
            name: ", ".join(map(str, value)) if name in SIZES and isinstance(value, list) else value
            for name, value in component.dimensions.items()
        }
        initial["tool_set"] = component.tool_set_id or ""
        for name in ("description", "rated_lbf", "in_service_since"):
            initial[name] = getattr(component, name)
        return cls(initial=initial, correcting=True, sets=component.contractor.tool_sets.all())

    def clean(self):
        """Read the lists of sizes."""
        values = super().clean()
        for name, label in SIZES.items():
            try:
                parts = (values.get(name) or "").replace(";", ",").split(",")
                values[name] = [float(part) for part in parts if part.strip()]
            except ValueError:
                self.add_error(name, f"{label}: write numbers with commas, such as: 0.75, 1")
        return values

    def values(self) -> dict:
        """Return what the operation takes."""
        given = self.cleaned_data
        names = (*FIGURES, *SIZES, *TEXTS, "fits_new_types")
        dimensions = {name: given[name] for name in names if given.get(name)}
        plain = ("description", "rated_lbf", "in_service_since")
        plain += ("reason",) if self.correcting else ("kind", "mark")
        told = {name: given[name] for name in plain}
        return {**told, "dimensions": dimensions, "tool_set": self.sets.get(given["tool_set"])}


def _chosen(name: str, label: str) -> forms.Field:
    """Return a list to choose from where the tables have one, else a field for text."""
    if name not in LISTED:
        return forms.CharField(label=label, max_length=40, required=False)
    codes = [(code, code.replace("_", " ").capitalize() if name != "construction" else code)
             for code in LISTED[name]()]  # fmt: skip
    choices = [("", "not a part of it"), *codes, _ANOTHER]
    return forms.ChoiceField(label=label, choices=choices, required=False)


COUNTS = {
    "broken_wires_in_lay": "Broken wires in one lay",
    "broken_wires_in_strand": "Broken wires in one strand in one lay",
    "broken_wires_at_end": "Broken wires at an end fitting",
    "broken_wires_in_8_diameters": "Broken wires in 8 diameters",
}
SEEN = {
    "kinked": "Kinked",
    "crushed": "Crushed",
    "unstranded": "Unstranded",
    "birdcaged": "Birdcaged",
    "core_protrudes": "Core protrudes",
    "severely_corroded": "Severely corroded",
    "heat_or_arc_damage": "Damaged by heat or arc",
    "spliced": "Severed ends rejoined",
}


class InspectionForm(forms.Form):
    """What an inspection found; of a cable also what its wires and its lay showed."""

    inspected_on = day("Inspected on")
    inspected_by = forms.CharField(label="By whom", max_length=120)
    by_competent_person = tick(
        "A competent person for rope and rigging inspected it",
        "Able to see what is hazardous, and authorized to put it right (29 CFR 1926.32(f)). "
        "Needed after a pull over the limit.",
    )
    looked_at = words("What was looked at", rows=2)
    passed = tick("Passed: fit for use")
    next_due_on = day("Next due on", required=False)
    note = words("What was found", rows=2)

    def __init__(self, *args, kind: str = "", **kwargs):
        super().__init__(*args, **kwargs)
        self.of_cable = kind == Kind.CABLE
        if self.of_cable:
            self._add_rope()
        states = [("", "not a part of it"), *((w.value, w.value.lower()) for w in Wear)]
        for key, label in WEAR_PARTS:
            self.fields[f"wear_{key}"] = forms.ChoiceField(
                label=label, choices=states, required=False
            )

    def _add_rope(self) -> None:
        """Ask for what retires a wire rope, over its worst length."""
        for name, label in COUNTS.items():
            self.fields[name] = forms.IntegerField(
                label=label, required=False, min_value=0, max_value=500
            )
        self.fields["diameter_in"] = figure("Diameter where it is thinnest, in.")
        self.fields["outer_wire_wear_percent"] = figure(
            "Outer wires worn by, % of their diameter", max_value=100
        )
        for name, label in SEEN.items():
            self.fields[name] = tick(label)

    def rope(self) -> dict:
        """Return what was seen of the cable, as the operation takes it."""
        if not self.of_cable:
            return {}
        given = self.cleaned_data
        worn = given["outer_wire_wear_percent"]
        return {
            **{name: given[name] for name in COUNTS if given[name] is not None},
            **{name: True for name in SEEN if given[name]},
            **({"diameter_in": given["diameter_in"]} if given["diameter_in"] else {}),
            **({"outer_wire_wear": worn / 100} if worn is not None else {}),
        }

    def values(self) -> dict:
        """Return what the operation takes."""
        given = self.cleaned_data
        wear = {key: given[f"wear_{key}"] for key, _ in WEAR_PARTS if given[f"wear_{key}"]}
        findings = {"wear": wear} if wear else {}
        if given["note"]:
            findings["note"] = given["note"]
        if self.rope():
            findings["rope"] = self.rope()
        names = ("inspected_on", "inspected_by", "passed", "next_due_on", "looked_at",
                 "by_competent_person")  # fmt: skip
        return {**{name: given[name] for name in names}, "findings": findings}


def rope_told(seen: dict) -> list[str]:
    """Return what an inspection saw of a cable, in words."""
    counted = [f"{COUNTS[name].lower()}: {seen[name]}" for name in COUNTS if name in seen]
    found = [label.lower() for name, label in SEEN.items() if seen.get(name)]
    if seen.get("diameter_in"):
        counted.append(f"diameter {seen['diameter_in']:g} in.")
    if seen.get("outer_wire_wear") is not None:
        counted.append(f"outer wires worn by {seen['outer_wire_wear']:.0%}")
    return counted + found


class RetireForm(forms.Form):
    """Why a tool is taken out of use."""

    reason = forms.CharField(label="Why it is retired", max_length=160)


class StringForm(forms.Form):
    """A string part by part from the pulling side, and how it lies, as somebody has seen it.

    Nothing is filled in for a fact that is to be looked at: what is not said stays open.
    """

    pulled_end = forms.ChoiceField(
        label="End of the cable in the puller",
        choices=[
            ("", "see which end is in the puller"),
            ("THICK", "thick pulling end"),
            ("THIN", "thin threading end"),
        ],
        help_text="As it lies in the puller now. The thin end only threads; never pull on it.",
    )
    blade_facing = forms.ChoiceField(
        label="End of the blade toward the old pipe",
        choices=[
            ("", "see which way the blade faces"),
            ("FLAT_TO_OLD_PIPE", "sharp flat end"),
            ("TAPER_TO_OLD_PIPE", "taper"),
        ],
        required=False,
        help_text="The sharp flat end faces the old pipe, the taper trails. Not said is a stop.",
    )

    def __init__(self, *args, components, chosen=(), method=Method.SPLIT, **kwargs):
        super().__init__(*args, **kwargs)
        taken = {need.kind for need in parts_of()[method] if need.need is not Need.WRONG}
        for kind, name in ((Kind.CABLE, "pulled_end"), (Kind.BLADE, "blade_facing")):
            if kind not in taken:
                del self.fields[name]
        self.components = {component.pk: component for component in components}
        tools = [("", "—"), *((pk, str(tool)) for pk, tool in self.components.items())]
        for row in range(1, ROWS + 1):
            tool = chosen[row - 1] if row <= len(chosen) else None
            self.fields[f"part_{row}"] = forms.TypedChoiceField(
                label=f"Part {row}", choices=tools, coerce=int, required=False,
                empty_value=None, initial=tool.pk if tool else "",
            )  # fmt: skip

    @property
    def rows(self):
        """Places with their fields."""
        return [(n, self[f"part_{n}"]) for n in range(1, ROWS + 1)]

    @property
    def seen(self):
        """What somebody has to look at: which end is pulled, which way the blade faces."""
        return [self[name] for name in ("pulled_end", "blade_facing") if name in self.fields]

    def parts(self) -> list[tuple[Component, str]]:
        """Return the parts in order; a row left empty is passed over."""
        chosen = [self.cleaned_data[f"part_{row}"] for row in range(1, ROWS + 1)]
        facing = self.cleaned_data.get("blade_facing", "")
        return [
            (self.components[pk], facing if self.components[pk].kind == Kind.BLADE else "")
            for pk in chosen
            if pk
        ]


class ChecklistForm(forms.Form):
    """The assembly checklist: seen or measured, row by row; a row left alone stays open."""

    def __init__(self, *args, checks, **kwargs):
        super().__init__(*args, **kwargs)
        self.checks = checks
        for check in checks:
            if check.answer == "YES":
                field = forms.ChoiceField(
                    choices=[("", "not looked at"), ("yes", "yes"), ("no", "no")], required=False
                )
            else:
                field = figure("")
            field.label, field.help_text = check.label, _asked(check)
            self.fields[check.check] = field

    def answers(self) -> list[dict]:
        """Return the rows that were answered."""
        found = []
        for check in self.checks:
            value = self.cleaned_data.get(check.check)
            if value in (None, ""):
                continue
            if check.answer == "YES":
                found.append({"check_key": check.check, "passed": value == "yes"})
            else:
                found.append({"check_key": check.check, "measured": value})
        return found


def _asked(check) -> str:
    unit = {"in": " Measured in inches.", "ft-lb": " In ft-lb."}.get(check.unit, "")
    criterion = check.criterion[:1].upper() + check.criterion[1:].rstrip(".")
    whence = f" By: {check.cited}." if check.of_set else ""
    return f"{criterion}.{unit} Why it matters: {check.why}.{whence}"
