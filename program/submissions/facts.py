"""What the submission says beside its lists, and from which rows each total is counted.

Nothing here counts: the caller says the totals, the audit recounts them, and a person can do
the same from `Total.where`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from program.submissions.figures import ROUNDING, figure_read
from program.submissions.rows import KeyedFact, RateYear, TotalMoved, ValueUsed

THE_YEAR = "(program year)"  # stands for the submission's own program year in a condition

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


def _connectors() -> tuple[Total, ...]:
    """Connectors replaced, with the lead ones among them: in the year, and in all."""
    done: Where = (("connector_replaced", "YES"),)
    lead: Where = (*done, ("connector_before", "LEAD"))
    year: Where = (("program_year", THE_YEAR),)
    kinds = (
        ("A13", "Connectors replaced", "replacements", done),
        ("A14", "Lead connectors replaced", "replacements", lead),
        ("A15", "Connectors replaced in partial work", "partials", done),
    )
    of_year = [Total(*said, ((*where, *year),)) for *said, where in kinds]
    ever = [
        Total(f"{code}_TO_DATE", f"{said}, all years", sheet, (where,))
        for code, said, sheet, where in kinds
    ]
    return (*of_year, *ever)


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
    Total(
        "A12",
        "Lines whose category rests on connectors not counting",
        "lines",
        ((("rests_on_connectors", "YES"),),),
    ),
    Total("A8", "Full replacements of lead lines", "replacements", _replaced("LEAD")),
    Total("A9", "Full replacements of GRR lines", "replacements", _replaced("GRR")),
    Total("A10", "Partial replacements of lead lines", "partials", _partial("LEAD")),
    Total("A11", "Partial replacements of GRR lines", "partials", _partial("GRR")),
    Total("A8_TO_DATE", "Full, lead, all years", "replacements", _replaced("LEAD", False)),
    Total("A9_TO_DATE", "Full, GRR, all years", "replacements", _replaced("GRR", False)),
    Total("A10_TO_DATE", "Partial, lead, all years", "partials", _partial("LEAD", False)),
    Total("A11_TO_DATE", "Partial, GRR, all years", "partials", _partial("GRR", False)),
    *_connectors(),
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
    reported_on: date
    program_year: int
    year_told: str = ""  # in words where it has no number; older freezes keep none
    totals: Mapping[str, int]
    report: ReplacementReport | None = None
    values_used: tuple[ValueUsed, ...] = ()
    validation: tuple[KeyedFact, ...] = ()
    deferral: tuple[KeyedFact, ...] = ()
    revision: int = 1
    amended_because: str = ""
    previous_digest: str = ""
    record_head: str = ""
    prepared_by: str = ""
    open_questions: tuple[str, ...] = ()
    totals_moved: tuple[TotalMoved, ...] = ()

    @property
    def is_amendment(self) -> bool:
        """Whether an earlier revision was filed, so that a ledger says what moved."""
        return bool(self.totals_moved)

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
        yield from sorted(_report_lines(facts.report), key=lambda line: code_order(line.code))


def code_order(code: str) -> tuple[str, int, str]:
    """Return what a code is sorted by: sheet A before B, then by number, then by letter."""
    return code[0], int("".join(filter(str.isdigit, code))), code


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
    annual = f"(B4 + B5) / B9. {ROUNDING}"
    yield SummaryLine("B10", "Annual rate", report.annual_rate, None, annual)
    mean = f"Mean of the annual rates of all program years so far. {by_year}"
    yield SummaryLine("B11", "Cumulative average rate", report.cumulative_rate, None, mean)
    yield SummaryLine("B12a", "Required rate", report.required_rate)
    yield SummaryLine("B12b", "Deadline", report.deadline)
    yield SummaryLine("B12c", "Kind of deadline", report.deadline_kind)
    yield SummaryLine("B15", "Replacement plan", report.plan_statement)


def totals_moved(facts: SubmissionFacts, filed: Mapping[str, object]) -> tuple[TotalMoved, ...]:
    """Return every total as filed, as it is now, and by how much it moved.

    filed : code to value, as the amended submission keeps its own totals (plain JSON)
    """
    return tuple(
        _moved(line, filed.get(line.code)) for line in summary_lines(facts) if line.code != "B15"
    )


def _moved(line: SummaryLine, filed: object) -> TotalMoved:
    filed, now = figure_read(filed), line.value
    if isinstance(now, date) and isinstance(filed, str):
        filed = date.fromisoformat(filed)
    by = _difference(filed, now) if filed != now else ""
    return TotalMoved(line.code, line.heading, filed, now, by)


def _difference(filed: object, now: object) -> str:
    numbers = int | Fraction
    if not (isinstance(filed, numbers) and isinstance(now, numbers)):
        return "changed"
    by, more = abs(now - filed), "more" if now > filed else "fewer"
    if isinstance(by, int):
        return f"{by:,} {more}"
    return f"{float(by * 100):.4f} points {'more' if now > filed else 'less'}"


def file_stem(facts: SubmissionFacts) -> str:
    """Return the common part of the files' names: system, program year, revision."""
    safe = "".join(c for c in facts.pwsid if c.isascii() and (c.isalnum() or c in "-_"))
    number = facts.program_year
    period = f"year{number:02d}" if number else f"before-{facts.as_of.year}"
    return f"{safe or 'system'}-{period}-rev{facts.revision}"
