"""The completion record as a crew fills it in, and the utility's answer."""

from collections.abc import Iterable, Sequence
from datetime import date

from django import forms

from services_inventory.domain.days import day_told
from services_inventory.forms.days import day_field

from ..completion.photos import KINDS
from ..domain.completion import disinfection_choices
from ..domain.methods import Method, is_pulled
from ..models import CompletionRecord, PullRecord, WorkOrder
from ..queries.pull_review import VERDICTS
from .fields import (
    CONNECTORS,
    MATERIALS,
    NEW_MATERIALS,
    SaidChoice,
    code_said,
    feet,
    figure,
    size,
    tick,
    words,
)

PHOTO_KINDS = {k: label.capitalize() for k, label in KINDS.items() if k != "OTHER"}
OUTCOME = "Outcome and note"
GROUPS = {
    "What was found": "system_found customer_found connector_found points_system points_customer "
    "size_system_in size_customer_in",
    "What was replaced": "system_replaced customer_replaced connector_replaced "
    "system_material_after customer_material_after connector_after length_ft method_used pull",
    "Test and depth": "static_psi test_psi test_minutes test_drop_psi test_settled_minutes "
    "test_leak tracer_free tracer_signal tracer_ohm depth_main_ft depth_house_ft "
    "leading_outside_in cut_off_ft",
    "Disinfection and flushing": "disinfection dose_mg_l hours residual_mg_l crew_minutes "
    "crew_velocity house_minutes aerators_off bottom_floor_up cold_only",
    "Lead and ground": "lead_out_ft lead_weight_lb lead_left_ft bonding_checked restored_on",
    "Household": "notice_on flushing_on filter_on cartridge_months sample_offered_on returned_on",
}


METHODS = [(method.value, method.label) for method in Method]
OF_A_PULL = ("leading_outside_in", "cut_off_ft")  # what is laid has no gripped end


def _methods():
    return [("", "none on record"), *disinfection_choices()]


class PullChoice(forms.ModelChoiceField):
    """A pull of the order, told by its day, its file, its peak and what the log says."""

    def label_from_instance(self, pull: PullRecord) -> str:
        """Return the pull in words."""
        file = f", {pull.log.name}" if pull.log else ""
        peak = f", {pull.peak_lbf:,.0f} lb at most" if pull.peak_lbf else ""
        verdict = VERDICTS.get(pull.verdict, "not judged")
        return f"{day_told(pull.pulled_on)}{file}{peak}: {verdict}"


