"""Getting in: attempts to reach the owner, the answer, a change of owner, the customer's own work.

The numbers are values of the rule (`services_inventory/regulation/around_replacement.toml`): four
attempts by two methods is the federal measure of a reasonable effort, and a State may ask for more.
Source: 40 CFR 141.84(d)(3) and (f), as marked on each value.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from functools import cache
from typing import Self

from replacements.domain.findings import Finding, Level
from replacements.domain.people import Capacity
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.reference import rows_of
from services_inventory.domain.regulation import Rules


class Method(Labeled):
    """How somebody was tried to be reached."""

    IN_PERSON = "IN_PERSON"
    PHONE = "PHONE"
    TEXT = "TEXT", "text message"
    EMAIL = "EMAIL", "e-mail"
    LETTER = "LETTER"
    POSTCARD = "POSTCARD"
    DOOR_HANGER = "DOOR_HANGER"


class Answer(StrEnum):
    """What the owner said."""

    GIVEN = "GIVEN"
    REFUSED = "REFUSED"
    REVOKED = "REVOKED"


class ConsentState(Labeled):
    """Where one place stands."""

    GIVEN = "GIVEN", "Consent given"
    REFUSED = "REFUSED", "Refused"
    EFFORT_MADE = "EFFORT_MADE", "Tried as the rule asks, no answer"
    OPEN = "OPEN", "Not answered yet"


@cache
def consent_words() -> Mapping[str, str]:
    """Return by language the words that an owner signs on a phone.

    They are our own; the utility's form, and what its counsel asks for, come first.
    """
    rows = rows_of("replacements", "consent_words.csv")
    return {row["language"]: row["words"] for row in rows}


@dataclass(frozen=True)
class Attempt:
    """One attempt to reach the owner: when, how, and what came of it."""

    at: date | datetime
    method: Method
    outcome: str = ""
    by: str = ""

    @property
    def day(self) -> date:
        return self.at.date() if isinstance(self.at, datetime) else self.at


@dataclass(frozen=True)
class OwnerAnswer:
    """The owner's answer; documented when a paper, form or recording of it is kept."""

    answer: Answer
    answered_on: date
    given_by: str = ""
    documented: bool = False
    capacity: Capacity = Capacity.OWNER

    @property
    def binds(self) -> bool:
        """Whether it speaks for the owner: a tenant lets people in, but cannot give consent."""
        return self.capacity is not Capacity.TENANT


@dataclass(frozen=True)
class ConsentRules:
    """The values of the rule that consent is judged by on one day, with their citations."""

    min_attempts: int
    min_methods: int
    min_days_between: int | None
    offer_months: int
    effort_months: int
    initiated_days: int
    initiated_limit_days: int
    initiated_state_notice_days: int
    look_back_months: int
    effort_citation: str
    initiated_citation: str

    @classmethod
    def on(cls, rules: Rules, as_of: date) -> Self:
        """Take the values in force on a day.

        Raises
        ------
        UnknownRule, NoPeriod: a value is missing on that day.
        """
        effort = rules.get("CONSENT_MIN_ATTEMPTS", as_of)
        initiated = rules.get("CUSTOMER_INITIATED_DAYS", as_of)
        return cls(
            min_attempts=effort.value,
            min_methods=rules.value("CONSENT_MIN_METHODS", as_of),
            min_days_between=rules.value("CONSENT_MIN_DAYS_BETWEEN", as_of),
            offer_months=rules.value("OWNER_CHANGE_OFFER_MONTHS", as_of),
            effort_months=rules.value("OWNER_CHANGE_EFFORT_MONTHS", as_of),
            initiated_days=initiated.value,
            initiated_limit_days=rules.value("CUSTOMER_INITIATED_LIMIT_DAYS", as_of),
            initiated_state_notice_days=rules.value("CUSTOMER_INITIATED_STATE_NOTICE_DAYS", as_of),
            look_back_months=rules.value("CUSTOMER_INITIATED_LOOK_BACK_MONTHS", as_of),
            effort_citation=f"{effort.citation} [{effort.mark}]",
            initiated_citation=f"{initiated.citation} [{initiated.mark}]",
        )


@dataclass(frozen=True)
class Effort:
    """How many attempts count, by how many methods, and what is still missing."""

    attempts: int
    methods: int
    reasonable: bool
    missing: str


@dataclass(frozen=True)
class ConsentStanding:
    """Where a place stands, whether work may start, and why."""

    state: ConsentState
    may_start: bool
    effort: Effort
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class OwnerClocks:
    """Days by which a new owner must have been offered replacement and properly tried for."""

    offer_due: date
    effort_due: date


@dataclass(frozen=True)
class CustomerInitiatedClocks:
    """Days that follow from a customer's own replacement; none when it is too long ago."""

    applies: bool
    start: date | None = None
    system_side_due: date | None = None
    state_notice_due: date | None = None
    limit: date | None = None


def effort(attempts: Iterable[Attempt], rules: ConsentRules) -> Effort:
    """Tell whether the attempts make a reasonable effort."""
    counted = _spaced(attempts, rules.min_days_between)
    methods = {attempt.method for attempt in counted}
    more = max(0, rules.min_attempts - len(counted))
    other = max(0, rules.min_methods - len(methods))
    wants = []
    if more:
        wants.append(f"{more} more {'attempt' if more == 1 else 'attempts'}")
    if other:
        wants.append(f"{other} further {'method' if other == 1 else 'methods'}")
    missing = " and ".join(wants)
    return Effort(len(counted), len(methods), not missing, missing)


