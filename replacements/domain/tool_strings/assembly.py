"""The assembly checklist: what is looked at and measured before the cable is loaded.

The rows are data (`assembly_checks.csv`), each with what it shows; where the tool set in use says
something itself, from its maker's instructions, that goes first. An answer carries who gave it and
when. A stop row that nobody answered stops the pull.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from replacements.domain.findings import Finding, Level
from replacements.domain.reference_tables import cited, rows
from replacements.domain.tool_strings.setup import NO_SET, Fact, SetUp, bounds_said

PLASTICS = ("PE", "PEX")


class UnknownCheck(ValueError, LookupError):
    """An answer names a row that the checklist does not have; fit to show."""


@dataclass(frozen=True)
class AssemblyCheck:
    """One row of the checklist.

    shows : what it proves, such as "Jaws seated"
    answer : YES (seen or not), NUMBER (a measured value) or FACES (a count against the jaw set)
    low, high : bounds of a measured value, None where there is none
    if_low, if_high : STOP or REDO
    stop : whether a failed or missing answer forbids the pull
    asked : STRING, or START where the safe start asks it on the day; then it is not asked again
    methods : for which it is asked, empty for every pull
    of_set : BOUNDS, WORDS or GROUPS where a tool set carries its own, else empty
    mark : empty where the source is the instructions of a tool set
    """

    check: str
    shows: str
    label: str
    criterion: str
    answer: str
    low: float | None
    high: float | None
    unit: str
    if_low: str
    if_high: str
    stop: bool
    asked: str
    methods: tuple[str, ...]
    of_set: str
    why: str
    source: str
    mark: str

    @property
    def level(self) -> Level:
        return Level.STOP if self.stop else Level.CAUTION

    @property
    def cited(self) -> str:
        """The source with its mark."""
        return cited(self.source, self.mark) if self.mark else self.source


@dataclass(frozen=True)
class Answer:
    """One answer: passed for a row that is seen, measured for one that is measured or counted."""

    check: str
    passed: bool | None = None
    measured: float | None = None
    answered_by: str = ""
    answered_at: str = ""


@dataclass(frozen=True)
class JudgedRow:
    """A row with its last answer and what is to be said of it; no finding: it is passed."""

    check: AssemblyCheck
    answer: Answer | None = None
    finding: Finding | None = None

    @property
    def open(self) -> bool:
        """Whether nobody has answered the row."""
        return self.answer is None or (self.answer.passed is None and self.answer.measured is None)

    @property
    def failed(self) -> bool:
        """Whether it was answered, and not as it must be."""
        return self.finding is not None and not self.open


@cache
def assembly_checks() -> tuple[AssemblyCheck, ...]:
    """Return the rows of the checklist in their order."""
    return tuple(_check(row) for row in rows("assembly_checks"))


def checks_for(
    new_pipe_material: str | None = None, setup: SetUp = NO_SET, method: str | None = None
) -> tuple[AssemblyCheck, ...]:
    """Return the rows that a new pipe of this material asks for; copper needs no tracer wire.

    What the safe start asks is not asked here.

    setup : of the tool set in use; what it says goes before common practice
    method : how it is pulled, as rods have no jaws and what is pulled out no blade; None for every
        row there is
    """
    return tuple(
        _of_set(check, setup)
        for check in assembly_checks()
        if check.asked == "STRING"
        and (check.check != "TRACER_WIRE" or new_pipe_material in (None, *PLASTICS))
        and (method is None or not check.methods or method in check.methods)
    )


def judge_rows(
    answers: Iterable[Answer],
    *,
    jaw_faces: int | None = None,
    new_pipe_material: str | None = None,
    setup: SetUp = NO_SET,
    method: str | None = None,
) -> list[JudgedRow]:
    """Return every row that pipe and method ask for, judged by its last answer, in their order.

    answers : of one check the last given counts; an answer to what the safe start asks is heard too
    jaw_faces : faces of the jaw set that need anti-seize
    setup : of the tool set in use

    Raises
    ------
    UnknownCheck: an answer names a row that the checklist does not have.
    """
    given = {answer.check: answer for answer in answers}
    strange = sorted(set(given) - {check.check for check in assembly_checks()})
    if strange:
        raise UnknownCheck(f"The checklist has no row {', '.join(strange)}.")
    of_start = [c for c in assembly_checks() if c.asked == "START" and c.check in given]
    return [
        JudgedRow(
            check,
            given.get(check.check),
            next(iter(_judge(check, given.get(check.check), jaw_faces)), None),
        )
        for check in (*checks_for(new_pipe_material, setup, method), *of_start)
    ]


def _of_set(check: AssemblyCheck, setup: SetUp) -> AssemblyCheck:
    """Return the row as the tool set has it, with its instructions as source."""
    if check.of_set == "GROUPS" and setup.groups is not None:
        said = "; ".join(group.label for group in setup.groups)
        return replace(check, criterion=f"marks read off: {said}", source=setup.source, mark="")
    fact = setup.facts.get(check.check)
    if not check.of_set or fact is None:
        return check
    own: dict[str, Any] = {"criterion": fact.words, "source": setup.source, "mark": ""}
    if check.of_set == "BOUNDS":
        own |= {"low": fact.low, "high": fact.high, "criterion": _said(check, fact)}
    return replace(check, **own)


def _said(check: AssemblyCheck, fact: Fact) -> str:
    bounds = bounds_said(fact.low, fact.high, check.unit)
    return f"{bounds}; {fact.words}" if fact.words else bounds


def _judge(check: AssemblyCheck, answer: Answer | None, jaw_faces: int | None) -> list[Finding]:
    if answer is None or (answer.passed is None and answer.measured is None):
        return [_say(check, check.level, "nobody answered", "Look, and record it.")]
    if not answer.answered_by.strip():
        return [_say(check, check.level, "the answer carries no name", "Record who looked.")]
    if answer.passed is False:
        asked = "" if check.criterion.endswith("seen") else f"; asked is: {check.criterion}"
        do = f"Put it right, look again and answer the row anew{asked}."
        return [_say(check, check.level, "not so", do)]
    if check.answer == "YES":
        return [] if answer.passed else [_say(check, check.level, "not answered yes", "Look.")]
    if answer.measured is None or not math.isfinite(answer.measured) or answer.measured < 0:
        return [_say(check, check.level, "no measured value", "Measure it, don't judge by eye.")]
    if check.answer == "FACES":
        return _judge_faces(check, answer.measured, jaw_faces)
    return _judge_number(check, answer.measured)


def _judge_faces(check: AssemblyCheck, coated: float, jaw_faces: int | None) -> list[Finding]:
    if jaw_faces is None:
        return [_say(check, check.level, "how many faces the jaw set has is not known", "Count.")]
    if coated < jaw_faces:
        text = f"{coated:g} of {jaw_faces} faces coated"
        return [_say(check, check.level, text, "Coat every face.", coated)]
    return []


def _judge_number(check: AssemblyCheck, value: float) -> list[Finding]:
    if check.low is not None and value < check.low:
        verdict, bound = check.if_low, f"under {check.low:g}"
    elif check.high is not None and value > check.high:
        verdict, bound = check.if_high, f"over {check.high:g}"
    else:
        return []
    do = "Take it apart and seat it again." if verdict == "REDO" else "Stop; take it apart."
    text = f"{value:g} {check.unit} is {bound} {check.unit}"
    return [_say(check, _level(check, verdict), text, do, value)]


def _level(check: AssemblyCheck, verdict: str) -> Level:
    """A value to redo forbids the pull too, where its row is a stop row."""
    return Level.STOP if verdict == "STOP" else check.level


def _say(
    check: AssemblyCheck, level: Level, what: str, do: str, value: float | None = None
) -> Finding:
    message = f"{check.shows}: {what} ({check.label}). Why it matters: {check.why}."
    return Finding(level, f"ASSEMBLY_{check.check}", message, check.cited, do, value=value)


def _check(row: dict[str, str]) -> AssemblyCheck:
    bounds: dict[str, Any] = {
        name: float(row[name]) if row[name] else None for name in ("low", "high")
    }
    asked = {"stop": row["stop"] == "YES", "methods": tuple(row["methods"].split())}
    return AssemblyCheck(**{**row, **bounds, **asked})
