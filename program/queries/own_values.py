"""Rows of the State's and the utility's own values as pages tell them: when each holds, and why."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.utils.timezone import localdate

from program.domain.own_values import Act, Period, Proposal, withdrawals
from program.domain.utility_facts import utility_facts
from program.models import OwnValue
from program.rules import own_rows, own_values_now, periods_of
from services_inventory.domain.allowed import shown
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import JURISDICTIONS, Rules, Value


@dataclass(frozen=True)
class OwnStanding:
    """One row: when it holds if it sets a value, who took it back if somebody did."""

    row: OwnValue
    period: Period | None
    taken_back_by: OwnValue | None
    about: OwnValue | None

    @property
    def name(self) -> str:
        """What pages call it."""
        return named(self.row.value_id)

    @property
    def value(self) -> str:
        """What it sets, in words."""
        return in_words(self.row.value) or "empty"

    @property
    def before(self) -> str:
        """What held before, in words."""
        return in_words(self.row.before) or "empty"

    @property
    def about_words(self) -> str:
        """Which row it ends or takes back."""
        row = self.about
        acts = {"SET": in_words(row.value) or "empty", "END": "an ending",
                "WITHDRAW": "a taking back"}  # fmt: skip
        return f"{acts[row.act]}, recorded on {day_told(localdate(row.recorded_at))}"

    @property
    def words(self) -> str:
        """How it stands, in words that need no day."""
        if self.taken_back_by:
            return f"taken back by {self.taken_back_by.author}: {self.taken_back_by.reason}"
        if self.period is None:
            return ""
        if self.period.is_empty:
            return "replaced before it began"
        ended = f" until before {day_told(self.period.until)}" if self.period.until else ""
        return f"from {day_told(self.period.first)}{ended}"

    @property
    def can_end(self) -> bool:
        """Whether it sets a value of the rule that nobody ended or took back."""
        is_rule = self.row.value_id not in utility_facts()
        return is_rule and self.period is not None and self.period.until is None and self.is_live

    @property
    def is_live(self) -> bool:
        """Whether nobody took it back."""
        return self.taken_back_by is None


def own_standings(value_ids: Iterable[str]) -> list[OwnStanding]:
    """Return the rows of some values, latest first."""
    wanted = set(value_ids)
    rows = [row for row in own_values_now() if row.value_id in wanted]
    said, by_id = periods_of(rows), {row.pk: row for row in rows}
    back = {pk: by_id[row.id] for pk, row in withdrawals(own_rows(rows)).items()}
    return [
        OwnStanding(row, said.get(row.pk), back.get(row.pk), by_id.get(row.about_id))
        for row in reversed(rows)
    ]


def under(rules: Rules, value_id: str, jurisdiction: str, day: date) -> Value:
    """Return what holds on a day apart from the values of a jurisdiction and those over it."""
    rank = JURISDICTIONS.index(jurisdiction)
    lower = [row for row in rules.values if JURISDICTIONS.index(row.jurisdiction) < rank]
    return Rules(tuple(lower)).get(value_id, day)


def ended_and_begun(before: Iterable[OwnValue], after: Iterable[OwnValue]) -> Iterator[str]:
    """Yield what rows mean for the values recorded before them, a sentence each."""
    before, after = list(before), list(after)
    old, new = periods_of(before), periods_of(after)
    for row in after:
        was, now = old.get(row.pk), new.get(row.pk)
        if now is None or (was and (was.until, was.is_empty) == (now.until, now.is_empty)):
            continue
        name = (
            f"The {row.jurisdiction.lower()} value {in_words(row.value)} from {day_told(now.first)}"
        )
        if now.is_empty:
            yield f"{name} holds on no day."
        elif now.until:
            yield f"{name} ends on {day_told(now.until)}: that is the first day it no longer holds."
        elif was:
            yield f"{name} holds again, with no end."


def in_words(recorded: object) -> str:
    """Return a recorded value (plain JSON) as a sentence names it."""
    if isinstance(recorded, list):
        recorded = tuple(tuple(part) if isinstance(part, list) else part for part in recorded)
    is_number = isinstance(recorded, int) and not isinstance(recorded, bool)
    return f"{recorded:,}" if is_number else shown(recorded)


def named(value_id: str) -> str:
    """Return what pages call a value of the rule, or a fact of the utility."""
    fact = utility_facts().get(value_id)
    return fact.label if fact else value_id


def title_of(proposals: Sequence[Proposal]) -> str:
    """Return what is proposed, as a heading."""
    return "; ".join(map(_title, proposals))


def _title(proposal: Proposal) -> str:
    name = named(proposal.value_id)
    whose = "" if name != proposal.value_id else f" ({proposal.jurisdiction.lower()})"
    if proposal.act is Act.SET:
        value = in_words(proposal.value) or "empty"
        return f"{name}{whose}: {value} from {day_told(proposal.effective_from)}"
    if proposal.act is Act.END:
        return f"{name}{whose}: ended on {day_told(proposal.effective_from)}"
    row = next(row for row in own_values_now() if row.pk == proposal.about)
    what = {Act.END: "its end", Act.WITHDRAW: "its taking back"}.get(row.act, in_words(row.value))
    return f"{name}{whose}: {what or 'empty'} taken back"


def facts_shown(facts: Mapping[str, object]) -> list[tuple[str, str]]:
    """Return (label, words) of the utility's facts."""
    return [
        (fact.label, in_words(facts[name]) if facts[name] not in (None, "") else "not recorded")
        for name, fact in utility_facts().items()
    ]


def unnamed(value_id: str) -> Value | None:
    """Return what stands for rows about a value that the rule doesn't have, if there are any.

    So that what was recorded under another version of the program can still be taken back.
    """
    if not any(row.value_id == value_id for row in own_values_now()):
        return None
    words = "The rule has no value of this name. Take back what was recorded under it."
    return Value(
        id=value_id, citation="", source="", mark="memory", read_on=date.min, value=None, unit="",
        summary=words,
    )  # fmt: skip


def zone_differs(time_zone: object) -> str:
    """Return a sentence where days begin by another zone than the utility's, else nothing."""
    if not time_zone or time_zone == settings.TIME_ZONE:
        return ""
    return (
        f"The utility's time zone is {time_zone}, but days begin by {settings.TIME_ZONE} here. "
        f"Have your administrator set TIME_ZONE to {time_zone} and start the program anew."
    )
