"""Whether the work of an order may start: the one gate of page, phone and API.

It knows nothing of where an answer came from. What is on record (`OrderOnRecord`) and what the
crew answers on the day (`JobSafety`) go in; out comes what stands against the start, each finding
with what is wrong, why it matters, what to do and who may do it. Nothing here calls a job safe:
local codes, the makers' instructions and the competent person on site come first.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from replacements.domain.findings import Finding, Level, by_severity
from replacements.domain.methods import is_pulled
from replacements.domain.safety import JobSafety, PullSetup, site_findings
from replacements.domain.tool_strings import JudgedRow
from services_inventory.domain.days import day_told

CREW = "the crew"
COMPETENT = "the contractor's competent person"
OFFICE = "the contractor's office"
UTILITY = "the utility's program manager"
REVIEWER = "the utility's reviewer, other than who recorded the pull"

_OWNER = "the owner; the crew or the utility records the answer"
_SITE = "the crew, with the competent person on site"
_GROUND = "the crew, which digs and measures, or the utility's program manager"
_STRING = "the crew, which records the string again"
_SOURCE = "gate of this program: nothing is pulled on what nobody checked [judgment]"


@dataclass(frozen=True)
class ToolOnRecord:
    """One part of the string on the day of work.

    inspected : whether an inspection is on record by that day; whether it failed, is overdue or
        was overtaken by an overload is for the string's own check
    """

    label: str
    inspected: bool = False


@dataclass(frozen=True)
class StringOnRecord:
    """The string recorded last, as its check speaks on the day of work.

    number : its number, to hold the estimate to
    findings : of the check, made again on the day
    assembly : its checklist, row by row
    """

    number: int
    tools: tuple[ToolOnRecord, ...] = ()
    findings: tuple[Finding, ...] = ()
    assembly: tuple[JudgedRow, ...] = ()


@dataclass(frozen=True)
class EstimateOnRecord:
    """The force estimate made last.

    of_string : number of the string it was made for, None for none
    changed : what has become other since, in words, such as "length"
    """

    made_on: date
    no_go: bool
    of_string: int | None
    changed: tuple[str, ...] = ()


@dataclass(frozen=True)
class OrderOnRecord:
    """All that is on record of an order and bears on its start.

    consent, papers, ground : findings of their own checks
    string, estimate : None where there is none
    """

    method: str
    consent: tuple[Finding, ...] = ()
    papers: tuple[Finding, ...] = ()
    ground: tuple[Finding, ...] = ()
    string: StringOnRecord | None = None
    estimate: EstimateOnRecord | None = None

    @property
    def pulls(self) -> bool:
        """Whether something is pulled; a method that is not known counts as a pull."""
        return is_pulled(self.method)


def may_start(order: OrderOnRecord, answers: JobSafety, as_of: date) -> list[Finding]:
    """Return what stands against a start, the worst first; it may start when none is a STOP.

    Parameters
    ----------
    answers : of the crew; what it says of a pull counts where the method pulls, and only there
    as_of : day of the work
    """
    pull = (answers.pull or PullSetup()) if order.pulls else None
    asked = site_findings(replace(answers, pull=pull), as_of)
    return by_severity([*on_record(order), *_by(_SITE, asked)])


def on_record(order: OrderOnRecord) -> list[Finding]:
    """Return what the record alone says against a start, before anybody answers for the day."""
    found = [*_by(_OWNER, order.consent), *_by(OFFICE, order.papers), *_by(_GROUND, order.ground)]
    if order.pulls:
        found += [*_string(order.string), *_estimate(order.estimate, order.string)]
    return by_severity(found)


def _by(who: str, findings: Iterable[Finding]) -> list[Finding]:
    """Return findings with who may do something, where their own check does not say."""
    return [found if found.who else replace(found, who=who) for found in findings]


def _string(string: StringOnRecord | None) -> Iterable[Finding]:
    if string is None:
        yield _stop(
            "NO_STRING",
            "No tool string is on record, so nobody knows which part is the weakest.",
            "Record the string part by part.",
            CREW,
        )
        return
    yield from _by(COMPETENT, [f for f in string.findings if f.rule == "OVERLOADED"])
    told_otherwise = ("INSPECTION_NONE", "OVERLOADED")
    yield from _by(_STRING, [f for f in string.findings if f.rule not in told_otherwise])
    for tool in string.tools:
        if not tool.inspected:
            yield _stop(
                "TOOL_NOT_INSPECTED",
                f"{tool.label} has no inspection on record, so nobody knows what it has been "
                "through.",
                "Inspect it and record what was found, or take another.",
                COMPETENT,
            )
    yield from _by(CREW, [row.finding for row in string.assembly if row.finding and row.failed])
    for stop in (True, False):
        rows = [row for row in string.assembly if row.open and row.check.stop is stop]
        if rows:
            yield _unanswered(rows)


def _unanswered(rows: list[JudgedRow]) -> Finding:
    """Return one finding for the rows that nobody answered: what was not looked at is not so."""
    labels = [row.check.shows for row in rows]
    more = f"; and {len(labels) - _NAMED} more" if len(labels) > _NAMED else ""
    kind = f"{'stop ' if rows[0].check.stop else ''}row{'' if len(rows) == 1 else 's'}"
    said = (
        f"{len(rows)} {kind} of the assembly checklist not answered: "
        f"{'; '.join(labels[:_NAMED])}{more}. What nobody looked at counts as not so."
    )
    do = "Look, measure and answer them at the pit."
    return Finding(rows[0].check.level, "ASSEMBLY_OPEN", said, _SOURCE, do, who=CREW)


_NAMED = 3


def _estimate(made: EstimateOnRecord | None, string: StringOnRecord | None) -> Iterable[Finding]:
    if made is None:
        yield _stop(
            "NO_ESTIMATE",
            "No force estimate has been made, so nobody knows where to stop the pull.",
            "Make the estimate for the string on record.",
            f"{CREW} or {UTILITY}",
        )
        return
    if string is not None and made.of_string != string.number:
        yield _stop(
            "ESTIMATE_OF_ANOTHER_STRING",
            f"The estimate of {day_told(made.made_on)} was made for another string than the one on "
            "record; its limits are those of other parts.",
            "Estimate again.",
            f"{CREW} or {UTILITY}",
        )
    elif made.changed:
        yield _stop(
            "ESTIMATE_OUT_OF_DATE",
            f"Since the estimate of {day_told(made.made_on)} this has changed: "
            f"{', '.join(made.changed)}. Its forces are those of another pull.",
            "Estimate again.",
            f"{CREW} or {UTILITY}",
        )
    if made.no_go:
        yield _stop(
            "ESTIMATE_NO_GO",
            f"The estimate of {day_told(made.made_on)} says no-go: a part would carry more than it "
            "may.",
            "Do what its stops ask and estimate again, or have the order changed to another "
            "method.",
            f"{CREW}; another method: {UTILITY}",
        )


def _stop(rule: str, message: str, do: str, who: str) -> Finding:
    return Finding(Level.STOP, rule, message, _SOURCE, do, who=who)
