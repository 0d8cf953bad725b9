"""Forms of the notices' pages."""

import re

from django import forms

from program.models import Notice
from program.notices.printing import LANGUAGES
from program.notices.templates_text import KIND_LABELS
from services_inventory.forms.days import day_field
from services_inventory.models import ServiceLine

KINDS = [(kind.value, label) for kind, label in KIND_LABELS.items()]
LETTER_NUMBER = re.compile(r"^(?:N-)?\d{1,18}$", re.IGNORECASE)
EVENTS = [
    ("SHUT_OFF", "Line shut off or bypassed, valve or meter work, nothing cut"),
    ("CUT", "Meter, setter or connector replaced, or line cut"),
    ("PLANNED_PARTIAL", "Partial replacement planned, with other work on the main or street"),
    ("EMERGENCY_PARTIAL", "Partial replacement in an emergency repair"),
    ("SAMPLE", "Tap sample result learned"),
    ("FOLLOW_UP_SAMPLE", "Result of the sample after a replacement learned"),
    ("NEW_CUSTOMER", "Service starts for a new customer"),
]


class PrintForm(forms.Form):
    """Which letters to print."""

    kind = forms.ChoiceField(label="Notice", choices=KINDS)
    due_by = day_field("Due by")
    languages = forms.MultipleChoiceField(
        label="Languages",
        choices=list(LANGUAGES.items()),
        initial=["en"],
        widget=forms.CheckboxSelectMultiple,
        help_text="One letter for each language.",
    )
    together = forms.BooleanField(
        label="All languages in one envelope",
        required=False,
        help_text="One letter of several parts, with page numbers that run on.",
    )
    again = forms.CharField(
        label="Send again where a letter came back, because",
        max_length=200,
        required=False,
        help_text="Leave empty to hold these letters back.",
    )
    lines = forms.CharField(max_length=6000, required=False, widget=forms.HiddenInput)


class DeliveryForm(forms.Form):
    """On which day, by which means, with which proof."""

    on = day_field("Delivered on")
    means = forms.ChoiceField(label="By", choices=Notice.Means.choices)
    proof = forms.FileField(
        label="Proof of posting",
        required=False,
        help_text="Optional. The post office's receipt as PDF, JPEG or PNG, at most 15 MB.",
    )


class ReturnForm(forms.Form):
    """A letter that came back."""

    on = day_field("Came back on")
    why = forms.CharField(
        label="What the post office says", max_length=200, required=False, strip=True
    )


class CorrectionForm(DeliveryForm):
    """What holds instead of the delivery that was recorded."""

    on = day_field(
        "Delivered on",
        required=False,
        help_text="Leave empty if it was not delivered at all; it is owed again then.",
    )
    why = forms.CharField(label="Why", max_length=200)


class WithdrawForm(forms.Form):
    """Why something that was entered is taken back."""

    why = forms.CharField(label="Why", max_length=200)


class ReturnsForm(forms.Form):
    """A pile of letters that came back together."""

    numbers = forms.CharField(
        label="Numbers on the letters",
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 6, "placeholder": "N-1234", "autofocus": True}),
        help_text="One a line, or parted by commas or blanks. A scanner types here.",
    )
    on = day_field("Came back on")
    why = forms.CharField(label="What the post office says", max_length=200, required=False)

    def clean_numbers(self) -> list[int]:
        """Return the numbers; name what is none."""
        words = self.cleaned_data["numbers"].replace(",", " ").split()
        wrong = [word for word in words if not LETTER_NUMBER.match(word)]
        if wrong:
            raise forms.ValidationError(
                f"A letter's number looks like N-1234; these do not: {', '.join(wrong[:5])}."
            )
        return [int(word.upper().removeprefix("N-")) for word in words]


class FindForm(forms.Form):
    """The number on a letter, or where it went."""

    reference = forms.CharField(
        label="Number, address or location identifier",
        max_length=200,
        widget=forms.TextInput(attrs={"placeholder": "N-1234"}),
    )


class EventForm(forms.Form):
    """Something that happened at a line and asks for a notice."""

    location_id = forms.CharField(label="Location identifier of the line", max_length=80)
    event = forms.ChoiceField(label="What happened", choices=EVENTS)
    on = day_field(
        "On", help_text="Return to service, result learned, start of service or of planned work."
    )
    result = forms.CharField(
        label="Result",
        max_length=120,
        required=False,
        help_text="For a sample: the value with its unit, as the laboratory wrote it.",
    )

    def clean_location_id(self) -> ServiceLine:
        """Return the line with this identifier."""
        line = ServiceLine.objects.filter(location_id=self.cleaned_data["location_id"]).first()
        if line is None:
            raise forms.ValidationError("There is no line with this location identifier.")
        return line


class SlotForm(forms.Form):
    """The agency's words for one slot."""

    text = forms.CharField(
        label="Text",
        required=False,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text="Paste your primacy agency's current text. An empty line parts paragraphs.",
    )
    taken_from = forms.CharField(
        label="Taken from",
        max_length=300,
        required=False,
        help_text="Document, date and page, so that somebody else can check it.",
    )
