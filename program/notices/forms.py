"""Forms of the notices' pages."""

from django import forms

from program.models import Notice, Utility
from program.notices.lists import KIND_LABELS
from program.notices.printing import LANGUAGES

_DATE = forms.DateInput(attrs={"type": "date"})
KINDS = [(kind.value, label) for kind, label in KIND_LABELS.items()]
EVENTS = [
    ("SHUT_OFF", "Line shut off or bypassed, valve or meter work, nothing cut"),
    ("CUT", "Meter, setter or connector replaced, or line cut"),
    ("SAMPLE", "Tap sample result learned"),
    ("FOLLOW_UP_SAMPLE", "Result of the sample after a replacement learned"),
    ("NEW_CUSTOMER", "Service starts for a new customer"),
]


class PrintForm(forms.Form):
    """Which letters to print."""

    kind = forms.ChoiceField(label="Notice", choices=KINDS)
    due_by = forms.DateField(label="Due by", widget=_DATE)
    languages = forms.MultipleChoiceField(
        label="Languages",
        choices=list(LANGUAGES.items()),
        initial=["en"],
        widget=forms.CheckboxSelectMultiple,
        help_text="One letter for each language.",
    )


class DeliveryForm(forms.Form):
    """On which day, by which means, with which proof."""

    on = forms.DateField(label="Delivered on", widget=_DATE)
    means = forms.ChoiceField(label="By", choices=Notice.Means.choices)
    proof = forms.FileField(
        label="Proof of posting",
        required=False,
        help_text="Optional. The post office's receipt as PDF, JPEG or PNG, at most 15 MB.",
    )


class ReturnForm(forms.Form):
    """A letter that came back."""

    on = forms.DateField(label="Came back on", widget=_DATE)
    why = forms.CharField(
        label="What the post office says", max_length=200, required=False, strip=True
    )


class FindForm(forms.Form):
    """The number on a letter."""

    reference = forms.RegexField(
        r"^\s*(?:N-)?\d{1,18}\s*$",
        label="Number on the letter",
        error_messages={"invalid": "A letter's number looks like N-1234."},
        widget=forms.TextInput(attrs={"placeholder": "N-1234"}),
    )


class EventForm(forms.Form):
    """Something that happened at a line and asks for a notice."""

    location_id = forms.CharField(label="Location identifier of the line", max_length=80)
    event = forms.ChoiceField(label="What happened", choices=EVENTS)
    on = forms.DateField(
        label="On",
        widget=_DATE,
        help_text="Return to service, result learned, or start of service.",
    )
    result = forms.CharField(
        label="Result",
        max_length=120,
        required=False,
        help_text="For a sample: the value with its unit, as the laboratory wrote it.",
    )


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


class SenderForm(forms.ModelForm):
    """What every letter says of its sender."""

    class Meta:
        model = Utility
        fields = ["return_address", "phone", "website", "email"]
        widgets = {"return_address": forms.Textarea(attrs={"rows": 3})}
        labels = {"return_address": "Return address", "phone": "Telephone", "email": "E-mail"}
