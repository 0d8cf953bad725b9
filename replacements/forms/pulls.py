"""The estimate's anchor, and the log of a pull with the machine that it was read from."""

from collections.abc import Mapping
from datetime import date

from django import forms

from services_inventory.forms.days import day_field

from ..domain.hydraulics import PLANNING_EFFICIENCY
from ..domain.pipes import resins
from ..domain.pull_force import SoilFamily, soils
from ..domain.pull_force.model import SOIL_STRENGTH
from ..domain.pull_logs import UNITS
from ..domain.reference_tables import rows
from ..models import ForceEstimateRecord, PullRecord, ToolStringPart, WorkOrder
from ..queries.estimate_case import bend_code
from ..queries.estimate_told import MEASURED
from ..queries.planned_pull import PIPE_STATE
from .fields import figure, measure, size


def units(*quantities: str) -> list[tuple[str, str]]:
    """Return the units a log may be in, the guess first."""
    known = [unit for quantity in quantities for unit in UNITS[quantity]]
    return [("", "as guessed"), *((unit, TONS.get(unit, unit)) for unit in known)]


TONS = {"US ton": "US ton (2,000 lb)", "tf": "tonne (2,204.6 lb)"}


class EstimateForm(forms.Form):
    """What only the pit tells; what is left blank is counted the unfavorable way, and told."""

    plate_area_ft2 = figure("Bearing plate, ft²", help_text="Area against firm ground.")
    soil_psf = figure("Ground may bear, psf", help_text="From the competent person.")
    resin = forms.ChoiceField(
        label="Resin of PE pipe",
        required=False,
        choices=lambda: [("", "not read"), *((code, code) for code in resins())],
        help_text="Printed on the pipe; not read: the weakest is counted.",
    )
    temperature_f = figure(
        "Pipe's wall, °F",
        max_value=120,
        help_text="Hot plastic bears less; blank: 120 °F is counted.",
    )
    minutes = figure("Time under tension, min", max_value=1440, help_text="Blank: up to an hour.")

    def __init__(self, *args, bends=(), clay: bool = True, **kwargs):
        super().__init__(*args, **kwargs)
        for code, name in MEASURED.items():
            if clay or code != SOIL_STRENGTH:
                self.fields[code] = measure(name, help_text=_HOW[code])
        for station_ft in bends:
            self.fields[bend_code(station_ft)] = size(
                f"Radius of the bend at {station_ft:g} ft, in.",
                help_text="Of its center line, by camera, sonde or in the pit.",
            )

    @classmethod
    def asked_of(cls, order: WorkOrder, data=None, given: Mapping | None = None) -> "EstimateForm":
        """Return the form for an order, filled with what was given before."""
        unknown = [b["station_ft"] for b in order.bends if not b.get("radius_in")]
        clay = order.soil in soils() and soils()[order.soil].family is SoilFamily.CLAY
        return cls(data, bends=unknown, clay=clay, initial=given)

    @classmethod
    def of(cls, order: WorkOrder, estimate: ForceEstimateRecord | None) -> "EstimateForm":
        """Return the form as the latest estimate was asked for, so that nothing is forgotten."""
        return cls.asked_of(order, given=estimate.case.get("given", {}) if estimate else None)

    @property
    def usual(self) -> list:
        """The fields that every estimate asks for."""
        return [self[name] for name in self.base_fields]

    @property
    def measurable(self) -> list:
        """The fields of what can be measured besides."""
        return [self[name] for name in self.fields if name not in self.base_fields]

    @property
    def any_measured(self) -> bool:
        """Whether something was measured for the estimate before."""
        return any(field.value() for field in self.measurable)

    def given(self) -> dict:
        """Return what the operation takes, by name."""
        told = {name: value for name, value in self.cleaned_data.items() if value}
        anchor = {n: told.pop(n) for n in ("plate_area_ft2", "soil_psf") if n in told}
        state = {name: told.pop(name) for name in PIPE_STATE if name in told}
        return {**anchor, "pipe_state": state, "measured": told}


_HOW = {row["code"]: row["how"] + "." for row in rows("measurements")}


_GUESSED = ("time_", "force_", "distance_")


MACHINE = ("bore_in", "rod_in", "count", "efficiency", "free_pressure_psi")


class PullForm(forms.Form):
    """A log file, and how to read it where the guess was wrong."""

    log = forms.FileField(label="Log of the pull", help_text="CSV, up to 50 MB.")
    pulled_on = day_field("Pulled on")
    bore_in = size("Cylinder bore, in.", help_text="Needed when the log holds pressure.")
    rod_in = size("Rod, in.")
    count = forms.IntegerField(label="Cylinders", min_value=1, max_value=8, initial=1)
    efficiency = figure("Efficiency", max_value=1, initial=PLANNING_EFFICIENCY)
    free_pressure_psi = figure("Pressure running free, psi", initial=0)
    time_column = forms.CharField(
        label="Time column", required=False, help_text="Its heading, where the guess was wrong."
    )
    time_unit = forms.ChoiceField(label="Unit of time", required=False, choices=units("TIME"))
    force_column = forms.CharField(label="Force or pressure column", required=False)
    force_unit = forms.ChoiceField(
        label="Unit of force or pressure", required=False, choices=units("PRESSURE", "FORCE")
    )
    distance_column = forms.CharField(label="Distance column", required=False)
    distance_unit = forms.ChoiceField(
        label="Unit of distance", required=False, choices=units("DISTANCE")
    )

    @property
    def asked(self):
        """Return what is asked of every log."""
        return [field for field in self if not field.name.startswith(_GUESSED)]

    @property
    def guessed(self):
        """Return what is told only where a guess was wrong."""
        return [field for field in self if field.name.startswith(_GUESSED)]

    @classmethod
    def of(cls, order: WorkOrder, on: date) -> "PullForm":
        """Return the form with the cylinder of the string's puller, or of the last pull."""
        return cls(initial={"pulled_on": on, **cylinder_known(order)})

    def machine(self) -> dict:
        """Return the puller as the operation takes it."""
        given = {name: self.cleaned_data.get(name) for name in MACHINE}
        return {name: value for name, value in given.items() if value is not None}

    def columns(self) -> dict:
        """Return what was told of the columns and units; the rest is guessed."""
        told = {}
        for role in ("time", "force", "distance"):
            name = self.cleaned_data[f"{role}_column"].strip() or None
            unit = self.cleaned_data[f"{role}_unit"] or None
            if name or unit:
                told[role] = (name, unit)
        return told


def cylinder_known(order: WorkOrder) -> dict:
    """Return what is known of the puller: its own measures, else those of the last log."""
    parts = ToolStringPart.objects.filter(tool_string__work_order=order, component__kind="PULLER")
    part = parts.select_related("component").order_by("-tool_string").first()
    measures = part.component.dimensions if part else {}
    if measures.get("cylinder_bore_in"):
        return {
            "bore_in": measures["cylinder_bore_in"],
            "rod_in": measures.get("cylinder_rod_in"),
            "count": int(measures.get("cylinders", 1)),
        }
    last = PullRecord.objects.filter(work_order__contractor=order.contractor_id)
    last = last.exclude(machine={}).order_by("-id").first()
    return {k: v for k, v in last.machine.items() if k in PullForm.base_fields} if last else {}
