"""Forms of tap sampling and outreach."""

from django import forms

from program.models import Audience, Invalidation, OutreachPartner, TapResult
from program.queries.sampling import METALS
from services_inventory.forms.days import day_field


class PeriodForm(forms.Form):
    """A monitoring period."""

    first_day = day_field("First day")
    last_day = day_field("Last day")
    required = forms.IntegerField(
        label="Sites to be sampled", min_value=1, max_value=10_000,
        help_text="By the population served, unless your State asks for another number.",
    )  # fmt: skip
    reduced = forms.BooleanField(label="Reduced monitoring", required=False)


class ResultFileForm(forms.Form):
    """A laboratory's file."""

    file = forms.FileField(label="File of the laboratory", help_text="CSV or Excel, at most 10 MB.")
    received_on = day_field(
        "Received on", help_text="The clock of the letters to the households starts here."
    )
    unit = forms.ChoiceField(
        label="Unit, where the file names none", required=False,
        choices=[("", "The file names it"), ("mg/L", "mg/L (ppm)"), ("ug/L", "µg/L (ppb)")],
    )  # fmt: skip
    purpose = forms.ChoiceField(
        label="Samples that say nothing else are", choices=TapResult.Purpose.choices
    )
    confirmed = forms.BooleanField(
        label="I looked at the unit with the laboratory's report, and it is right",
        required=False, help_text="Only where the program asks.",
    )  # fmt: skip


class InvalidationForm(forms.Form):
    """Why a result does not count."""

    ground = forms.ChoiceField(label="Ground", choices=Invalidation.Ground.choices)
    decided_on = day_field("Decided on")
    decision = forms.CharField(label="Who decided it, and where that stands", max_length=300)


class ExceedanceForm(forms.Form):
    """The hour at which an exceedance was learned."""

    learned_at = forms.DateTimeField(
        label="Learned on, at",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="For lead, the public notice is due 24 hours later.",
    )
    metal = forms.ChoiceField(choices=list(METALS.items()), widget=forms.HiddenInput)


class PartnerForm(forms.Form):
    """Somebody to be reached every year."""

    audience = forms.ChoiceField(label="Kind", choices=Audience.choices)
    name = forms.CharField(label="Name", max_length=160)
    reached_at = forms.CharField(
        label="How to reach them", max_length=200, required=False,
        help_text="An office's telephone, e-mail or post address.",
    )  # fmt: skip
    since = day_field("On the list since")


class OutreachForm(forms.Form):
    """What was sent or said, to whom, with proof."""

    partners = forms.ModelMultipleChoiceField(
        label="Who was reached", queryset=OutreachPartner.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one of the list."},
    )  # fmt: skip
    done_on = day_field("On")
    what = forms.CharField(label="What was sent or said", max_length=300)
    proof = forms.FileField(
        label="Proof", required=False, help_text="PDF, JPEG or PNG, at most 15 MB."
    )
    proof_words = forms.CharField(label="Or where the proof is", max_length=300, required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        listed = OutreachPartner.objects.standing().order_by("audience", "name")
        self.fields["partners"].queryset = listed
        self.fields["partners"].label_from_instance = lambda partner: (
            f"{partner.name} ({partner.get_audience_display()})"
        )
