"""The sheets of the annual submission: their rows, their columns, their totals.

One table of columns and one of totals serve every writer. Nothing here counts: the caller says
the totals, the audit recounts them, and a person can do the same from `Total.where`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

THE_YEAR = "(program year)"  # stands for the submission's own program year in a condition

CODES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "category": ("LEAD", "GRR", "UNKNOWN", "NON_LEAD"),
        "connector": ("LEAD", "NON_LEAD", "UNKNOWN", "NONE"),
        "material": (
            "LEAD",
            "LEAD_LINED_GALVANIZED",
            "GALVANIZED",
            "COPPER",
            "PLASTIC",
            "IRON",
            "BRASS",
            "OTHER_NON_LEAD",
            "NON_LEAD",
            "UNKNOWN",
            "NONE",
        ),
        "yes_no": ("YES", "NO"),
        "cause": ("FOUND", "REPLACED", "CORRECTED"),
    }
)


class LineRow(NamedTuple):
    """One service line on the day of the submission; dates are `date`, unknown is None."""

    location_id: str
    address: str
    neighbourhood: str
    latitude: float | None
    longitude: float | None
    category: str
    reason: str
    citation: str
    since: date | None
    system_material: str
    system_basis: str
    system_observed_on: date | None
    system_points_seen: int | None
    customer_material: str
    customer_basis: str
    customer_observed_on: date | None
    customer_points_seen: int | None
    system_was_lead: str
    connector: str
    connector_basis: str
    connector_location: str
    line_use: str
    installed_year: int | None
    size_in: float | None
    under_control: str
    in_replacement_pool: str
    in_validation_pool: str
    document: str


class ReplacementRow(NamedTuple):
    """One replacement that left no lead or galvanized-requiring-replacement portion."""

    work_order: str
    location_id: str
    address: str
    neighbourhood: str
    category_before: str
    category_after: str
    completed_on: date | None
    program_year: int | None
    counted: str
    system_material_after: str
    customer_material_after: str
    method: str
    length_ft: float | None
    contractor: str
    accepted_on: date | None
    remarks: str


class PartialRow(NamedTuple):
    """One replacement after which some lead or GRR portion stayed."""

    work_order: str
    location_id: str
    address: str
    category_before: str
    category_after: str
    completed_on: date | None
    program_year: int | None
    occasion: str
    portion_left: str
    offered_on: date | None
    remarks: str


class AccessRefusalRow(NamedTuple):
    """One line not replaced for lack of access or consent, with the attempts made."""

    location_id: str
    address: str
    category: str
    reason: str
    attempts: int
    methods: int
    first_attempt_on: date | None
    last_attempt_on: date | None
    attempts_made: str
    reasonable_effort: str
    next_due_on: date | None


class ChangeRow(NamedTuple):
    """One change of a line's category since the last submission."""

    location_id: str
    address: str
    from_category: str
    to_category: str
    cause: str
    effective_on: date | None
    program_year: int | None
    recorded_on: date | None
    reason: str
    document: str


class NoticeRow(NamedTuple):
    """One notice owed to an address: by when, sent how, and what came back."""

    location_id: str
    address: str
    kind: str
    language: str
    due_on: date | None
    sent_on: date | None
    method: str
    outcome: str
    batch: str


class ValueUsed(NamedTuple):
    """One value of the rule that the submission was computed by."""

    id: str
    value: str
    unit: str
    citation: str
    source: str
    mark: str
    ticked_off_by: str | None = None
    ticked_off_on: date | None = None

    @property
    def settled(self) -> bool:
        """Read in the rule's own text, or ticked off by a person who did."""
        return self.mark == "seen" or self.ticked_off_by is not None


class RateYear(NamedTuple):
    """One program year of the replacement rate; None where it cannot be computed."""

    program_year: int
    pool: int | None
    replaced: int
    annual_rate: Fraction | None
    cumulative_rate: Fraction | None


class KeyedFact(NamedTuple):
    """One line of the validation report or the deferred-deadline sheet."""

    heading: str
    value: str
    citation: str
    mark: str


@dataclass(frozen=True)
class Column:
    """One column: `kind` is text, int, number or date; `codes` names its closed set, if any."""

    key: str
    heading: str
    kind: str
    width: int
    comment: str
    codes: str = ""


@dataclass(frozen=True)
class Sheet:
    """One sheet: its standard name, its row type and its columns in the row's own order."""

    key: str
    name: str
    row: type
    columns: tuple[Column, ...]
    needed: tuple[str, ...] = ()  # columns that a recount cannot do without

    def column(self, key: str) -> Column:
        """Return the column with this key."""
        return next(column for column in self.columns if column.key == key)


