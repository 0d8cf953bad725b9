"""Another utility near the run, as seen or marked."""

from django import forms

from ..domain.ground import OtherLine, UtilityKind
from ..models import NearbyLine
from .fields import feet, size, tick


class NearbyLineForm(forms.Form):
    """One line that crosses the run or lies beside it."""

    kind = forms.ChoiceField(
        label="Kind", choices=[("", "choose"), *((k.value, k.label) for k in UtilityKind)]
    )
    crossing = forms.ChoiceField(
        label="How it lies", choices=[("yes", "crosses the run"), ("no", "lies alongside")]
    )
    at_ft = feet("At, ft", help_text="From the pit where the new pipe enters.")
    separation_in = size(
        "Clear distance from the old pipe's centerline, in.", help_text="Blank: not known."
    )
    exposed = tick("Exposed by hand or vacuum, seen and measured")
    rigid = tick("Rigid: cast iron, clay or asbestos cement")
    relieved = tick("Ground between is dug away where the head passes")
    note = forms.CharField(label="Note", required=False, max_length=200)

    @classmethod
    def of(cls, nearby: NearbyLine) -> "NearbyLineForm":
        """Return the form as a record stands."""
        names = ("kind", "at_ft", "separation_in", "exposed", "rigid", "relieved", "note")
        initial = {name: getattr(nearby, name) for name in names}
        return cls(initial=initial | {"crossing": "yes" if nearby.crossing else "no"})

    def clean(self) -> dict:
        """Ask for the station of a crossing."""
        given = super().clean()
        if given.get("crossing") == "yes" and given.get("at_ft") is None and not self.errors:
            self.add_error("at_ft", "Say at which distance it crosses.")
        return given

    def line(self) -> OtherLine:
        """Return the line as the rules read it."""
        given = self.cleaned_data
        return OtherLine(
            kind=UtilityKind(given["kind"]),
            separation_in=given["separation_in"],
            crossing=given["crossing"] == "yes",
            exposed=given["exposed"],
            rigid=given["rigid"],
            at_ft=given["at_ft"],
            relieved=given["relieved"],
        )
