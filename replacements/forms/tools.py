"""Tools with their dimensions, inspections, and a string part by part."""

import re

from django import forms
from django.forms.utils import flatatt
from django.utils.html import escape, format_html, format_html_join
from django.utils.safestring import mark_safe

from services_inventory.forms.days import day_field

from ..domain.lengths import LengthError, lengths, written
from ..domain.methods import Method
from ..domain.tool_codes import CodeError, number_of
from ..domain.tool_strings import MEASURES, Kind, Need, Wear, parts_of
from ..domain.units import inches
from ..models import Component
from ..operations.tools.catalog import LISTED, OTHER
from ..operations.tools.life import WEAR_PARTS
from .fields import figure, measure, size, tick, words

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
WEARS = {Kind.JAW_SET: ("O_RINGS",), Kind.CABLE: ("TIP",), Kind.BLADE: ("EDGE",)}


def measures_of(component: Component) -> list[tuple[str, str]]:
    """Return a tool's dimensions as (name, value in words), in the order of the form."""
    labels = {**FIGURES, **SIZES, "fits_new_types": "Fits new pipe of type", **TEXTS}
    found = []
    for name, label in labels.items():
        value = component.dimensions.get(name)
        if value not in (None, "", []):
            several = value if isinstance(value, list) else [value]
            words = ", ".join(_in_words(name, each) for each in several)
            found.append((label.rpartition(", ")[0] or label, words))
    return found


def _in_words(name: str, value) -> str:
    if name in LISTED:
        return {**LISTED[name](), OTHER: "another than the tables list"}.get(value, str(value))
    if name.endswith("_in"):
        return inches(value)
    unit = {"ft": " ft", "lbf": " lb"}.get(name.rpartition("_")[2], "")
    return f"{value:,.10g}{unit}" if isinstance(value, int | float) else str(value)


class SizesField(forms.CharField):
    """Several sizes, each as people write it, with commas between."""

    def to_python(self, value) -> list[float]:
        """Return the sizes in inches."""
        try:
            return lengths(super().to_python(value))
        except LengthError as error:
            raise forms.ValidationError(str(error), code="invalid") from error

    def prepare_value(self, value):
        """Return stored sizes as they are written; what was typed stays as it is."""
        several = isinstance(value, list | tuple)
        return ", ".join(written(each) for each in value) if several else value


