"""The page's own forms as data, so that a phone without a network asks the same questions."""

from django import forms

from ..completion.photos import KINDS
from ..domain.cautions import AFTER, PULL_ONLY, Step, all_cautions, cautions_for
from ..domain.consent import consent_words
from ..domain.tool_strings import checks_for
from ..forms.access import AppointmentForm, AttemptForm, ConsentForm
from ..forms.completions import CompletionForm
from ..forms.pulls import MACHINE, PullForm
from ..forms.safety import StartForm
from ..models import CompletionRecord, PullRecord
from ..words import LANGUAGES, catalog
from .card import card_described, rules_described

# Which cautions stand on which screen of the phone.
_CAUTIONS = {
    "order": tuple(Step),
    "record": (*AFTER, Step.TRAFFIC),
}
_LEFT_OUT = frozenset({"pull"})


def forms_described() -> dict:
    """Return the questions of a safe start, the checklist, a record, a pull log and a visit."""
    record, start, pull = CompletionForm(order=_NoOrder()), StartForm(), PullForm()
    return {
        "rules": rules_described(),
        "words": {language: dict(catalog(language)) for language in LANGUAGES},
        "card": card_described(start, record, _field),
        "record": [
            {"title": "Outcome", "fields": [_field(record[n]) for n in ("outcome", "finished_on")]},
            *(_group(title, fields) for title, fields in record.groups if title != "Photos"),
            {"title": "Note", "fields": [_field(record["note"])]},
        ],
        "pull": [_field(pull[name]) for name in MACHINE],
        **{name: [_field(field) for field in form if not field.is_hidden and field.name != "paper"]
           for name, form in _visits().items()},
        "consent_words": dict(consent_words()),
        "photos": [{"kind": kind, "label": label} for kind, label in KINDS.items()],
        "checklist": [_check(check) for check in checks_for()],
        "cautions": {
            place: [{"text": str(c), "pulled": c.step in PULL_ONLY} for c in cautions_for(*steps)]
            for place, steps in _CAUTIONS.items()
        },
        "caution_steps": {
            step: [str(c) for c in all_cautions() if c.step is step] for step in Step
        },
        "outcomes": dict(CompletionRecord.Outcome.choices),
    }  # fmt: skip


def _visits() -> dict[str, forms.Form]:
    return {"attempt": AttemptForm(), "consent": ConsentForm(), "appointment": AppointmentForm()}


class _NoOrder:
    """An order that has no pulls yet: the form's questions are the same for every order."""

    pulls = PullRecord.objects.none()
    method = "SPLIT"


def _group(title: str, fields) -> dict:
    shown = [_field(field) for field in fields if field.name not in _LEFT_OUT]
    return {"title": title, "fields": shown}


def _field(bound) -> dict:
    field = bound.field
    asked = {
        "name": bound.name,
        "label": str(bound.label),
        "kind": _kind(field),
        "help": str(field.help_text),
        "required": field.required,
    }
    if isinstance(field, forms.ChoiceField):
        asked["choices"] = [[str(code), str(label)] for code, label in field.choices]
    if isinstance(field.initial, int | float | str):
        asked["initial"] = field.initial
    return asked


def _kind(field: forms.Field) -> str:
    if isinstance(field, forms.BooleanField):
        return "tick"
    if isinstance(field, forms.ChoiceField):
        return "choice"
    if isinstance(field, forms.DateField | forms.DateTimeField):
        return "moment" if isinstance(field, forms.DateTimeField) else "day"
    if isinstance(field, forms.IntegerField):
        return "number"
    return "words" if isinstance(field.widget, forms.Textarea) else "text"


def _check(check) -> dict:
    return {
        "key": check.check,
        "shows": check.shows,
        "label": check.label,
        "criterion": check.criterion,
        "answer": check.answer,
        "low": check.low,
        "high": check.high,
        "if_low": check.if_low,
        "if_high": check.if_high,
        "unit": check.unit,
        "stop": check.stop,
        "why": check.why,
    }
