"""The sheets of the annual submission: one table of columns that serves every writer."""

import csv
from collections import namedtuple
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from importlib.resources import files
from operator import itemgetter
from types import MappingProxyType
from typing import Any

from services_inventory.domain.classification import Category
from services_inventory.domain.materials import Connector, Material

CODES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "category": tuple(category.value for category in Category),
        "connector": tuple(connector.value for connector in Connector),
        "material": tuple(material.value for material in Material),
        "yes_no": ("YES", "NO"),
        "cause": ("FOUND", "REPLACED", "CORRECTED"),
    }
)
DATES = {"ISO": ("yyyy-mm-dd", "%Y-%m-%d"), "US": ("mm/dd/yyyy", "%m/%d/%Y")}


@dataclass(frozen=True)
class Column:
    """One column: `kind` is text, int, number, date or figure; `codes` names its closed set.

    A figure is whatever a total can be: a whole number, a rate, a day or a word.

    A column of the service lines says where its value comes from: `record` is the path of a value
    of the line (of several, the first that is set), `weighed` what is taken of a `ReadLine` of
    `queries/submission_lines`.
    """

    key: str
    heading: str
    kind: str
    width: int
    comment: str
    codes: str = ""
    record: str = ""
    weighed: str = ""


@dataclass(frozen=True)
class Sheet:
    """One sheet: its standard name, its columns, and the named tuple of them that a row is."""

    key: str
    name: str
    columns: tuple[Column, ...]
    row: type[Any]
    needed: tuple[str, ...] = ()  # columns that a recount cannot do without

    def column(self, key: str) -> Column:
        """Return the column with this key."""
        return next(column for column in self.columns if column.key == key)


def _sheet(key: str, name: str, *rows: tuple, needed: tuple[str, ...] = ()) -> Sheet:
    columns = tuple(Column(*said) for said in rows)
    return Sheet(key, name, columns, namedtuple("Row", [c.key for c in columns]), needed)


