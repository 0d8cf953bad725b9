"""The answers without which no work starts: pits, ticket, cable, lead, traffic."""

from django import forms

from services_inventory.forms.days import day_field

from ..domain.safety import Excavation, JobSafety, LeadHandling, OneCallTicket, PullSetup
from .fields import feet, tick

PITS = (("main", "Pit at the main"), ("house", "Pit at the house"))
TRAFFIC = [
    ("no", "no plan on record"),
    ("yes", "plan in place as the road's owner asks"),
    ("clear", "work is clear of any road or footway"),
]
CUTS = [
    ("", "not decided"),
    ("wet shear", "shears or pipe cutter, wet"),
    ("hand saw, wet", "hand saw, wet"),
    ("abrasive saw", "abrasive saw"),
    ("torch", "torch"),
]
_SETUP = {
    "barriers_at_both_pits": "Barriers stand at both pits, a blanket lies over the free cable",
    "spotter_with_radio": "A spotter with a radio watches; radio checked, words agreed",
    "emergency_stop_tried": "Emergency stop was tried and heard at both ends",
    "relief_set": "Relief is set to the lowest limit; load cell zeroed, free-run pressure "
    "written down",
    "bore_proved": "Bore proved through by rod or camera",
}
_LINE = {
    "line_isolated": "Line closed and disconnected at both ends: corporation shut, curb stop out",
    "electrical_ground_checked": "An electrician checked the house's electrical ground",
}
CABLE = "Loaded cable"


class StartForm(forms.Form):
    """Everything that is asked before the work starts; what is not answered was not done.

    pulls : whether the order's method loads a cable; an open cut is not asked for one
    """

    on = day_field("Day of work")

    def __init__(self, *args, pulls: bool = True, **kwargs):
        super().__init__(*args, **kwargs)
        self.pulls = pulls
        for key, name in PITS:
            self._add_pit(key, name)
        self.fields |= {
            "ticket_number": forms.CharField(
                label="One-call ticket number", required=False, max_length=40
            ),
            "ticket_from": day_field("Digging allowed from", required=False),
            "ticket_to": day_field("Ticket runs out on", required=False),
            "marks_visible": tick("The marks are visible"),
            **{name: tick(label) for name, label in _LINE.items()},
            **(_of_the_cable() if pulls else {}),
            "cutting_method": forms.ChoiceField(
                label="How the lead will be cut", choices=CUTS, required=False
            ),
            "hygiene_set_up": tick("Gloves, washing water and clean clothes are set up"),
            "scrap_contained": tick("A place for pulled lead, shavings and soiled soil is set up"),
            "traffic": forms.ChoiceField(label="Traffic", choices=TRAFFIC),
        }

    def _add_pit(self, key: str, name: str) -> None:
        self.fields |= {
            f"{key}_depth_ft": feet(f"{name}: depth, ft", help_text="Blank: there is none."),
            f"{key}_protection": forms.CharField(
                label="Protective system", required=False, help_text="Sloped, shored, trench box …"
            ),
            f"{key}_egress_ft": feet("Ladder or ramp within, ft"),
            f"{key}_spoil_ft": feet("Spoil set back, ft"),
            f"{key}_inspected_on": day_field("Inspected on", required=False),
            f"{key}_inspected_by": forms.CharField(label="By competent person", required=False),
            f"{key}_cave_in": tick("Signs of a cave-in"),
            f"{key}_rain": tick("Rain since the inspection"),
        }

    @property
    def groups(self):
        """Fields in the order in which a crew goes through them, under their headings."""
        pits = [
            (name, [self[f] for f in self.fields if f.startswith(f"{key}_")]) for key, name in PITS
        ]
        ticket = ("ticket_number", "ticket_from", "ticket_to", "marks_visible")
        cable = [(CABLE, [self[f] for f in _of_the_cable()])] if self.pulls else []
        lead = ("cutting_method", "hygiene_set_up", "scrap_contained")
        return [
            ("Day", [self["on"]]),
            *pits,
            ("One-call ticket and marks", [self[f] for f in ticket]),
            ("Line and house", [self[f] for f in _LINE]),
            *cable,
            ("Lead", [self[f] for f in lead]),
            ("Traffic", [self["traffic"]]),
        ]

    def facts(self) -> JobSafety:
        """Return the answers as the safety rules read them."""
        given = self.cleaned_data
        ticket = OneCallTicket(
            given["ticket_number"], given["ticket_from"], given["ticket_to"], given["marks_visible"]
        )
        return JobSafety(
            excavations=tuple(
                self._pit(key, name) for key, name in PITS if given[f"{key}_depth_ft"] is not None
            ),
            ticket=ticket,
            lead=LeadHandling(
                given["hygiene_set_up"], given["cutting_method"], given["scrap_contained"]
            ),
            pull=PullSetup(**{f: given[f] for f in _of_the_cable()}) if self.pulls else None,
            traffic_plan={"yes": True, "no": False, "clear": None}[given["traffic"]],
            **{name: given[name] for name in _LINE},
        )

    def _pit(self, key: str, name: str) -> Excavation:
        given = {f.removeprefix(f"{key}_"): v for f, v in self.cleaned_data.items()
                 if f.startswith(f"{key}_")}  # fmt: skip
        return Excavation(
            name=name,
            depth_ft=given["depth_ft"],
            protective_system=given["protection"] or None,
            cave_in_signs=given["cave_in"],
            egress_within_ft=given["egress_ft"],
            spoil_setback_ft=given["spoil_ft"],
            inspected_on=given["inspected_on"],
            inspected_by=given["inspected_by"],
            rain_since_inspection=given["rain"],
        )


def _of_the_cable() -> dict[str, forms.Field]:
    """Return the questions that only a pull asks, by the names of `PullSetup`."""
    return {
        "free_cable_ft": feet("Free cable under load, ft"),
        "exclusion_zone_ft": feet("Exclusion zone kept, ft"),
        "gauge_calibrated_on": day_field("Gauge calibrated on", required=False),
        **{name: tick(label) for name, label in _SETUP.items()},
    }
