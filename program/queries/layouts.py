"""Layouts as their pages show them, and a layout tried on the first rows of the record."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from difflib import unified_diff
from itertools import islice
from typing import NamedTuple

from django.utils.timezone import localdate

from program.models import LayoutVersion, PoolFreeze, Submission
from program.queries.rule_values import values_used
from program.queries.submission_lines import known_on, line_rows
from program.queries.submission_rows import (
    change_rows,
    notice_rows,
    refusal_rows,
    replacement_rows,
    set_aside_rows,
)
from program.rules import never_had_lead, rules_in_force
from program.submissions.layouts import STANDARD, Layout, layout_in_full, shipped_layouts
from program.submissions.rows import LineRow, PartialRow, ReplacementRow
from program.submissions.tables import CODES, DATES
from services_inventory.domain.days import day_told

FIRST = 5
LOOKED_THROUGH = 4_000  # lines, for one of each category


class Choice(NamedTuple):
    """One layout that a submission can be written in."""

    ref: str
    label: str


@dataclass(frozen=True)
class TriedSheet:
    """The first rows of one sheet, as a layout writes them."""

    key: str
    name: str
    headings: list[str]
    rows: list[list[str]]


def own_layouts() -> list[LayoutVersion]:
    """Return the latest version of each layout that staff wrote, by name."""
    latest: dict[str, LayoutVersion] = {}
    for version in LayoutVersion.objects.order_by("version"):
        latest[version.layout_id] = version
    return sorted(latest.values(), key=lambda version: (version.name, version.layout_id))


def layout_versions(layout_id: str) -> list[LayoutVersion]:
    """Return every version of an own layout, the latest first."""
    return list(LayoutVersion.objects.filter(layout_id=layout_id).order_by("-version"))


def shipped_layout(layout_id: str) -> Layout | None:
    """Return the shipped layout of an id, or None."""
    return next((one for one in shipped_layouts() if one.id == layout_id), None)


def layout_choices() -> list[Choice]:
    """Return what a submission can be written in: the standard, the agency's own, the examples."""
    own = [
        Choice(v.ref, f"{v.name}, version {v.version} of {day_told(localdate(v.saved_at))}")
        for v in own_layouts()
    ]
    examples = [Choice(one.id, one.name) for one in shipped_layouts() if one.id != STANDARD.id]
    return [Choice(STANDARD.id, STANDARD.name), *own, *examples]


def layout_last_used(ref: str | None = None) -> str:
    """Return the choice that a submission was frozen in, the last one if none is named.

    Of an own layout it is the latest version; of one that is gone, or was a file, the standard.
    """
    if ref is None:
        refs = Submission.objects.order_by("-id").values_list("facts__layout_ref", flat=True)
        ref = refs.first() or STANDARD.id
    layout_id = ref.partition("@")[0]
    for version in own_layouts():
        if version.layout_id == layout_id:
            return version.ref
    return layout_id if shipped_layout(layout_id) else STANDARD.id


def layout_words(ref: str) -> tuple[str, str, int | None]:
    """Return what a submission's layout is called, and the id and version of its page, if any."""
    layout_id, _, number = (ref or STANDARD.id).partition("@")
    shipped = shipped_layout(layout_id)
    if shipped is not None:
        return shipped.name, layout_id, None
    found = LayoutVersion.objects.filter(layout_id=layout_id, version=number or 1).first()
    return (str(found), layout_id, found.version) if found else (f"The file {ref}", "", None)


def text_changes(before: str, after: str) -> list[str]:
    """Return the lines that differ between two texts, marked + and -."""
    lines = unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=1)
    return list(lines)[2:]


def layout_tried(layout: Layout, as_of: date, known_at: datetime) -> list[TriedSheet]:
    """Return the first rows of every sheet of today's record, as the layout writes them."""
    rows = dict(_first_rows(as_of, known_at))
    return [
        TriedSheet(
            key,
            layout.sheet_name(key),
            [column.heading for column in layout.columns(key)],
            # An amendment's lists have no rows here.
            [_written(layout, key, row) for row in layout.shaped(key, rows.get(key, ()))],
        )
        for key in layout_in_full(STANDARD).sheets
    ]


def _first_rows(as_of: date, known_at: datetime) -> Iterator[tuple[str, list[tuple]]]:
    rules = rules_in_force(known_at)
    never = never_had_lead(as_of)
    pool = PoolFreeze.objects.filter(frozen_for__lte=as_of).order_by("-program_year").first()
    known = known_on(as_of, known_at, rules, never, pool.pk if pool else None)
    yield "lines", _of_each_category(islice(line_rows(known), LOOKED_THROUGH))
    work = list(islice(replacement_rows(as_of, known_at, rules), LOOKED_THROUGH))
    yield "replacements", [row for row in work if isinstance(row, ReplacementRow)][:FIRST]
    yield "partials", [row for row in work if isinstance(row, PartialRow)][:FIRST]
    yield "refusals", list(islice(refusal_rows(as_of, known_at, rules), FIRST))
    yield "changes", list(islice(change_rows(as_of, known_at, rules), FIRST))
    yield "notices", list(islice(notice_rows(as_of, rules), FIRST))
    yield "set_aside", list(islice(set_aside_rows(as_of, known_at), FIRST))
    yield "values", list(values_used(rules, as_of)[:FIRST])


def _of_each_category(rows: Iterable[LineRow]) -> list[LineRow]:
    """Return the first rows, and the first of every category that is not among them."""
    shown: list[LineRow] = []
    for row in rows:
        seen = {one.category for one in shown}
        if len(shown) < FIRST or row.category not in seen:
            shown.append(row)
        if len(seen) == len(CODES["category"]):
            break
    return shown


def _written(layout: Layout, key: str, row: tuple) -> list[str]:
    places, columns = layout.positions(key), layout.columns(key)
    day = DATES[layout.dates][1]
    return [
        _cell(row[place], layout.words(column), day)
        for place, column in zip(places, columns, strict=True)
    ]


def _cell(value: object, words, day: str) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.strftime(day)
    return words.get(value, str(value)) if words else str(value)