class ComponentForm(forms.Form):
    """A tool: kind, the contractor's own mark, and the dimensions that its kind has.

    Every field stands in the page, those of other kinds switched off, so that a change of kind
    swaps them and keeps what was typed.
    """

    kind = forms.ChoiceField(label="Kind", choices=KINDS)
    mark = forms.CharField(label="Your mark on it", max_length=60)
    description = forms.CharField(label="Description", max_length=200, required=False)
    rated_lbf = figure("Rated load, lb", help_text="From tag or certificate.")
    in_service_since = day_field("In service since", required=False)

    def __init__(self, *args, tool: Component | None = None, sets=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.correcting = tool is not None
        self.of_kind = tool.kind if tool else self.data.get("kind") or self.initial.get("kind")
        self.stored = set(tool.dimensions) if tool else set()
        if tool is not None:
            del self.fields["kind"], self.fields["mark"]
        for name, label in FIGURES.items():
            self.fields[name] = measure(label)
        for name, label in SIZES.items():
            hint = "Several with commas, such as: 3/4, 1"
            self.fields[name] = SizesField(label=label, required=False, help_text=hint)
        self.fields["fits_new_types"] = forms.MultipleChoiceField(
            label="Fits new pipe of type", required=False, widget=forms.CheckboxSelectMultiple(),
            choices=list(LISTED["fits_new_types"]().items()),
        )  # fmt: skip
        for name, label in TEXTS.items():
            self.fields[name] = _chosen(name, label)
        self.sets = {str(each.pk): each for each in sets}
        self.fields["tool_set"] = forms.ChoiceField(
            label="Tool set", required=False,
            choices=[("", "none"), *((pk, each.name) for pk, each in self.sets.items())],
            help_text="Its maker's instructions set tail, gap and sizes.",
        )  # fmt: skip
        if tool is not None:
            self.fields["reason"] = forms.CharField(label="Why it is corrected", max_length=200)

    @classmethod
    def of(cls, component: Component) -> "ComponentForm":
        """Return the form as the catalog stands."""
        initial = dict(component.dimensions)
        initial["tool_set"] = component.tool_set_id or ""
        for name in ("description", "rated_lbf", "in_service_since"):
            initial[name] = getattr(component, name)
        return cls(initial=initial, tool=component, sets=component.contractor.tool_sets.all())

    @property
    def parts(self) -> list[tuple]:
        """Each field with the kinds that have it (none: every kind), and whether it is asked."""
        kinds = {name: " ".join(k for k, has in MEASURES.items() if name in has) for name in _OF_A}
        return [
            (self[name], kinds.get(name, ""), name not in kinds or name in self._asked())
            for name in self.fields
        ]

    def _asked(self) -> set[str]:
        """Return the measures of the kind, and what is stored or was sent beside them."""
        kind = self.of_kind if self.of_kind in set(Kind) else KINDS[0][0]
        return {*MEASURES[Kind(kind)], *self.stored, *(n for n in _OF_A if self.data.get(n))}

    def clean(self):
        """Refuse a measure that a tool of this kind does not have."""
        values = super().clean()
        if values.get("kind"):
            kind = Kind(values["kind"])
            for name in _OF_A:
                if values.get(name) and name not in MEASURES[kind]:
                    named = kind.label.lower()
                    self.add_error(name, f"A {named} has none: blank it, or change the kind.")
        return values

    def values(self) -> dict:
        """Return what the operation takes."""
        given = self.cleaned_data
        dimensions = {name: given[name] for name in (*_OF_A, "serial") if given.get(name)}
        plain = ("description", "rated_lbf", "in_service_since")
        plain += ("reason",) if self.correcting else ("kind", "mark")
        told = {name: given[name] for name in plain}
        return {**told, "dimensions": dimensions, "tool_set": self.sets.get(given["tool_set"])}


# What only some kinds of tool have.
_OF_A = (*FIGURES, *SIZES, "fits_new_types", "construction", "termination", "grip")


def _chosen(name: str, label: str) -> forms.Field:
    """Return a list to choose from where the tables have one, else a field for text."""
    if name not in LISTED:
        return forms.CharField(label=label, max_length=40, required=False)
    choices = [("", "not known"), *LISTED[name]().items(), _ANOTHER]
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

    inspected_on = day_field("Inspected on")
    inspected_by = forms.CharField(label="By whom", max_length=120)
    by_competent_person = tick(
        "A competent person for rope and rigging inspected it",
        "Able to see what is hazardous, and authorized to put it right (29 CFR 1926.32(f)). "
        "Needed after a pull over the limit.",
    )
    looked_at = words("What was looked at", rows=2)
    passed = tick("Passed: fit for use")
    next_due_on = day_field("Next due on", required=False)
    note = words("What was found", rows=2)

    def __init__(self, *args, kind: str = "", **kwargs):
        super().__init__(*args, **kwargs)
        self.of_cable = kind == Kind.CABLE
        if self.of_cable:
            self._add_rope()
        states = [("", "not a part of it"), *((w.value, w.value.lower()) for w in Wear)]
        self.wears = WEARS.get(kind, ())
        for key in self.wears:
            self.fields[f"wear_{key}"] = forms.ChoiceField(
                label=WEAR_PARTS[key], choices=states, required=False
            )

    def _add_rope(self) -> None:
        """Ask for what retires a wire rope, over its worst length."""
        for name, label in COUNTS.items():
            self.fields[name] = forms.IntegerField(
                label=label, required=False, min_value=0, max_value=500
            )
        self.fields["diameter_in"] = size("Diameter where it is thinnest, in.")
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
        wear = {key: given[f"wear_{key}"] for key in self.wears if given[f"wear_{key}"]}
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
    """Why a tool is taken out of use, or put back."""

    reason = forms.CharField(label="Why", max_length=160)


_CHOSEN = mark_safe(" selected")


class LongSelect(forms.Select):
    """A choice of many, written without a template for each option."""

    def render(self, name, value, attrs=None, renderer=None):
        """Return the select with its options as HTML."""
        chosen = str(value or "")
        told = ((key, _CHOSEN if str(key) == chosen else "", label) for key, label in self.choices)
        options = format_html_join("", '<option value="{}"{}>{}</option>', told)
        given = flatatt(self.build_attrs(self.attrs, {"name": name, **(attrs or {})}))
        return format_html("<select{}>{}</select>", given, options)


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
        self.fields["codes"] = forms.CharField(
            label="Codes of the tools, in order", required=False, max_length=300,
            help_text="Scan or type each label's code, with spaces; a tool takes its kind's row.",
        )  # fmt: skip
        tools = [("", "—"), *((pk, escape(tool)) for pk, tool in self.components.items())]
        for row in range(1, ROWS + 1):
            tool = chosen[row - 1] if row <= len(chosen) else None
            self.fields[f"part_{row}"] = forms.TypedChoiceField(
                label=f"Part {row}", choices=tools, coerce=int, required=False,
                empty_value=None, initial=tool.pk if tool else "", widget=LongSelect,
            )  # fmt: skip

    @property
    def known_codes(self) -> dict[str, list]:
        """The number and kind of each tool that may be chosen, by its code, for the script."""
        known = self.components.values()
        return {tool.code.replace("-", ""): [str(tool.pk), tool.kind] for tool in known}

    def clean(self):
        """Put each tool that was told by its code where one of its kind stands, or behind."""
        values, free = super().clean(), [f"part_{n}" for n in range(1, ROWS + 1)]
        try:
            told = [self._tool(code) for code in re.split(r"[\s,;]+", values["codes"]) if code]
        except (CodeError, KeyError) as error:
            self.add_error("codes", str(error))
            return values
        for number in dict.fromkeys(told):
            kind = self.components[number].kind
            place = self._place(values, free, kind)
            if place is None:
                self.add_error("codes", f"There are {ROWS} rows, and none is left for {kind}.")
                return values
            free.remove(place)
            values[place] = number
        return values

    def _place(self, values: dict, free: list[str], kind: str) -> str | None:
        taken = {name: self.components[values[name]].kind for name in free if values.get(name)}
        same = [name for name, other in taken.items() if other == kind]
        return next(iter([*same, *(name for name in free if name not in taken)]), None)

    def _tool(self, code: str) -> int:
        number = number_of(code)
        if number not in self.components:
            raise CodeError(f"{code} is no tool of yours that may be used here; see its page.")
        return number

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
                field = size("") if check.unit == "in" else figure("")
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
