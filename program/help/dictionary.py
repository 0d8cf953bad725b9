"""The data dictionary as a page: what the record keeps, from the tables themselves.

Generated whenever the guides are built, so it cannot differ from the program.
"""

from collections.abc import Iterable, Iterator
from inspect import cleandoc

from django.apps import apps
from django.db.models import Field, Model

from program.queries.seals import streams
from program.submissions.tables import SHEETS

APPS = {
    "services_inventory": "The inventory",
    "replacements": "The replacements",
    "program": "The program",
}
_HEAD = """# Data dictionary

What the record keeps, table by table, as of this version. *Sealed* tables are only ever added to,
and each block of their rows is sealed with the one before.
"""


def dictionary() -> str:
    """Return the page, in Markdown."""
    parts = [_HEAD, "## The annual submission"]
    for sheet in SHEETS.values():
        columns = ((column.heading, column.comment) for column in sheet.columns)
        parts += [f"### {sheet.name}", *_rows(columns)]
    for label, title in APPS.items():
        parts.append(f"## {title}")
        for model in sorted(apps.get_app_config(label).get_models(), key=lambda m: m.__name__):
            parts += _table(model)
    return "\n\n".join(parts) + "\n"


def _table(model: type[Model]) -> Iterator[str]:
    yield f"### {str(model._meta.verbose_name).capitalize()}"
    told = cleandoc(model.__doc__ or "").split("\n\n")[0]
    yield told + (" *Sealed.*" if model._meta.label in streams() else "")
    kept = [field for field in model._meta.concrete_fields if not field.primary_key]
    yield from _rows((f"`{field.name}`", _holds(field)) for field in kept)


def _rows(columns: Iterable[tuple[str, str]]) -> Iterator[str]:
    rows = [f"| {_cell(name)} | {_cell(holds)} |" for name, holds in columns]
    yield "\n".join(["| column | holds |", "|---|---|", *rows])


def _holds(field: Field) -> str:
    words = [_kind(field)]
    if field.help_text:
        words.append(str(field.help_text))
    if field.choices:
        words.append("one of " + ", ".join(str(label) for _, label in field.flatchoices if label))
    if field.null:
        words.append("may be empty")
    return "; ".join(words)


_KINDS = {
    "BooleanField": "yes or no",
    "CharField": "text",
    "DateField": "day",
    "DateTimeField": "moment",
    "DecimalField": "number",
    "FileField": "file",
    "FloatField": "number",
    "ImageField": "picture",
    "JSONField": "values by name",
    "TextField": "text",
    "TimeField": "time of day",
    "UUIDField": "identifier",
}


def _kind(field: Field) -> str:
    if field.is_relation:
        return f"its {field.related_model._meta.verbose_name}"
    return _KINDS.get(field.get_internal_type(), "whole number")


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