def effort_made_on(attempts: Iterable[Attempt], rules: ConsentRules) -> date | None:
    """Return the day by which the attempts had become a reasonable effort, None if they are not."""
    tried = sorted(attempts, key=lambda attempt: attempt.day)
    for number in range(1, len(tried) + 1):
        if effort(tried[:number], rules).reasonable:
            return tried[number - 1].day
    return None


def standing(
    attempts: Sequence[Attempt],
    answers: Sequence[OwnerAnswer],
    rules: ConsentRules,
    as_of: date,
    *,
    owner_since: date | None = None,
) -> ConsentStanding:
    """Tell where consent stands on a day.

    Parameters
    ----------
    attempts, answers : what is on record; whatever lies after the day is not yet known
    owner_since : day the present owner took over; what was tried or said before does not count
    """
    since = owner_since or date.min
    tried = [attempt for attempt in attempts if since <= attempt.day <= as_of]
    said = [answer for answer in answers if since <= answer.answered_on <= as_of]
    made = effort(tried, rules)
    answer = _latest(answer for answer in said if answer.binds)
    tenants = _latest(answer for answer in said if not answer.binds)
    state = _state(answer, made)
    given = state == ConsentState.GIVEN
    findings = (*_findings(state, answer, made, rules), *_of_a_tenant(tenants, state))
    return ConsentStanding(state, given, made, findings)


def _latest(answers: Iterable[OwnerAnswer]) -> OwnerAnswer | None:
    """Return the answer that holds: of two on one day the later in the record."""
    found = None
    for answer in answers:
        if found is None or answer.answered_on >= found.answered_on:
            found = answer
    return found


def _of_a_tenant(answer: OwnerAnswer | None, state: ConsentState) -> Iterable[Finding]:
    if answer is None or answer.answer is not Answer.GIVEN or state is ConsentState.GIVEN:
        return
    yield Finding(
        Level.CAUTION,
        "TENANT_IS_NOT_THE_OWNER",
        f"A tenant agreed on {day_told(answer.answered_on)}; that is not the owner's consent.",
        "common practice, no source",
        "Ask the owner, or whoever manages the building for the owner.",
    )


def owner_change_clocks(changed_on: date, rules: ConsentRules) -> OwnerClocks:
    """Return the days that follow from a change of owner."""
    return OwnerClocks(
        add_months(changed_on, rules.offer_months),
        add_months(changed_on, rules.effort_months),
    )


def customer_initiated_clocks(
    customer_done_on: date, learned_on: date, rules: ConsentRules
) -> CustomerInitiatedClocks:
    """Return the days that follow from the customer's own replacement of their side.

    The clock starts when the customer's side is done; where the system learns of it afterwards,
    and not too late, on the day it learns.
    """
    if learned_on > add_months(customer_done_on, rules.look_back_months):
        return CustomerInitiatedClocks(False)
    start = max(customer_done_on, learned_on)
    return CustomerInitiatedClocks(
        True,
        start,
        start + timedelta(days=rules.initiated_days),
        start + timedelta(days=rules.initiated_state_notice_days),
        start + timedelta(days=rules.initiated_limit_days),
    )


def _spaced(attempts: Iterable[Attempt], days: int | None) -> list[Attempt]:
    counted: list[Attempt] = []
    for attempt in sorted(attempts, key=lambda a: a.day):
        if not days or not counted or (attempt.day - counted[-1].day).days >= days:
            counted.append(attempt)
    return counted


def _state(answer: OwnerAnswer | None, made: Effort) -> ConsentState:
    if answer and answer.answer == Answer.GIVEN:
        return ConsentState.GIVEN
    if answer:
        return ConsentState.REFUSED
    return ConsentState.EFFORT_MADE if made.reasonable else ConsentState.OPEN


def _findings(
    state: ConsentState, answer: OwnerAnswer | None, made: Effort, rules: ConsentRules
) -> Iterable[Finding]:
    if answer and not answer.documented:
        yield Finding(
            Level.CAUTION,
            "CONSENT_NOT_DOCUMENTED",
            f"The answer of {day_told(answer.answered_on)} has no paper, form or recording.",
            rules.effort_citation,
            "Attach the signed form, letter or note of the call.",
        )
    if state == ConsentState.GIVEN:
        return
    sentences = {
        ConsentState.REFUSED: "The owner has refused, or has taken consent back.",
        ConsentState.EFFORT_MADE: (
            f"{made.attempts} attempts by {made.methods} methods brought no answer."
        ),
        ConsentState.OPEN: f"The owner has not answered; {made.missing} to a reasonable effort.",
    }
    yield Finding(
        Level.STOP,
        "NO_CONSENT",
        sentences[state],
        rules.effort_citation,
        "Do not start. Keep the record; offer again when the owner changes or asks."
        if state != ConsentState.OPEN
        else "Do not start. Make the attempts that are missing.",
        value=float(made.attempts),
    )
