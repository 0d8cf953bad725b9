"""Clocks around work on a line: replacement, disturbance, the customer's own replacement."""

from dataclasses import dataclass, replace
from datetime import date

from program.domain.deadlines.due import Due, Subject, SubjectKind, after, on_day
from replacements.domain.consent import ConsentRules, customer_initiated_clocks
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.regulation import Rules

_BACK = "the return to service"


class WorkKind(Labeled):
    """How much of a line is replaced, and whether it was planned."""

    FULL = "FULL", "Full"
    PLANNED_PARTIAL = "PLANNED_PARTIAL", "Planned partial"
    EMERGENCY_PARTIAL = "EMERGENCY_PARTIAL", "Emergency partial"


class DisturbanceKind(Labeled):
    """What a disturbance did to the line.

    NO_CUT: shut off or bypassed, valve or meter work; CUT: meter, setter or connector replaced,
    or the line physically cut.
    """

    NO_CUT = "NO_CUT", "Without cutting"
    CUT = "CUT", "Cut or part replaced"


@dataclass(frozen=True)
class ReplacementWork:
    """A full or partial replacement, planned or done; days not known yet are None."""

    work_id: str
    line_id: str
    kind: WorkKind
    starts_on: date | None = None
    completed_on: date | None = None
    back_in_service_on: date | None = None
    notice_sent_on: date | None = None
    flushing_given_on: date | None = None
    filter_given_on: date | None = None
    sample_taken_on: date | None = None
    sample_declined_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """Notice, flushing instructions, filter with cartridges, follow-up sample."""
        line = Subject(SubjectKind.LINE, self.line_id)
        found = _partial_notice(self, line, rules)
        back = self.back_in_service_on or self.completed_on
        if back:
            if not found:
                found.append(_notice(rules, line, back, self.work_id, self.notice_sent_on))
            found.append(_flushing(rules, line, back, self.work_id, self.flushing_given_on))
            found.append(_filter(rules, line, back, self.work_id, self.filter_given_on))
        if self.completed_on:
            taken = self.sample_taken_on or self.sample_declined_on
            found.append(follow_up_sample(rules, line, self.completed_on, self.work_id, taken))
        return found


@dataclass(frozen=True)
class Disturbance:
    """Work that disturbed a lead, GRR or unknown line without replacing it."""

    work_id: str
    line_id: str
    kind: DisturbanceKind
    back_in_service_on: date
    notice_sent_on: date | None = None
    flushing_given_on: date | None = None
    filter_given_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """Notice and flushing instructions before use; a filter too where the line was cut."""
        line, back = Subject(SubjectKind.LINE, self.line_id), self.back_in_service_on
        found = [
            _notice(rules, line, back, self.work_id, self.notice_sent_on),
            _flushing(rules, line, back, self.work_id, self.flushing_given_on),
        ]
        if self.kind is DisturbanceKind.CUT:
            found.append(_filter(rules, line, back, self.work_id, self.filter_given_on))
        return found


@dataclass(frozen=True)
class CustomerStarted:
    """A customer replaced their side, or will; `learned_on` is when the system came to know.

    `planned`: `customer_done_on` is the day for which the customer plans the work, which is not
    done yet. `extended`: the system side cannot be replaced within the shorter clock, the State
    is told.
    """

    line_id: str
    customer_done_on: date
    learned_on: date
    system_done_on: date | None = None
    extended: bool = False
    state_told_on: date | None = None
    planned: bool = False

    def starts_on(self, rules: Rules) -> date | None:
        """The day the clock starts; None when the customer's work is too old to start it."""
        measure = ConsentRules.on(rules, self.learned_on)
        return customer_initiated_clocks(self.customer_done_on, self.learned_on, measure).start

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The system side; with an extension, the State's notice and the outermost day.

        Before a planned work, also the day on which both sides are best replaced together.
        """
        start = self.starts_on(rules)
        if start is None:
            return []
        found = [self._together(rules)] if self.planned else []
        short = self._after(rules, "CUSTOMER_INITIATED_DAYS", start, "System side replaced")
        missed = self.extended or (self.system_done_on or as_of) > short.due_on
        if not missed:
            return [*found, short]
        told = self._after(rules, "CUSTOMER_INITIATED_STATE_NOTICE_DAYS", start,
                           "State told that the shorter clock is missed")  # fmt: skip
        told = replace(told, done_on=self.state_told_on)
        outer = self._after(rules, "CUSTOMER_INITIATED_LIMIT_DAYS", start,
                            "System side replaced, outermost day")  # fmt: skip
        return [*found, *([] if self.state_told_on else [short]), told, outer]

    @property
    def _line(self) -> Subject:
        return Subject(SubjectKind.LINE, self.line_id)

    def _after(self, rules: Rules, rule_id: str, start: date, what: str) -> Due:
        since = "the system learned of it"
        if start == self.customer_done_on:
            since = "the customer side was replaced"
        if self.planned:
            since = "the day for which the customer plans to replace their side"
        return after(rules, rule_id, start, what, self._line, since, self.system_done_on)

    def _together(self, rules: Rules) -> Due:
        how = "The day for which the customer plans it; an effort in good faith is made to do both"
        return on_day(rules, "CUSTOMER_INITIATED_DAYS", self.customer_done_on, how,
                      "Both sides replaced together", self._line, self.system_done_on,
                      "together")  # fmt: skip


def _partial_notice(work: ReplacementWork, line: Subject, rules: Rules) -> list[Due]:
    if work.kind is not WorkKind.PLANNED_PARTIAL or work.starts_on is None:
        return []
    due = after(rules, "PARTIAL_NOTICE_DAYS", work.starts_on,
                "Notice before a planned partial replacement", line, "the start of work",
                work.notice_sent_on, work.work_id)  # fmt: skip
    days = due.due_on - work.starts_on
    return [
        replace(
            due,
            due_on=work.starts_on - days,
            how_computed=due.how_computed.replace(" after ", " before ", 1),
        )
    ]


def _notice(rules: Rules, line: Subject, back: date, work_id: str, sent: date | None) -> Due:
    what = "Notice before the line returns to service"
    occurrence = f"{work_id}-notice"
    return after(rules, "WORK_NOTICE_DAYS", back, what, line, _BACK, sent, occurrence)


def _flushing(rules: Rules, line: Subject, back: date, work_id: str, given: date | None) -> Due:
    what = "Flushing instructions given"
    occurrence = f"{work_id}-flushing"
    return after(rules, "WORK_NOTICE_DAYS", back, what, line, _BACK, given, occurrence)


def _filter(rules: Rules, line: Subject, back: date, work_id: str, given: date | None) -> Due:
    months = rules.value("FILTER_CARTRIDGE_MONTHS", back)
    what = f"Filter with {months} months of cartridges given"
    return after(rules, "FILTER_DAYS", back, what, line, _BACK, given, work_id)


def follow_up_sample(
    rules: Rules, line: Subject, done: date, work_id: str, taken: date | None = None
) -> Due:
    """The tap sample some months after work was completed."""
    opens = add_months(done, rules.value("FOLLOW_UP_SAMPLE_FROM_MONTHS", done))
    due = after(rules, "FOLLOW_UP_SAMPLE_TO_MONTHS", done, "Follow-up tap sample", line,
                "the work was completed", taken, work_id)  # fmt: skip
    return replace(due, opens_on=opens, how_computed=f"From {day_told(opens)}; {due.how_computed}")