def _line_columns() -> Iterator[tuple]:
    """The columns of the service lines: adding one is a row in this file."""
    with (files(__package__) / "line_columns.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            *said, width, comment = itemgetter(*_OF_A_LINE)(row)
            yield *said[:3], int(width), comment, *said[3:]


_OF_A_LINE = ("key", "heading", "kind", "codes", "record", "weighed", "width", "comment")
_PLACE = (
    ("location_id", "Location id", "text", 16, "The utility's own identifier of the line."),
    ("address", "Address", "text", 34, "Street address, or a unique locational identifier."),
)
_CONNECTOR = (
    ("connector_before", "Connector before", "text", 11, "Before the work.", "connector"),
    ("connector_replaced", "Connector replaced", "text", 10, "In this work.", "yes_no"),
)

LINES = _sheet(
    "lines", "Service lines", *_line_columns(), needed=("location_id", "category", "connector")
)

REPLACEMENTS = _sheet(
    "replacements",
    "Replacements",
    ("work_order", "Work order", "text", 14, "The utility's number of the job."),
    *_PLACE,
    ("neighborhood", "Neighborhood", "text", 18, "Area of the replacement plan."),
    ("category_before", "Category before", "text", 11, "Before the work.", "category"),
    ("category_after", "Category after", "text", 11, "After the work.", "category"),
    ("completed_on", "Completed on", "date", 12, "Last lead or GRR portion out of service."),
    ("program_year", "Program year", "int", 8, "Program year of that day."),
    ("counted", "Counted", "text", 8, "Counts as a full replacement.", "yes_no"),
    ("system_material_after", "System side after", "text", 14, "New material.", "material"),
    ("customer_material_after", "Customer side after", "text", 14, "New.", "material"),
    ("method", "Method", "text", 20, "How the line was replaced."),
    ("length_ft", "Length, ft", "number", 9, "Length of new pipe in feet."),
    ("contractor", "Contractor", "text", 20, "Who did the work."),
    ("accepted_on", "Accepted on", "date", 12, "Day the utility accepted the record."),
    ("system_material_before", "System side before", "text", 14, "Replaced or kept.", "material"),
    ("customer_material_before", "Customer side before", "text", 14, "Or kept.", "material"),
    *_CONNECTOR,
    ("pull", "Pull record", "text", 10, "Number of the pull; empty: the line was not pulled."),
    ("pull_log", "Log of the pull, SHA-256", "text", 22, "Of the file that the machine wrote."),
    ("notice_on", "Household told on", "date", 12, "Day of the notice of the work."),
    ("flushing_on", "Flushing told on", "date", 12, "Day of the flushing instructions."),
    ("filter_on", "Filter given on", "date", 12, "Day the household got its filter."),
    (
        "sample_offered_on",
        "Sample offered on",
        "date",
        12,
        "With the job, or by letter.",
    ),
    ("sample_taken_on", "Sample taken on", "date", 12, "As said with the finished job."),
    ("sample_result", "Sample result", "text", 26, "Day and metals, as the laboratory wrote them."),
    ("remarks", "Remarks", "text", 30, "Anything a reader should know."),
    needed=("location_id", "category_before", "program_year", "counted"),
)

PARTIALS = _sheet(
    "partials",
    "Partial replacements",
    ("work_order", "Work order", "text", 14, "The utility's number of the job."),
    *_PLACE,
    ("category_before", "Category before", "text", 11, "Before the work.", "category"),
    ("category_after", "Category after", "text", 11, "After the work.", "category"),
    ("completed_on", "Completed on", "date", 12, "Day the work was done."),
    ("program_year", "Program year", "int", 8, "Program year of that day."),
    ("occasion", "Occasion", "text", 26, "Emergency repair or planned main work."),
    ("portion_left", "Portion left", "text", 20, "What stayed in the ground."),
    ("offered_on", "Rest offered on", "date", 12, "Day the owner was offered the rest."),
    ("remarks", "Remarks", "text", 30, "Anything a reader should know."),
    *_CONNECTOR,
    needed=("location_id", "category_before", "program_year"),
)

REFUSALS = _sheet(
    "refusals",
    "No access or consent",
    *_PLACE,
    ("category", "Category", "text", 11, "Category of the whole line.", "category"),
    ("reason", "Reason", "text", 22, "Refused, no answer, no legal access."),
    ("attempts", "Attempts", "int", 9, "How often the owner was asked."),
    ("methods", "Methods", "int", 9, "How many different ways."),
    ("first_attempt_on", "First attempt", "date", 12, "Day of the first."),
    ("last_attempt_on", "Last attempt", "date", 12, "Day of the latest."),
    ("attempts_made", "Attempts made", "text", 50, "Each one: day, method, outcome."),
    ("reasonable_effort", "Reasonable effort", "text", 10, "As the rule asks.", "yes_no"),
    ("next_due_on", "Next due", "date", 12, "When the owner is to be asked again."),
    needed=("location_id",),
)

NON_LEAD_BASES = _sheet(
    "non_lead_bases",
    "Non-lead by basis",
    ("system_basis", "System side basis", "text", 40, "Record or method; empty: none on record."),
    ("customer_basis", "Customer side basis", "text", 40, "Record or method; empty: none."),
    ("lines", "Lines", "int", 12, "Non-lead lines that rest on these two."),
    needed=("lines",),
)

CHANGES = _sheet(
    "changes",
    "Changes",
    *_PLACE,
    ("from_category", "From", "text", 11, "Category before.", "category"),
    ("to_category", "To", "text", 11, "Category after.", "category"),
    ("cause", "Cause", "text", 12, "New evidence, work done, or a correction.", "cause"),
    ("effective_on", "Effective on", "date", 12, "First day of the new category."),
    ("program_year", "Program year", "int", 8, "Program year of that day."),
    ("recorded_on", "Recorded on", "date", 12, "Day it came to the record."),
    ("reason", "Reason", "text", 40, "Why it changed."),
    ("document", "Document", "text", 20, "Reference of the evidence on file."),
    needed=("location_id", "from_category", "to_category", "cause", "program_year"),
)

SET_ASIDE = _sheet(
    "set_aside",
    "Findings set aside",
    *_PLACE,
    ("portion", "Portion", "text", 14, "Of which portion something was seen."),
    ("seen", "What was seen", "text", 50, "More protective than what stands."),
    ("how", "How", "text", 26, "Decided by two people, or taken back."),
    ("stands", "What stands", "text", 20, "By the decision."),
    ("decided_by", "By", "text", 16, "Who proposed it or took it back."),
    ("agreed_by", "Agreed by", "text", 16, "The second person."),
    ("set_aside_on", "On", "date", 12, "Day it took effect in the record."),
    ("document", "Document", "text", 24, "What shows it."),
    ("reason", "Reason", "text", 50, "Why."),
    ("holds", "Holds", "text", 8, "Not taken back since.", "yes_no"),
)


def _filed_and_now(key: str, heading: str, codes: str) -> tuple[tuple, tuple]:
    return (
        (f"{key}_filed", f"{heading}, filed", "text", 12, "As filed.", codes),
        (f"{key}_now", f"{heading}, now", "text", 12, "As is known now.", codes),
    )


CORRECTIONS = _sheet(
    "corrections",
    "Corrections",
    *_PLACE,
    *_filed_and_now("category", "Category", "category"),
    ("since", "Since", "date", 12, "First day of what is known now."),
    ("recorded_on", "Recorded on", "date", 12, "Day it came to the record."),
    ("evidence", "Evidence", "text", 70, "What came to the record since what was filed."),
    ("totals_moved", "Totals moved", "text", 22, "Which totals this line moves."),
    *_filed_and_now("system", "System side", "material"),
    *_filed_and_now("customer", "Customer side", "material"),
    *_filed_and_now("system_was_lead", "System side was lead", "yes_no"),
    *_filed_and_now("connector", "Connector", "connector"),
    *_filed_and_now("rests", "Rests on connectors", "yes_no"),
    ("reason_now", "Reason now", "text", 50, "Why the line has the category it has now."),
    needed=("location_id", "category_filed", "category_now", "connector_filed", "connector_now"),
)

FILED_AND_NOW = _sheet(
    "filed_and_now",
    "Totals, filed and now",
    ("code", "Code", "text", 14, "As in the summary."),
    ("heading", "Total", "text", 46, "What it counts."),
    ("filed", "Filed", "figure", 22, "In the submission that is amended."),
    ("now", "Now", "figure", 22, "In this one."),
    ("moved_by", "Moved by", "text", 14, "Empty: it did not move."),
    needed=("code", "filed", "now"),
)

NOTICES = _sheet(
    "notices",
    "Notices",
    *_PLACE,
    ("kind", "Kind", "text", 18, "Which notice."),
    ("language", "Language", "text", 9, "Language tag (BCP 47)."),
    ("due_on", "Due on", "date", 12, "Last day to send it."),
    ("sent_on", "Sent on", "date", 12, "Day it was sent."),
    ("method", "Method", "text", 12, "Post, hand, or another approved way."),
    ("outcome", "Outcome", "text", 16, "Delivered, returned, or not known."),
    ("batch", "Batch", "text", 14, "Batch it was printed in."),
)

VALUES = _sheet(
    "values",
    "Values used",
    ("id", "Value", "text", 28, "Name of the value of the rule."),
    ("value", "Used", "figure", 20, "What was used."),
    ("unit", "Unit", "text", 12, "Unit of the value."),
    ("citation", "Citation", "text", 22, "Paragraph it stands in."),
    ("source", "Source", "text", 30, "Document it was read in."),
    ("mark", "Mark", "text", 9, "seen: read there; memory: not yet read; derived: computed."),
    ("ticked_off_by", "Ticked off by", "text", 20, "Who has read the rule's own text."),
    ("ticked_off_on", "Ticked off on", "date", 12, "When."),
)

SHEETS: Mapping[str, Sheet] = MappingProxyType(
    {
        sheet.key: sheet
        for sheet in (
            REPLACEMENTS, PARTIALS, REFUSALS, CHANGES, NOTICES, NON_LEAD_BASES, SET_ASIDE,
            CORRECTIONS, FILED_AND_NOW, VALUES, LINES,
        )
    }
)  # fmt: skip
OF_AN_AMENDMENT = frozenset({"corrections", "filed_and_now"})


_KEPT = tuple(field.name for field in fields(Column))[:6]  # what of a column is written to a file


def lists_now() -> dict:
    """Return every list's name and columns, and the codes, as plain JSON to keep with a freeze."""
    return {
        "sheets": [
            [
                key,
                sheet.name,
                [[getattr(column, said) for said in _KEPT] for column in sheet.columns],
            ]
            for key, sheet in SHEETS.items()
        ],
        "codes": {key: list(codes) for key, codes in CODES.items()},
    }


def sheets_of(kept: Mapping) -> dict[str, tuple[str, tuple[Column, ...]]]:
    """Return the lists that `lists_now` once told of: name and columns by key, in their order.

    Raises:
        KeyError: this version no longer has a list or a column of them.

    """
    found = {}
    for key, name, columns in kept["sheets"]:
        now = SHEETS[key]
        known = {column.key: column for column in now.columns}
        said = [dict(zip(_KEPT, column, strict=True)) for column in columns]
        found[key] = (name, tuple(replace(known[one["key"]], **one) for one in said))
    return found
