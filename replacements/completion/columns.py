"""The columns of the record form, from the same fields as the page's own form.

One table serves the form that is sent out, the one that is read, and the one that returns.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from django import forms

from ..forms.completions import GROUPS, CompletionForm
from ..forms.pulls import MACHINE, PullForm
from .photos import KINDS

ORDER, REASONS, LOG, PULLED_ON = "order", "reasons", "log", "pulled_on"
YES = "yes"
# What stands in the last column of a row that is in already; such a row is passed over.
LOCKED = "In already, and locked"
_PHOTO_KINDS = tuple(kind for kind in KINDS if kind != "OTHER")


class Cell(StrEnum):
    """What a column holds."""

    GIVEN = "GIVEN"
    TEXT = "TEXT"
    NUMBER = "NUMBER"
    DAY = "DAY"
    TICK = "TICK"
    CHOICE = "CHOICE"
    FILE = "FILE"
    REASONS = "REASONS"


@dataclass(frozen=True)
class Column:
    """One column: its name here, its heading there, what it holds, and its group."""

    name: str
    heading: str
    cell: Cell
    group: str
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def shown_choices(self) -> list[str]:
        """Return the words of a drop-down list."""
        if self.cell is Cell.TICK:
            return [YES]
        return [label for code, label in self.choices if code]


@cache
def columns() -> tuple[Column, ...]:
    """Return the columns in their order."""
    given = [
        Column(ORDER, "Work order", Cell.GIVEN, "Order"),
        Column("address", "Address", Cell.GIVEN, "Order"),
        Column("old_pipe", "Old pipe", Cell.GIVEN, "Order"),
        Column("new_pipe", "New pipe", Cell.GIVEN, "Order"),
        Column("ordered_ft", "Ordered length, ft", Cell.GIVEN, "Order"),
    ]
    fields = CompletionForm.base_fields
    outcome = [_of_field(name, fields[name], "Outcome") for name in ("outcome", "finished_on")]
    grouped = [
        _of_field(name, fields[name], title)
        for title, names in GROUPS.items()
        for name in names.split()
        if name != "pull"
    ]
    machine = [_of_field(name, PullForm.base_fields[name], "Pull") for name in MACHINE]
    photos = [
        Column(f"photo_{kind}", f"Photo: {KINDS[kind]} (file)", Cell.FILE, "Photos")
        for kind in _PHOTO_KINDS
    ]
    return (
        *given,
        *outcome,
        *grouped,
        Column(LOG, "Pull log (file)", Cell.FILE, "Pull"),
        Column(PULLED_ON, "Pulled on", Cell.DAY, "Pull"),
        *machine,
        *photos,
        _of_field("note", fields["note"], "Note"),
        Column(REASONS, "Why it came back", Cell.REASONS, "Answer"),
    )


def _of_field(name: str, field: forms.Field, group: str) -> Column:
    choices: tuple[tuple[str, str], ...] = ()
    if isinstance(field, forms.BooleanField):
        cell = Cell.TICK
    elif isinstance(field, forms.ChoiceField):
        cell, choices = Cell.CHOICE, tuple((str(c), str(label)) for c, label in field.choices)
    elif isinstance(field, forms.DateField):
        cell = Cell.DAY
    elif isinstance(field, forms.IntegerField):
        cell = Cell.NUMBER
    else:
        cell = Cell.TEXT
    return Column(name, str(field.label), cell, group, choices)


@cache
def by_heading() -> dict[str, Column]:
    """Return the columns by their heading as it is compared: lower case, single spaces."""
    return {heading_key(column.heading): column for column in columns()}


def heading_key(text) -> str:
    """Return a heading as it is compared."""
    return " ".join(str(text or "").lower().split())
