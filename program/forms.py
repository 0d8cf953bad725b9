"""Forms of the program's own pages."""

from django import forms

from program.models import PlanStatement
from services_inventory.forms.days import day_field


class CertifyForm(forms.Form):
    """What the person who certifies is asked; name, title and statement."""

    name = forms.CharField(label="Your name", max_length=120)
    title = forms.CharField(label="Title", max_length=150)
    statement = forms.CharField(
        label="Statement",
        max_length=1_500,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Use the wording that your primacy agency asks for.",
    )

    def __init__(self, *args, asked=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.asked = asked
        for one in asked:
            self.fields[one.key.lower()] = forms.BooleanField(
                label="Yes",
                error_messages={"required": "Not answered. If it is no, amend before you sign."},
            )

    @property
    def questions(self) -> list:
        """Each question with its box."""
        return [(one, self[one.key.lower()]) for one in self.asked]

    @property
    def signer(self) -> list:
        """Who signs, in which words."""
        return [self[name] for name in ("name", "title", "statement")]

    @property
    def said(self) -> dict:
        """What the certification takes, once the form is valid."""
        given = self.cleaned_data
        answered = tuple(one.key for one in self.asked if given[one.key.lower()])
        return {key: given[key] for key in ("name", "title", "statement")} | {"answered": answered}


class FreezeForm(forms.Form):
    """Which layout the files are written in."""

    layout = forms.ChoiceField(label="Layout of the workbook and the CSV", required=False)

    def __init__(self, *args, choices=(), first="", **kwargs):
        super().__init__(*args, initial={"layout": first}, **kwargs)
        self.fields["layout"].choices = choices
        self.first = first

    def clean_layout(self) -> str:
        """Take the layout shown first where none is said."""
        return self.cleaned_data["layout"] or self.first


class AmendForm(FreezeForm):
    """What a new revision changes."""

    field_order = ("what_changed", "layout")

    what_changed = forms.CharField(
        label="What changed since",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One or two sentences; they stand in the amended submission.",
    )


class LayoutForm(forms.Form):
    """A layout's text, what changed in it, and the version it was started from."""

    text = forms.CharField(
        label="Layout (TOML)",
        strip=False,
        max_length=200_000,
        widget=forms.Textarea(
            attrs={"rows": 28, "spellcheck": "false", "class": "code", "wrap": "off"}
        ),
        help_text="The order of the columns is their order in the sheet. A column left out is not "
        "written; a sheet or set of codes left out keeps the standard form.",
    )
    what_changed = forms.CharField(label="What is new in it", max_length=300, required=False)
    based_on = forms.IntegerField(required=False, widget=forms.HiddenInput)


class LayoutUploadForm(forms.Form):
    """A layout as a TOML file."""

    file = forms.FileField(label="TOML file")

    def clean_file(self) -> str:
        """Read the file as text."""
        file = self.cleaned_data["file"]
        if file.size > 200_000:
            raise forms.ValidationError(
                f"{file.name} has {file.size:,} bytes. A layout has at most 200,000: is this the "
                "right file?"
            )
        try:
            return file.read().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise forms.ValidationError(
                f"{file.name} is not UTF-8 text. Save it as plain text in UTF-8."
            ) from error


class PlanTextForm(forms.Form):
    """The utility's own words on one element of the plan."""

    text = forms.CharField(
        label="The utility's words",
        required=False,
        max_length=60_000,
        widget=forms.Textarea(attrs={"rows": 16}),
        help_text="An empty line begins a paragraph. Saving it empty takes the words back.",
    )
    taken_from = forms.CharField(
        label="Where they were taken from",
        required=False,
        max_length=300,
        help_text="Ordinance, tariff sheet, council minutes: with date and number.",
    )
    based_on = forms.IntegerField(required=False, widget=forms.HiddenInput)


class PlanFreezeForm(forms.Form):
    """What is new in the document, and whether a draft is meant."""

    what_changed = forms.CharField(
        label="What is new in it", required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    is_draft_meant = forms.BooleanField(
        label="A draft is meant: freeze it although something is missing", required=False
    )


class PlanStatementForm(forms.Form):
    """Whether the plan is updated or unchanged, and who says so."""

    year = forms.IntegerField(
        label="For the submission of", min_value=2024, max_value=2200, help_text="The year covered."
    )
    says = forms.ChoiceField(label="What is certified", choices=PlanStatement.Says.choices)
    name = forms.CharField(label="Your name", max_length=120)
    title = forms.CharField(label="Title", max_length=150)
    statement = forms.CharField(
        label="Statement",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Use the wording that your primacy agency asks for.",
    )


class ReadForm(forms.Form):
    """A paragraph of the rule, as somebody has it before them."""

    citation = forms.CharField(
        label="Its citation", max_length=200, help_text="For instance 40 CFR 141.84(b)(4)."
    )
    text = forms.CharField(
        label="The paragraph",
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="Paste it from the rule itself, not from a summary of it.",
    )
    read_where = forms.CharField(
        label="Where you read it", max_length=300, help_text="The edition or page, and its day."
    )


class TickForm(ReadForm):
    """That somebody read the rule's own text, and whether it says what the value says."""

    confirms = forms.ChoiceField(
        label="The paragraph says",
        choices=[("yes", "what the value says"), ("no", "something else")],
    )

    @property
    def said(self) -> dict:
        """What the tick takes, once the form is valid."""
        return self.cleaned_data | {"confirms": self.cleaned_data["confirms"] == "yes"}


class DoneForm(forms.Form):
    """When a thing that was due was done, and where the proof is."""

    key = forms.CharField(widget=forms.HiddenInput, max_length=200)
    what = forms.CharField(widget=forms.HiddenInput, max_length=200)
    done_on = day_field("Done on")
    proof = forms.CharField(label="Where the proof is", max_length=300)
    file = forms.FileField(label="The proof itself", required=False)
