"""What is due from the program as a whole: submissions, certifications, deadlines, reviews."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import count

from program.domain.calendar import (
    annual_submission_due,
    last_finished_year,
    milestones,
    notice_certification_due,
    plan_update_due,
    program_year,
    rate_outreach_due,
)
from program.domain.deadlines.due import Due, Subject, SubjectKind, on_day
from program.domain.deferral import Deadline, DeadlineKind
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.regulation import Rules


@dataclass(frozen=True)
class Program:
    """The program of one system.

    `kept_since`: first day of this record; what was due before is left out. `done`: when each
    thing was done, by `Due.key`. `failed_years`: program years that failed the rate.
    """

    pwsid: str
    deadline: Deadline
    kept_since: date
    done: Mapping[str, date] = field(default_factory=dict)
    failed_years: tuple[int, ...] = ()
    complete: bool = False

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """Everything up to the end of the running program year's reports, and what stands far off.

        A complete program reports the year it ended in and no further.
        """
        drafts = [
            *self._milestones(rules),
            *self._yearly(as_of, rules),
            *self._certifications(as_of, rules),
            *self._outreach(rules),
        ]
        if not self.complete:
            drafts += [*self._ends(rules), *self._deferral(rules)]
        return [self._with_done(due) for due in drafts if due.due_on >= self.kept_since]

    @property
    def _subject(self) -> Subject:
        return Subject(SubjectKind.PROGRAM, self.pwsid)

    def _with_done(self, due: Due) -> Due:
        done_on = self.done.get(due.key)
        return due if done_on is None else replace(due, done_on=done_on)

    def _milestones(self, rules: Rules) -> Iterator[Due]:
        for row in milestones(rules):
            how = "A day that the rule names"
            yield on_day(rules, row.rule_id, row.due_on, how, row.what, self._subject)

    def _yearly(self, as_of: date, rules: Rules) -> Iterator[Due]:
        last = (
            last_finished_year(as_of, rules) if self.complete else program_year(as_of, rules) or 1
        )
        kinds = (
            ("ANNUAL_UPDATE_DAY", annual_submission_due, "Inventory update and replacement report"),
            ("PLAN_UPDATE_DAY", plan_update_due, "Plan updated, or certified unchanged"),
        )
        for number in range(1, last + 1):
            how = f"In the calendar year after program year {number}"
            for rule_id, due_on, what in kinds:
                title = f"{what}, program year {number}"
                yield on_day(rules, rule_id, due_on(number, rules), how, title, self._subject,
                             occurrence=str(number))  # fmt: skip

    def _certifications(self, as_of: date, rules: Rules) -> Iterator[Due]:
        first = rules.latest("INITIAL_NOTICE_DUE").value.year
        last = as_of.year - 1 if self.complete else as_of.year
        for year in range(first, last + 1):
            yield on_day(
                rules,
                "NOTICE_CERTIFICATION_DAY",
                notice_certification_due(year, rules),
                f"In the calendar year after {year}",
                f"Notices and filters of {year} certified to the State",
                self._subject,
                occurrence=str(year),
            )

    def _outreach(self, rules: Rules) -> Iterator[Due]:
        for number in self.failed_years:
            yield on_day(
                rules,
                "RATE_OUTREACH_LAST_DAY",
                rate_outreach_due(number, rules),
                f"In the calendar year after program year {number}, which failed the rate",
                f"Extra outreach for program year {number}",
                self._subject,
                occurrence=str(number),
            )

    def _ends(self, rules: Rules) -> Iterator[Due]:
        last, how = self.deadline.last_day, self.deadline.how_computed.rstrip(".")
        # One rule id for every kind of deadline, so that a deferred one moves the event.
        for rule_id, what in (
            ("REPLACEMENT_DEADLINE", "Every lead and GRR line replaced"),
            ("UNKNOWNS_IDENTIFIED_BY", "Every unknown line identified"),
        ):
            yield on_day(rules, rule_id, last, how, what, self._subject)
        yield self._validation(rules)
        results = rules.latest("VALIDATION_RESULTS_DUE")
        yield on_day(rules, results.id, results.value, "A day that the rule names",
                     "Validation results to the State", self._subject)  # fmt: skip

    def _validation(self, rules: Rules) -> Due:
        day = rules.latest("VALIDATION_DEADLINE").value
        how = "A day that the rule names"
        if self.deadline.validation_day:
            day, how = (
                self.deadline.validation_day,
                "Set by the State with the replacement deadline",
            )
        elif self.deadline.kind is not DeadlineKind.STANDARD:
            how = "The ordinary day; with this replacement deadline ask the State for its own"
        what = "Validation of the non-lead lines complete"
        return on_day(rules, "VALIDATION_DEADLINE", day, how, what, self._subject)

    def _deferral(self, rules: Rules) -> Iterator[Due]:
        if self.deadline.kind is not DeadlineKind.DEFERRED:
            return
        first = rules.latest("DEFERRAL_DOCUMENTS_DUE").value
        yield on_day(rules, "DEFERRAL_DOCUMENTS_DUE", first, "A day that the rule names",
                     "Documents supporting the deferred deadline", self._subject)  # fmt: skip
        years = rules.latest("DEFERRAL_REVIEW_YEARS").value
        start = rules.latest("COMPLIANCE_DATE").value
        for number in count(1):
            due_on = add_months(start, 12 * years * number)
            if due_on >= self.deadline.last_day:
                return
            yield on_day(rules, "DEFERRAL_REVIEW_YEARS", due_on,
                         f"Every {years} years from {day_told(start)}",
                         f"Documents for review {number} of the deferred deadline",
                         self._subject, occurrence=str(number))  # fmt: skip
