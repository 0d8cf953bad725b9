"""The estimate's anchor, and the log of a pull with the machine that it was read from."""

from django import forms

from ..domain.hydraulics import PLANNING_EFFICIENCY
from .fields import day, figure


class EstimateForm(forms.Form):
    """What the anchor can bear; without it the estimate says that it is unrated."""

    plate_area_ft2 = figure("Bearing plate, ft²", help_text="Area against firm ground.")
    soil_psf = figure("Ground may bear, psf", help_text="From the competent person.")


class PullForm(forms.Form):
    """A log file, and how to read it where the guess was wrong."""

    log = forms.FileField(label="Log of the pull", help_text="CSV, up to 50 MB.")
    pulled_on = day("Pulled on")
    bore_in = figure("Cylinder bore, in.", help_text="Needed when the log holds pressure.")
    rod_in = figure("Rod, in.")
    count = forms.IntegerField(label="Cylinders", min_value=1, max_value=8, initial=1)
    efficiency = figure("Efficiency", max_value=1, initial=PLANNING_EFFICIENCY)
    free_pressure_psi = figure("Pressure running free, psi", initial=0)
    time_column = forms.CharField(label="Time column", required=False)
    force_column = forms.CharField(label="Force or pressure column", required=False)
    force_unit = forms.CharField(
        label="Its unit", required=False, help_text="psi, bar, lbf, kN: only if the guess is wrong."
    )
    distance_column = forms.CharField(label="Distance column", required=False)

    def machine(self) -> dict:
        """Return the puller as the operation takes it."""
        names = ("bore_in", "rod_in", "count", "efficiency", "free_pressure_psi")
        given = {name: self.cleaned_data.get(name) for name in names}
        return {name: value for name, value in given.items() if value is not None}

    def columns(self) -> dict:
        """Return what was told of the columns; the rest is guessed."""
        told = {
            role: self.cleaned_data[f"{role}_column"].strip()
            for role in ("time", "force", "distance")
            if self.cleaned_data[f"{role}_column"].strip()
        }
        unit = self.cleaned_data["force_unit"].strip()
        if unit and "force" in told:
            told["force"] = (told["force"], unit)
        return told