def _columns(*rows: tuple) -> tuple[Column, ...]:
    return tuple(Column(*row) for row in rows)


_PLACE = (
    ("location_id", "Location id", "text", 16, "The utility's own identifier of the line."),
    ("address", "Address", "text", 34, "Street address, or a unique locational identifier."),
)

LINES = Sheet(
    "lines",
    "Service lines",
    LineRow,
    _columns(
        *_PLACE,
        ("neighbourhood", "Neighbourhood", "text", 18, "Area of the replacement plan."),
        ("latitude", "Latitude", "number", 11, "Degrees north, WGS 84 (EPSG:4326)."),
        ("longitude", "Longitude", "number", 11, "Degrees east, WGS 84 (EPSG:4326)."),
        ("category", "Category", "text", 11, "Category of the whole line.", "category"),
        ("reason", "Reason", "text", 40, "Why the line has this category."),
        ("citation", "Citation", "text", 18, "Paragraph of the rule that decides the category."),
        ("since", "Category since", "date", 12, "First day of the present category."),
        ("system_material", "System side", "text", 14, "From main to curb stop.", "material"),
        ("system_basis", "System side basis", "text", 20, "Record or method that shows it."),
        ("system_observed_on", "System side seen on", "date", 12, "Date of that evidence."),
        ("system_points_seen", "System side points", "int", 8, "Points where pipe was seen."),
        ("customer_material", "Customer side", "text", 14, "Curb stop to inlet.", "material"),
        ("customer_basis", "Customer side basis", "text", 20, "Record or method that shows it."),
        ("customer_observed_on", "Customer side seen on", "date", 12, "Date of that evidence."),
        ("customer_points_seen", "Customer side points", "int", 8, "Points where pipe was seen."),
        ("system_was_lead", "System side was lead", "text", 12, "YES, NO, or empty: not known."),
        ("connector", "Connector", "text", 11, "Gooseneck or pigtail at the main.", "connector"),
        ("connector_basis", "Connector basis", "text", 20, "Record or method that shows it."),
        ("connector_location", "Connector location", "text", 26, "Where the connector lies."),
        ("line_use", "Use", "text", 12, "Intended use; every use is in the inventory."),
        ("installed_year", "Installed", "int", 9, "Year the line was laid, where recorded."),
        ("size_in", "Size, in", "number", 8, "Nominal size in inches."),
        ("under_control", "Under control", "text", 10, "The system may replace it.", "yes_no"),
        ("in_replacement_pool", "In replacement pool", "text", 10, "On its list.", "yes_no"),
        ("in_validation_pool", "In validation pool", "text", 10, "On its list.", "yes_no"),
        ("document", "Document", "text", 20, "Reference of the evidence on file."),
    ),
    ("location_id", "category", "connector"),
)

REPLACEMENTS = Sheet(
    "replacements",
    "Replacements",
    ReplacementRow,
    _columns(
        ("work_order", "Work order", "text", 14, "The utility's number of the job."),
        *_PLACE,
        ("neighbourhood", "Neighbourhood", "text", 18, "Area of the replacement plan."),
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
        ("remarks", "Remarks", "text", 30, "Anything a reader should know."),
    ),
    ("location_id", "category_before", "program_year", "counted"),
)

PARTIALS = Sheet(
    "partials",
    "Partial replacements",
    PartialRow,
    _columns(
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
    ),
    ("location_id", "category_before", "program_year"),
)

REFUSALS = Sheet(
    "refusals",
    "No access or consent",
    AccessRefusalRow,
    _columns(
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
    ),
    ("location_id",),
)

CHANGES = Sheet(
    "changes",
    "Changes",
    ChangeRow,
    _columns(
        *_PLACE,
        ("from_category", "From", "text", 11, "Category before.", "category"),
        ("to_category", "To", "text", 11, "Category after.", "category"),
        ("cause", "Cause", "text", 12, "New evidence, work done, or a correction.", "cause"),
        ("effective_on", "Effective on", "date", 12, "First day of the new category."),
        ("program_year", "Program year", "int", 8, "Program year of that day."),
        ("recorded_on", "Recorded on", "date", 12, "Day it came to the record."),
        ("reason", "Reason", "text", 40, "Why it changed."),
        ("document", "Document", "text", 20, "Reference of the evidence on file."),
    ),
    ("location_id", "from_category", "to_category", "cause", "program_year"),
)

