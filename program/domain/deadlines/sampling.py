"""Clocks of tap sampling and outreach: before a period, after an exceedance, year by year."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from program.domain.calendar import day_of_year
from program.domain.deadlines.due import Due, Subject, SubjectKind, after, on_day
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.regulation import Rules

# What is due every year, to whom: by the value of the rule that sets its day.
YEARLY_OUTREACH = {
    "HEALTH_AGENCY_OUTREACH_LAST_DAY": "Outreach to the local and State health agencies",
    "SCHOOL_OUTREACH_LAST_DAY": "Contact with schools and child care",
}


@dataclass(frozen=True)
class MonitoringPeriod:
    """A tap monitoring period; its sites are looked at anew before it begins."""

    period_id: str
    first_day: date

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The look at the sites."""
        found = rules.get("SITE_PLAN_REVIEW_DAYS", self.first_day)
        how = f"{found.value} days before the period" if found.value else "On or before the period"
        return [
            on_day(rules, found.id, self.first_day - timedelta(days=found.value),
                   f"{how} that begins on {day_told(self.first_day)}",
                   "Sampling sites looked at anew before a monitoring period",
                   Subject(SubjectKind.PROGRAM, f"period {self.period_id}"),
                   occurrence=self.period_id),
        ]  # fmt: skip


@dataclass(frozen=True)
class LeadExceedance:
    """The lead action level was exceeded in a monitoring period, and the system learned of it.

    learned_at : in the utility's own time
    earlier : last days of the other periods with an exceedance
    """

    period_id: str
    learned_at: datetime
    period_ends_on: date
    earlier: tuple[date, ...] = ()

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """Notice, certification and education; filters and more outreach where it is repeated."""
        learned, ends = self.learned_at.date(), self.period_ends_on
        found = [
            self._notice(rules),
            self._due(rules, "EXCEEDANCE_CERTIFY_DAYS", learned,
                      "Public notice of an exceedance certified to the State",
                      "the exceedance was learned"),
            self._due(rules, "EXCEEDANCE_EDUCATION_DAYS", ends,
                      "Public education after an exceedance", "the end of the period"),
            *_treatment(self.period_id, ends, "lead", rules),
        ]  # fmt: skip
        if is_repeated(ends, self.earlier, rules):
            found += [
                self._due(rules, "FILTER_PLAN_DAYS", ends,
                          "Filters offered after repeated exceedances, plan to the State",
                          "the end of the period"),
                self._due(rules, "REPEATED_OUTREACH_MONTHS", ends,
                          "More outreach after repeated exceedances", "the end of the period"),
            ]  # fmt: skip
        return found

    @property
    def _subject(self) -> Subject:
        return Subject(SubjectKind.PROGRAM, f"period {self.period_id}")

    def _due(self, rules: Rules, rule_id: str, start: date, what: str, since: str) -> Due:
        return after(rules, rule_id, start, what, self._subject, since, None, self.period_id)

    def _notice(self, rules: Rules) -> Due:
        rule_id = "EXCEEDANCE_NOTICE_HOURS"
        hours = rules.value(rule_id, self.learned_at.date())
        by = self.learned_at + timedelta(hours=hours)
        how = f"{hours} hours after the exceedance was learned, so by {moment_told(by)}"
        what = "Public notice of a lead action level exceedance, copy to the State and EPA"
        return on_day(
            rules, rule_id, by.date(), how, what, self._subject, occurrence=self.period_id
        )


@dataclass(frozen=True)
class CopperExceedance:
    """The copper action level was exceeded in a monitoring period."""

    period_id: str
    period_ends_on: date

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """What follows for the water itself; the public notice of 24 hours is for lead alone."""
        return _treatment(self.period_id, self.period_ends_on, "copper", rules)


def _treatment(period_id: str, ends: date, metal: str, rules: Rules) -> list[Due]:
    subject = Subject(SubjectKind.PROGRAM, f"period {period_id}")
    whats = {
        "EXCEEDANCE_SOURCE_MONTHS": "Source water sampled, and a treatment recommended",
        "EXCEEDANCE_CORROSION_MONTHS": "Corrosion control: first step to the State",
    }
    return [
        after(rules, rule_id, ends, f"{what}, {metal} exceeded", subject, "the end of the period",
              None, f"{period_id}-{metal}")
        for rule_id, what in whats.items()
    ]  # fmt: skip


def is_repeated(ends: date, earlier: Iterable[date], rules: Rules) -> bool:
    """Tell whether an exceedance is one of so many within the rolling years that ask for filters.

    ends : last day of its period
    earlier : last days of the other periods with an exceedance
    """
    years = rules.value("REPEATED_EXCEEDANCE_YEARS", ends)
    since = add_months(ends, -12 * years)
    within = {day for day in earlier if since < day < ends} | {ends}
    return len(within) >= rules.value("REPEATED_EXCEEDANCES", ends)


def moment_told(moment: datetime) -> str:
    """Return a day and an hour as a sentence says them."""
    clock = moment.strftime("%I:%M %p").lstrip("0")
    return f"{day_told(moment.date())}, {clock}"


@dataclass(frozen=True)
class HighSite:
    """A site whose lead result was above the action level; it is sampled once more."""

    line_id: str
    learned_on: date
    occurrence: str
    sampled_again_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The sample once more."""
        return [
            after(rules, "SITE_FOLLOW_UP_DAYS", self.learned_on,
                  "Site above the action level sampled again",
                  Subject(SubjectKind.LINE, self.line_id), "the result was learned",
                  self.sampled_again_on, self.occurrence),
        ]  # fmt: skip


@dataclass(frozen=True)
class YearlyOutreach:
    """What is told to others every calendar year.

    first_year : the first calendar year that asks for it
    done : {rule id: {calendar year: day on which it was done}}
    """

    first_year: int
    done: Mapping[str, Mapping[int, date]] = field(default_factory=dict)

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """What is due from the first year to the running one."""
        return [
            on_day(rules, rule_id, day_of_year(rules.latest(rule_id).value, year),
                   f"In the calendar year {year}", f"{what}, {year}",
                   Subject(SubjectKind.PROGRAM, "outreach"),
                   self.done.get(rule_id, {}).get(year), str(year))
            for rule_id, what in YEARLY_OUTREACH.items()
            for year in range(self.first_year, as_of.year + 1)
        ]  # fmt: skip
