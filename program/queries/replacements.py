"""What each accepted piece of work counts as, worked out by the rule from the stored facts."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Case, F, OuterRef, Q, Subquery, When
from django.db.models.functions import Coalesce

from program.domain.calendar import program_year, program_year_bounds
from program.domain.counting import Counted, CountKind, Event, Work, count
from program.rules import never_had_lead, rules_in_force
from replacements.models import Replacement
from services_inventory.asked_once import once
from services_inventory.domain.classification import Category, LineFacts, Policy, facts_from_key
from services_inventory.domain.materials import Material
from services_inventory.domain.regulation import Rules
from services_inventory.models import CategoryChange

CHUNK = 2_000


class CountedWork(NamedTuple):
    """One accepted piece of work and what it counts as; `category_before` as it was counted."""

    replacement_id: int
    line_id: int
    done_on: date
    kind: CountKind
    program_year: int | None
    category_before: str
    facts_after: str
    reason: str
    connector_replaced: bool


def counted_works(
    as_of: date, known_at: datetime | None = None, rules: Rules | None = None
) -> Iterator[CountedWork]:
    """Yield every accepted piece of work up to a day, by day, each line's full one once.

    Work whose evidence was taken back by then is left out; where that of one portion was, the
    rest counts by itself.

    Parameters
    ----------
    as_of : work done later is left out
    known_at : only work accepted by this moment counts
    """
    counter = _Counter(as_of, rules or rules_in_force(known_at), _settled(as_of, known_at))
    for row in _works(as_of, known_at).iterator(CHUNK):
        yield counter.counted(*row)


def kinds_by_year(
    as_of: date, known_at: datetime | None = None, rules: Rules | None = None
) -> dict[int | None, Counter]:
    """Return {program year: {CountKind: number of works}}; None holds work before year 1."""
    found: dict[int | None, Counter] = {}
    for (year, kind, _), number in _by_day(as_of, known_at, rules).items():
        found.setdefault(year, Counter())[kind] += number
    return found


@once
def _by_day(as_of: date, known_at: datetime | None, rules: Rules | None) -> Counter:
    works = counted_works(as_of, known_at, rules)
    return Counter((work.program_year, work.kind, work.done_on) for work in works)


def full_by_day(as_of: date, year: int) -> Counter[date]:
    """Return {day: full replacements} of a program year, up to a day."""
    found: Counter[date] = Counter()
    for (of, kind, day), number in _by_day(as_of, None, None).items():
        if of == year and kind.is_full:
            found[day] += number
    return found


def full_in(kinds: Counter) -> int:
    """Return the full replacements among counted works."""
    return sum(number for kind, number in kinds.items() if kind.is_full)


def full_replacements(as_of: date | None = None) -> int:
    """Return the full replacements of all program years, up to a day if one is given."""
    kinds = kinds_by_year(as_of or date.max)
    return sum(full_in(found) for found in kinds.values())


def full_by_neighborhood() -> dict[int | None, int]:
    """Return {neighborhood id: lines replaced in full}, by where the lines lie today."""
    standing = Replacement.objects.standing(date.max)
    places = dict(standing.values_list("line_id", "line__neighborhood_id"))
    full = (work.line_id for work in counted_works(date.max) if work.kind.is_full)
    return Counter(places[line_id] for line_id in full)


def _works(as_of: date, known_at: datetime | None):
    """What stands of each work; where a part was taken back, what the line is known as now."""
    changes = CategoryChange.objects.filter(
        line=OuterRef("line"), effective_on__lte=as_of, decision__isnull=False
    )
    if known_at is not None:
        changes = changes.filter(recorded_at__lte=known_at)
    last = changes.order_by("-effective_on", "-recorded_at", "-id").values("decision__facts_key")
    whole = Q(
        system_stands=F("system_replaced"), customer_stands=F("customer_replaced"),
        connector_stands=F("connector_replaced"),
    )  # fmt: skip
    is_now = Coalesce(Subquery(last[:1]), F("facts_after"))
    works = Replacement.objects.standing(as_of, known_at).annotate(
        facts_left=Case(When(whole, then=F("facts_after")), default=is_now)
    )
    return works.order_by("replaced_on", "id").values_list(
        "id", "line_id", "replaced_on", "facts_before", "facts_left",
        "system_stands", "customer_stands", "connector_stands",
    )  # fmt: skip


def _settled(as_of: date, known_at: datetime | None) -> set[int]:
    """Lines whose work left an unknown portion that was shown to be non-lead afterwards."""
    works = Replacement.objects.standing(as_of, known_at).filter(
        category_after=Category.UNKNOWN, category_before__in=_COUNTED
    )
    changes = CategoryChange.objects.filter(line=OuterRef("line"), effective_on__lte=as_of)
    if known_at is not None:
        changes = changes.filter(recorded_at__lte=known_at)
    last = changes.order_by("-effective_on", "-recorded_at", "-id").values("to_category")
    found = works.annotate(last=Subquery(last[:1])).filter(last=Category.NON_LEAD)
    return set(found.values_list("line_id", flat=True))


_COUNTED = (Category.LEAD, Category.GRR)
_NON_LEAD = LineFacts(Material.NON_LEAD, Material.NON_LEAD)


class _Counter:
    """Counts works in order of their day; equal facts are judged once."""

    def __init__(self, as_of: date, rules: Rules, settled: set[int]):
        self.as_of, self.rules, self.settled = as_of, rules, settled
        connectors = bool(rules.value("CONNECTORS_MAKE_GRR", as_of))
        self.policy = Policy(never_had_lead=never_had_lead(as_of), connectors_make_grr=connectors)
        self.full: set[int] = set()
        self.judged: dict[tuple, Counted] = {}
        self.year: tuple[int | None, date] = None, date.min  # of the last work, and its last day

    def counted(
        self, pk, line_id, done_on, before, after, system, customer, connector
    ) -> CountedWork:
        event = _event(system, customer, connector)
        found = self._judge(event, before, after, done_on)
        if line_id in self.settled and found.kind.is_partial:
            found = self._judge(event, before, "", done_on)
        kind, reason = found.kind, found.reason
        was = kind.value.rpartition("_")[2] if kind.is_full or kind.is_partial else ""
        if kind.is_full:
            if line_id in self.full:
                kind, reason = CountKind.NEITHER, "This line's replacement is counted already."
            self.full.add(line_id)
        year = found.program_year
        return CountedWork(pk, line_id, done_on, kind, year, was, after, reason, bool(connector))

    def _judge(self, event: Event, before: str, after: str, done_on: date) -> Counted:
        key = (event, before, after, self._year_of(done_on))
        if key not in self.judged:
            facts_after = facts_from_key(after) if after else _NON_LEAD
            work = Work(event, facts_from_key(before), facts_after, done_on)
            self.judged[key] = count(work, self.as_of, policy=self.policy, rules=self.rules)
        return self.judged[key]

    def _year_of(self, day: date) -> int | None:
        """Return the program year of a day that lies before none that was asked for."""
        number, last = self.year
        if day > last:
            number = program_year(day, self.rules)
            self.year = number, program_year_bounds(number, self.rules)[1] if number else day
        return self.year[0]


def _event(system: bool, customer: bool, connector: bool) -> Event:
    if system or customer:
        return Event.REPLACED
    return Event.CONNECTOR_REPLACED if connector else Event.DUG_UP