NOTICES = Sheet(
    "notices",
    "Notices",
    NoticeRow,
    _columns(
        *_PLACE,
        ("kind", "Kind", "text", 18, "Which notice."),
        ("language", "Language", "text", 9, "Language tag (BCP 47)."),
        ("due_on", "Due on", "date", 12, "Last day to send it."),
        ("sent_on", "Sent on", "date", 12, "Day it was sent."),
        ("method", "Method", "text", 12, "Post, hand, or another approved way."),
        ("outcome", "Outcome", "text", 16, "Delivered, returned, or not known."),
        ("batch", "Batch", "text", 14, "Batch it was printed in."),
    ),
)

VALUES = Sheet(
    "values",
    "Values used",
    ValueUsed,
    _columns(
        ("id", "Value", "text", 28, "Name of the value of the rule."),
        ("value", "Used", "text", 20, "What was used."),
        ("unit", "Unit", "text", 12, "Unit of the value."),
        ("citation", "Citation", "text", 22, "Paragraph it stands in."),
        ("source", "Source", "text", 30, "Document it was read in."),
        ("mark", "Mark", "text", 9, "seen: read there; memory: not yet read; derived: computed."),
        ("ticked_off_by", "Ticked off by", "text", 20, "Who has read the rule's own text."),
        ("ticked_off_on", "Ticked off on", "date", 12, "When."),
    ),
)

SHEETS: Mapping[str, Sheet] = MappingProxyType(
    {s.key: s for s in (REPLACEMENTS, PARTIALS, REFUSALS, CHANGES, NOTICES, VALUES, LINES)}
)

Where = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Total:
    """One total: rows of `sheet` that meet any one of `where` (each a list of column = code)."""

    code: str
    heading: str
    sheet: str
    where: tuple[Where, ...] = ((),)


def _category(code: str) -> tuple[Where, ...]:
    return ((("category", code),),)


def _replaced(category: str, this_year: bool = True) -> tuple[Where, ...]:
    rows: Where = (("category_before", category), ("counted", "YES"))
    return ((*rows, ("program_year", THE_YEAR)),) if this_year else (rows,)


def _partial(category: str, this_year: bool = True) -> tuple[Where, ...]:
    rows: Where = (("category_before", category),)
    return ((*rows, ("program_year", THE_YEAR)),) if this_year else (rows,)


def _change(before: str, after: str) -> Where:
    return (
        ("from_category", before),
        ("to_category", after),
        ("cause", "FOUND"),
        ("program_year", THE_YEAR),
    )


TOTALS: tuple[Total, ...] = (
    Total("A1", "Lead service lines", "lines", _category("LEAD")),
    Total("A2", "Galvanized requiring replacement", "lines", _category("GRR")),
    Total("A3", "Lead status unknown", "lines", _category("UNKNOWN")),
    Total("A4", "Non-lead service lines", "lines", _category("NON_LEAD")),
    Total("A5", "All service lines", "lines"),
    Total("A6", "Lead connectors", "lines", ((("connector", "LEAD"),),)),
    Total("A7", "Connectors of unknown material", "lines", ((("connector", "UNKNOWN"),),)),
    Total("A8", "Full replacements of lead lines", "replacements", _replaced("LEAD")),
    Total("A9", "Full replacements of GRR lines", "replacements", _replaced("GRR")),
    Total("A10", "Partial replacements of lead lines", "partials", _partial("LEAD")),
    Total("A11", "Partial replacements of GRR lines", "partials", _partial("GRR")),
    Total("A8_TO_DATE", "Full, lead, all years", "replacements", _replaced("LEAD", False)),
    Total("A9_TO_DATE", "Full, GRR, all years", "replacements", _replaced("GRR", False)),
    Total("A10_TO_DATE", "Partial, lead, all years", "partials", _partial("LEAD", False)),
    Total("A11_TO_DATE", "Partial, GRR, all years", "partials", _partial("GRR", False)),
)

REPORT_COUNTS: tuple[Total, ...] = (
    Total("B4", "Full replacements of lead lines", "replacements", _replaced("LEAD")),
    Total("B5", "Full replacements of GRR lines", "replacements", _replaced("GRR")),
    Total("B6a", "Lead lines remaining", "lines", _category("LEAD")),
    Total("B6b", "GRR lines remaining", "lines", _category("GRR")),
    Total("B6c", "Unknown lines remaining", "lines", _category("UNKNOWN")),
    Total("B7", "Unknown lines found non-lead", "changes", (_change("UNKNOWN", "NON_LEAD"),)),
    Total(
        "B8",
        "Non-lead lines found lead or GRR",
        "changes",
        (_change("NON_LEAD", "LEAD"), _change("NON_LEAD", "GRR")),
    ),
    Total("B13", "Lines not replaced for lack of access or consent", "refusals"),
    Total(
        "B14",
        "Partial replacements",
        "partials",
        (*_partial("LEAD"), *_partial("GRR")),
    ),
)


