"""The completion record as a crew fills it in, and the utility's answer."""

from django import forms

from ..domain.completion import disinfection_choices
from ..domain.methods import Method
from ..models import CompletionRecord
from .fields import CONNECTORS, MATERIALS, NEW_MATERIALS, SaidChoice, day, figure, tick, words

PHOTO_KINDS = {
    "OLD_PIPE": "Old pipe before it is cut",
    "LEAD_REMOVED": "Lead taken out or split",
    "NEW_AT_MAIN": "New pipe at the main",
    "NEW_AT_HOUSE": "New pipe at the house",
    "RESTORED": "Ground put back",
}
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


def _methods():
    return [("", "none on record"), *disinfection_choices()]


class CompletionForm(forms.Form):
    """What was done, found, tested and handed over."""

    outcome = SaidChoice(label="Outcome", choices=CompletionRecord.Outcome.choices)
    finished_on = day("Finished on", help_text="Day the last lead went out of service.")
    note = words("Note", rows=3, help_text="Needed for no access and for a stopped pull.")

    system_found = SaidChoice(label="System side found", choices=MATERIALS, required=False)
    customer_found = SaidChoice(label="Customer side found", choices=MATERIALS, required=False)
    connector_found = SaidChoice(label="Connector found", choices=CONNECTORS, required=False)
    points_system = forms.IntegerField(label="Points seen, system side", min_value=0,
                                       max_value=9, required=False)  # fmt: skip
    points_customer = forms.IntegerField(label="Points seen, customer side", min_value=0,
                                         max_value=9, required=False)  # fmt: skip

    size_system_in = figure("Size found, system side, in.", max_value=12)
    size_customer_in = figure("Size found, customer side, in.", max_value=12)

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
    length_ft = figure("Length laid, ft")
    method_used = SaidChoice(label="Method used", choices=[(m.value, m.label) for m in Method])
    pull = forms.ModelChoiceField(
        label="Pull record", queryset=None, required=False, empty_label="none"
    )

    static_psi = figure("Static pressure of the main, psi")
    test_psi = figure("Test pressure, psi")
    test_minutes = figure("Held for, min")
    test_drop_psi = figure("Pressure lost, psi")
    test_settled_minutes = figure("Settled before, min")
    test_leak = tick("A leak was seen")
    tracer_free = tick("Tracer wire free at both ends")
    tracer_signal = tick("Tracer signal over the full length")
    tracer_ohm = figure("Tracer resistance, ohm")
    depth_main_ft = figure("Cover at the main, ft")
    depth_house_ft = figure("Cover at the house, ft")
    leading_outside_in = figure("Leading end outside diameter, in.")
    cut_off_ft = figure("Gripped end cut off, ft")

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

    lead_out_ft = figure("Lead taken out, ft")
    lead_weight_lb = figure("Its weight, lb")
    lead_left_ft = figure("Lead left in the ground, split, ft")
    bonding_checked = tick("Electrical ground checked and restored")
    restored_on = day("Ground put back on", required=False)

    notice_on = day("Notice given on", required=False)
    flushing_on = day("Flushing instructions given on", required=False)
    filter_on = day("Filter given on", required=False)
    cartridge_months = forms.IntegerField(label="Cartridges for, months", min_value=0,
                                          max_value=24, required=False)  # fmt: skip
    sample_offered_on = day("Follow-up sample offered on", required=False)
    returned_on = day("Water returned on", required=False)

    def __init__(self, *args, order, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["pull"].queryset = order.pulls.standing().order_by("-id")
        for kind, label in PHOTO_KINDS.items():
            self.fields[f"photo_{kind}"] = forms.FileField(
                label=label, required=False, help_text="JPEG, PNG, HEIC or PDF, up to 25 MB."
            )

    @property
    def groups(self):
        """Fields under their headings; photos last."""
        found = [(title, [self[f] for f in names.split()]) for title, names in GROUPS.items()]
        return [*found, ("Photos", [self[f"photo_{kind}"] for kind in PHOTO_KINDS])]

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
        points = {"SYSTEM": given["points_system"], "CUSTOMER": given["points_customer"]}
        seen = {portion: number for portion, number in points.items() if number is not None}
        quality = {"points_seen": seen} if seen else {}
        sizes = {"SYSTEM": given["size_system_in"], "CUSTOMER": given["size_customer_in"]}
        found_in = {portion: size for portion, size in sizes.items() if size}
        quality |= {"found_in": found_in} if found_in else {}
        if given["outcome"] != "REPLACED":
            return quality
        depths = {"main": given["depth_main_ft"], "house": given["depth_house_ft"]}
        quality["depths_ft"] = {k: v for k, v in depths.items() if v is not None}
        plain = ("static_psi", "leading_outside_in", "cut_off_ft", "restored_on", "bonding_checked")
        quality |= {name: given[name] for name in plain if given[name]}
        if given["returned_on"]:
            quality["returned_to_service_on"] = given["returned_on"]
        return quality | {name: part for name, part in self._parts(given) if part}

    def _parts(self, given):
        if given["test_psi"] is not None:
            yield (
                "pressure_test",
                {
                    "pressure_psi": given["test_psi"],
                    "minutes": given["test_minutes"] or 0,
                    "drop_psi": given["test_drop_psi"] or 0,
                    "visible_leak": given["test_leak"],
                    "settled_minutes": given["test_settled_minutes"] or 0,
                },
            )
        if given["tracer_free"] or given["tracer_signal"] or given["tracer_ohm"] is not None:
            yield (
                "tracer",
                {
                    "both_ends_free": given["tracer_free"],
                    "signal_full_length": given["tracer_signal"],
                    "resistance_ohm": given["tracer_ohm"],
                },
            )
        if given["disinfection"]:
            figures = {name: given[name] for name in ("dose_mg_l", "hours", "residual_mg_l")}
            yield "disinfection", {"method": given["disinfection"], **figures}
        if given["crew_minutes"] is not None:
            yield "crew_flush", {
                "minutes": given["crew_minutes"], "velocity_ft_s": given["crew_velocity"]
            }  # fmt: skip
        if given["house_minutes"] is not None:
            ticks = ("aerators_off", "bottom_floor_up", "cold_only")
            yield "premise_flush", {
                "minutes": given["house_minutes"], **{name: given[name] for name in ticks}
            }  # fmt: skip
        if given["lead_out_ft"] is not None or given["lead_left_ft"] is not None:
            yield (
                "lead",
                {
                    "length_ft": given["lead_out_ft"] or 0,
                    "weight_lb": given["lead_weight_lb"],
                    "left_in_ground_ft": given["lead_left_ft"] or 0,
                },
            )
        yield (
            "household",
            {
                "notice_on": given["notice_on"],
                "flushing_instructions_on": given["flushing_on"],
                "filter_on": given["filter_on"],
                "cartridge_months": given["cartridge_months"] or 0,
                "sample_offered_on": given["sample_offered_on"],
            },
        )


class ReviewForm(forms.Form):
    """The utility's answer to one record."""

    reasons = words(
        "Reasons",
        rows=3,
        help_text="Needed to return the work, and to accept it despite open stops.",
    )