class CompletionForm(forms.Form):
    """What was done, found, tested and handed over."""

    outcome = SaidChoice(label="Outcome", choices=CompletionRecord.Outcome.choices)
    finished_on = day_field("Finished on", help_text="Day the last lead went out of service.")
    note = words("Note", rows=3, help_text="Needed for no access and for a stopped pull.")

    system_found = SaidChoice(label="System side found", choices=MATERIALS, required=False)
    customer_found = SaidChoice(label="Customer side found", choices=MATERIALS, required=False)
    connector_found = SaidChoice(label="Connector found", choices=CONNECTORS, required=False)
    points_system = forms.IntegerField(label="Points seen, system side", min_value=0,
                                       max_value=9, required=False)  # fmt: skip
    points_customer = forms.IntegerField(label="Points seen, customer side", min_value=0,
                                         max_value=9, required=False)  # fmt: skip

    size_system_in = size("Size found, system side, in.", min_value=0.1, max_value=12)
    size_customer_in = size("Size found, customer side, in.", min_value=0.1, max_value=12)

    system_replaced = tick("System side replaced")
    system_material_after = SaidChoice(
        label="System side now", choices=[("", "as ordered"), *NEW_MATERIALS], required=False
    )
    customer_replaced = tick("Customer side replaced")
    customer_material_after = SaidChoice(
        label="Customer side now", choices=[("", "as ordered"), *NEW_MATERIALS], required=False
    )
    connector_replaced = tick("Connector replaced")
    connector_after = SaidChoice(
        label="Connector now",
        required=False,
        choices=[("", "non-lead"), ("NON_LEAD", "non-lead"), ("NONE", "no connector any more")],
    )
    length_ft = feet("Length laid, ft")
    method_used = SaidChoice(label="Method used", choices=METHODS)
    pull = PullChoice(label="Pull record", queryset=None, required=False, empty_label="none")

    static_psi = figure("Static pressure of the main, psi")
    test_psi = figure("Test pressure, psi")
    test_minutes = figure("Held for, min")
    test_drop_psi = figure("Pressure lost, psi")
    test_settled_minutes = figure("Settled before, min")
    test_leak = tick("A leak was seen")
    tracer_free = tick("Tracer wire free at both ends")
    tracer_signal = tick("Tracer signal over the full length")
    tracer_ohm = figure("Tracer resistance, ohm")
    depth_main_ft = feet("Cover at the main, ft")
    depth_house_ft = feet("Cover at the house, ft")
    leading_outside_in = size("Leading end outside diameter, in.")
    cut_off_ft = feet("Gripped end cut off, ft")

    disinfection = SaidChoice(label="Disinfection", choices=_methods, required=False)
    dose_mg_l = figure("Dose, mg/L")
    hours = figure("Held, h")
    residual_mg_l = figure("Residual, mg/L")
    crew_minutes = figure("Crew flushed, min")
    crew_velocity = figure("Flush velocity, ft/s")
    house_minutes = figure("House flushed, min")
    aerators_off = tick("Aerators were taken off")
    bottom_floor_up = tick("Taps opened from the bottom floor up")
    cold_only = tick("Cold water only")

    lead_out_ft = feet("Lead taken out, ft")
    lead_weight_lb = figure("Its weight, lb")
    lead_left_ft = feet("Lead left in the ground, split, ft")
    bonding_checked = tick("Electrical ground checked and restored")
    restored_on = day_field("Ground put back on", required=False)

    notice_on = day_field("Notice given on", required=False)
    flushing_on = day_field("Flushing instructions given on", required=False)
    filter_on = day_field("Filter given on", required=False)
    cartridge_months = forms.IntegerField(label="Cartridges for, months", min_value=0,
                                          max_value=24, required=False)  # fmt: skip
    sample_offered_on = day_field("Follow-up sample offered on", required=False)
    returned_on = day_field("Water returned on", required=False)

    def __init__(self, *args, order, **kwargs):
        super().__init__(*args, **kwargs)
        used = self.data.get("method_used") or order.method
        pulled = is_pulled(order.method) or is_pulled(code_said(used, METHODS) or used)
        if not pulled and not any(self.data.get(name) for name in OF_A_PULL):
            for name in OF_A_PULL:
                del self.fields[name]
        self.fields["pull"].queryset = order.pulls.standing().select_related("log").order_by("-id")
        for kind, label in PHOTO_KINDS.items():
            self.fields[f"photo_{kind}"] = forms.FileField(
                label=label, required=False, help_text="JPEG, PNG, HEIC or PDF, up to 25 MB."
            )

    @property
    def groups(self):
        """Fields under their headings; photos last."""
        found = [
            (title, [self[f] for f in names.split() if f in self.fields])
            for title, names in GROUPS.items()
        ]
        return [*found, ("Photos", [self[f"photo_{kind}"] for kind in PHOTO_KINDS])]

    def mark(self, last: CompletionRecord | None) -> None:
        """Put the reviewer's words beside what is to be mended."""
        review = getattr(last, "review", None)
        self.mended = dict(review.mend) if review is not None else {}
        for kind, label in PHOTO_KINDS.items():
            if label in self.mended:
                self.fields[f"photo_{kind}"].mend = self.mended[label]
        self.fields["note"].mend = self.mended.get(OUTCOME, "")

    def held_at(self, names: Iterable[str]) -> None:
        """Note the fields in which what would hold the record up is put right."""
        self.held = list(names)

    held: Sequence[str] = ()

    @property
    def marked_groups(self):
        """Groups, each with the reviewer's words, its number of stops, and whether it opens.

        What is refused or came back opens.
        """
        return [
            (title, fields, self.mended.get(title, ""),
             sum(self.held.count(field.name) for field in fields),
             title in self.mended or any(f.errors or hasattr(f.field, "mend") for f in fields))
            for title, fields in self.groups
        ]  # fmt: skip

    def photos(self) -> list[tuple[str, object]]:
        """Return (kind, file) of the photos that were chosen."""
        return [
            (f"PHOTO_{kind}", self.cleaned_data[f"photo_{kind}"])
            for kind in PHOTO_KINDS
            if self.cleaned_data.get(f"photo_{kind}")
        ]

    def said(self) -> dict:
        """Return what the operation takes; the replaced pipe is said only of a replacement."""
        given = self.cleaned_data
        names = ["outcome", "finished_on", "note", "system_found", "customer_found"]
        names.append("connector_found")
        if given["outcome"] == "REPLACED":
            names += ["system_replaced", "customer_replaced", "connector_replaced", "length_ft"]
            names += ["system_material_after", "customer_material_after", "connector_after"]
        if given["outcome"] in ("REPLACED", "STOPPED"):
            names += ["method_used", "pull"]
        return {name: given[name] for name in names} | {"quality": self.quality()}

    def quality(self) -> dict:
        """Return the quality record; a part that nobody touched is left out."""
        given = self.cleaned_data
        replaced = given["outcome"] == "REPLACED"
        parts = PARTS if replaced else FOUND
        quality = {name: _part(name, given) for name in parts}
        quality |= {n: given.get(f) for n, f in PLAIN.items()} if replaced else {}
        return {
            name: value for name, value in quality.items() if value or name in ALWAYS and replaced
        }

    @classmethod
    def of(cls, order: WorkOrder, last: CompletionRecord | None, day: date) -> "CompletionForm":
        """Return the form as it opens: what was given back as it was handed in, else the order."""
        if last is not None and getattr(last, "review", None) is not None:
            return cls(order=order, initial=cls.as_handed_in(last))
        pulls = order.pulls.standing().order_by("-id")
        initial = {
            "finished_on": day,
            "length_ft": order.length_ft,
            "method_used": order.method,
            "pull": pulls.filter(verdict="ACCEPT").first() or pulls.first(),
        }
        return cls(order=order, initial=initial)

    @staticmethod
    def as_handed_in(record: CompletionRecord) -> dict:
        """Return what a record says, as the fields take it."""
        quality = record.quality
        said = {name: getattr(record, name) for name in SAID} | {"pull": record.pull_id}
        said |= {field: quality.get(name) for name, field in PLAIN.items()}
        return said | {
            field: (quality.get(part) or {}).get(name)
            for part, names in PARTS.items()
            for name, field in names.items()
        }