@dataclass(frozen=True, kw_only=True)
class ReplacementReport:
    """Items B1 to B15; `counts` holds the codes of `REPORT_COUNTS`."""

    baseline_lead: int
    baseline_grr: int
    baseline_unknown: int
    counts: Mapping[str, int]
    pool_at_start: int | None
    annual_rate: Fraction | None
    cumulative_rate: Fraction | None
    required_rate: Fraction
    deadline: date
    deadline_kind: str
    plan_statement: str
    years: tuple[RateYear, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SubmissionFacts:
    """What the submission says, beside its lists; `totals` holds the codes of `TOTALS`."""

    pwsid: str
    system_name: str
    population: int
    connections: int
    as_of: date
    program_year: int
    totals: Mapping[str, int]
    report: ReplacementReport | None = None
    values_used: tuple[ValueUsed, ...] = ()
    validation: tuple[KeyedFact, ...] = ()
    deferral: tuple[KeyedFact, ...] = ()
    revision: int = 1
    amended_because: str = ""
    previous_digest: str = ""
    open_questions: tuple[str, ...] = field(default=())

    def __post_init__(self):
        """Refuse facts that lack a total.

        Raises:
            ValueError: naming each code that has no value.

        """
        said = set(self.totals) | set(self.report.counts if self.report else ())
        wanted = [*TOTALS, *(REPORT_COUNTS if self.report else ())]
        if missing := [total.code for total in wanted if total.code not in said]:
            raise ValueError(f"The submission has no value for {', '.join(missing)}.")


class SummaryLine(NamedTuple):
    """One line of the summary: a whole number, a rate, a date or a sentence."""

    code: str
    heading: str
    value: int | Fraction | date | str | None
    total: Total | None = None
    how_counted: str = ""


def summary_lines(facts: SubmissionFacts) -> Iterator[SummaryLine]:
    """Yield sheet A, then (where there is a report) sheet B, in the order of their codes."""
    for total in TOTALS:
        yield SummaryLine(total.code, total.heading, facts.totals[total.code], total)
    if facts.report:
        yield from sorted(_report_lines(facts.report), key=_code_order)


def _code_order(line: SummaryLine) -> tuple[int, str]:
    digits = "".join(filter(str.isdigit, line.code))
    return int(digits), line.code


def _report_lines(report: ReplacementReport) -> Iterator[SummaryLine]:
    for total in REPORT_COUNTS:
        yield SummaryLine(total.code, total.heading, report.counts[total.code], total)
    baseline = "From the baseline inventory, as filed."
    by_year = "See the table of program years below it."
    yield SummaryLine("B1", "Baseline lead lines", report.baseline_lead, None, baseline)
    yield SummaryLine("B2", "Baseline GRR lines", report.baseline_grr, None, baseline)
    yield SummaryLine("B3", "Baseline unknown lines", report.baseline_unknown, None, baseline)
    pool = "The list of line identifiers frozen on the first day of the program year."
    yield SummaryLine("B9", "Replacement pool at the start", report.pool_at_start, None, pool)
    annual = "(B4 + B5) / B9, as an exact fraction; rounded only where it is shown."
    yield SummaryLine("B10", "Annual rate", report.annual_rate, None, annual)
    mean = f"Mean of the annual rates of all program years so far. {by_year}"
    yield SummaryLine("B11", "Cumulative average rate", report.cumulative_rate, None, mean)
    yield SummaryLine("B12a", "Required rate", report.required_rate)
    yield SummaryLine("B12b", "Deadline", report.deadline)
    yield SummaryLine("B12c", "Kind of deadline", report.deadline_kind)
    yield SummaryLine("B15", "Replacement plan", report.plan_statement)


def file_stem(facts: SubmissionFacts) -> str:
    """Return the common part of the files' names: system, program year, revision."""
    safe = "".join(c for c in facts.pwsid if c.isascii() and (c.isalnum() or c in "-_"))
    return f"{safe or 'system'}-year{facts.program_year:02d}-rev{facts.revision}"
