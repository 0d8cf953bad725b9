"""Recording evidence, taking it back, and deciding between contradicting evidence."""

from django import forms

from ..domain.evidence import Basis, Portion
from ..domain.materials import Connector, Material, read_connector, read_material
from ..models.evidence import ERAS, PORTIONS
from .days import day_field

# Who else may record evidence of a replacement: its acceptance, and nobody by hand.
BASES = [(basis.value, basis.label) for basis in Basis if basis != Basis.REPLACEMENT]
WORDS = sorted({m.label for m in Material} | {"no connector", "lead connector"})
KINDS = ("image/jpeg", "image/png", "application/pdf", "image/heic")
LIMIT_BYTES = 25 * 1024**2


class EvidenceForm(forms.Form):
    """One statement about one portion of a line."""

    portion = forms.ChoiceField(choices=PORTIONS, label="Portion")
    material = forms.CharField(
        label="Material",
        max_length=80,
        help_text="In words: lead, galvanized, copper, plastic, unknown, none …",
        widget=forms.TextInput(attrs={"list": "material-words", "autocomplete": "off"}),
    )
    basis = forms.ChoiceField(
        choices=BASES,
        label="How it is known",
        help_text="A replacement is recorded by accepting its completion record.",
    )
    observed_on = day_field("Seen on", required=False)
    points_seen = forms.IntegerField(
        label="Points seen", required=False, min_value=0, max_value=20,
        help_text="Places along this portion where the pipe itself was seen.",
    )  # fmt: skip
    place = forms.CharField(
        label="Where it was seen",
        required=False,
        max_length=60,
        help_text="For instance: at the meter, at the curb stop.",
    )
    installed_year = forms.IntegerField(
        label="Year laid",
        required=False,
        error_messages={"invalid": "This is no year; write it like 1948."},
    )
    era = forms.ChoiceField(choices=ERAS, label="Speaks of", required=False)
    every_earlier_pipe = forms.BooleanField(
        label="It shows every earlier pipe of this portion", required=False
    )
    counts_from = day_field(
        "True since",
        required=False,
        help_text="Empty: it counts from today, when it became known. A day: past days follow, and "
        "an amendment of what was filed.",
    )
    source = forms.CharField(label="Source", required=False, max_length=120)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))
    document = forms.FileField(
        label="Photo or document",
        required=False,
        help_text="JPEG, PNG, HEIC or PDF, at most 25 MB.",
    )

    def clean(self):
        """Read the material's words for the portion they speak of."""
        data = super().clean()
        words, portion = data.get("material"), data.get("portion")
        if words and portion:
            data["material"] = self._read(words, portion)
        data["era"] = data.get("era") or "NOW"
        data["points_seen"] = data.get("points_seen") or 0
        return data

    def _read(self, words: str, portion: str) -> str:
        read = read_connector if portion == Portion.CONNECTOR else read_material
        found = read(words)
        if portion == Portion.CONNECTOR and not found.code:
            found = read_material(words)
        if not found.code:
            known = "; ".join(c.label for c in Connector) if portion == "CONNECTOR" else None
            known = known or ", ".join(m.label for m in Material)
            self.add_error(
                "material",
                f"“{words}” is not clear. {found.reason} Write one of: {known}.".replace("  ", " "),
            )
        return found.code or ""

    def said(self) -> dict:
        """Return what `evidence_record` takes, but for the document."""
        return {key: value for key, value in self.cleaned_data.items() if key != "document"}


class ReasonForm(forms.Form):
    """Why something is done."""

    reason = forms.CharField(
        label="Reason",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why; the reason stays with the record."},
    )


class WithdrawForm(ReasonForm):
    """Why evidence is taken back, and for which days."""

    FROM_TODAY, NEVER_TRUE = "FROM_TODAY", "NEVER_TRUE"
    HOW = (
        (FROM_TODAY, "It no longer counts, from today"),
        (NEVER_TRUE, "It was never true: another house, or mis-keyed"),
    )

    how = forms.ChoiceField(
        label="From when on",
        choices=HOW,
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it counts no longer, or was never true."},
    )

    def __init__(self, data=None, *, taken_back: bool = False):
        """Offer what can still be said: of what was taken back, only that it was never true."""
        super().__init__(data)
        if taken_back:
            self.fields["how"].choices = self.HOW[1:]

    def said(self) -> dict:
        """Return what `evidence_withdraw` takes."""
        data = self.cleaned_data
        return {"reason": data["reason"], "never_true": data["how"] == self.NEVER_TRUE}

    field_order = ["how", "reason"]


class DecisionForm(ReasonForm):
    """Which material stands, or that both do, and why."""

    material = forms.ChoiceField(
        label="What stands",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what stands."},
    )
    document = forms.FileField(
        label="Document that shows it",
        required=False,
        help_text="Needed where the answer is less protective than what was seen. JPEG, PNG, HEIC "
        "or PDF, at most 25 MB.",
    )

    def __init__(self, data=None, files=None, *, choices):
        """Offer the materials that evidence speaks for."""
        super().__init__(data, files)
        self.fields["material"].choices = choices

    field_order = ["material", "reason", "document"]


class ProposalForm(forms.Form):
    """A second person's answer to a proposal."""

    AGREE, DECLINE = "AGREE", "DECLINE"

    answer = forms.ChoiceField(choices=[(AGREE, "Agree"), (DECLINE, "Decline")])
    reason = forms.CharField(
        label="Reason", required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