# A part of the quality record: its names, and the fields that fill them.
PARTS = {
    "points_seen": {"SYSTEM": "points_system", "CUSTOMER": "points_customer"},
    "found_in": {"SYSTEM": "size_system_in", "CUSTOMER": "size_customer_in"},
    "depths_ft": {"main": "depth_main_ft", "house": "depth_house_ft"},
    "pressure_test": {
        "pressure_psi": "test_psi", "minutes": "test_minutes", "drop_psi": "test_drop_psi",
        "visible_leak": "test_leak", "settled_minutes": "test_settled_minutes",
    },
    "tracer": {
        "both_ends_free": "tracer_free", "signal_full_length": "tracer_signal",
        "resistance_ohm": "tracer_ohm",
    },
    "disinfection": {
        "method": "disinfection", "dose_mg_l": "dose_mg_l", "hours": "hours",
        "residual_mg_l": "residual_mg_l",
    },
    "crew_flush": {"minutes": "crew_minutes", "velocity_ft_s": "crew_velocity"},
    "premise_flush": {
        "minutes": "house_minutes", "aerators_off": "aerators_off",
        "bottom_floor_up": "bottom_floor_up", "cold_only": "cold_only",
    },
    "lead": {
        "length_ft": "lead_out_ft", "weight_lb": "lead_weight_lb",
        "left_in_ground_ft": "lead_left_ft",
    },
    "household": {
        "notice_on": "notice_on", "flushing_instructions_on": "flushing_on",
        "filter_on": "filter_on", "cartridge_months": "cartridge_months",
        "sample_offered_on": "sample_offered_on",
    },
}  # fmt: skip
PLAIN = {
    "static_psi": "static_psi", "leading_outside_in": "leading_outside_in",
    "cut_off_ft": "cut_off_ft", "restored_on": "restored_on", "bonding_checked": "bonding_checked",
    "returned_to_service_on": "returned_on",
}  # fmt: skip
FOUND = ("points_seen", "found_in")
BY_PLACE = (*FOUND, "depths_ft")
ALWAYS = ("depths_ft", "household")
# What a part cannot be without; left blank, it counts as none.
NONE_MEANS_0 = (
    "pressure_psi minutes drop_psi settled_minutes length_ft left_in_ground_ft cartridge_months"
).split()
SAID = (
    "outcome finished_on note system_found customer_found connector_found system_replaced "
    "customer_replaced connector_replaced system_material_after customer_material_after "
    "connector_after length_ft method_used"
).split()


def _part(part: str, given: dict) -> dict:
    """Return one part of the quality record; empty where none of its fields was touched."""
    told = {name: given[field] for name, field in PARTS[part].items()}
    if part in BY_PLACE:
        return {place: value for place, value in told.items() if value is not None}
    if all(value in (None, "", False) for value in told.values()):
        return {}
    return {n: 0 if v is None and n in NONE_MEANS_0 else v for n, v in told.items()}


MENDED = (OUTCOME, *GROUPS, *PHOTO_KINDS.values())


class ReviewForm(forms.Form):
    """The utility's answer to one record; what is to be mended stands beside its field then."""

    reasons = words(
        "Reasons",
        rows=2,
        help_text="Needed to return the work, and to accept it despite open stops.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for n, part in enumerate(MENDED):
            self.fields[f"mend_{n}"] = forms.CharField(
                label=f"To be mended: {part}", max_length=200, required=False
            )

    @property
    def beside(self) -> dict:
        """The field for what is wrong with each part of the record, by the part."""
        return {part: self[f"mend_{n}"] for n, part in enumerate(MENDED)}

    def mend(self) -> dict[str, str]:
        """Return what is wrong with each part that was named."""
        told = ((part, self.cleaned_data.get(f"mend_{n}")) for n, part in enumerate(MENDED))
        return {part: said for part, said in told if said}
