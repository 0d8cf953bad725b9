"""The pace strip: needed, planned and done by week, and what the lines behind it wait for."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from django.db.models import (
    Case,
    DateField,
    Exists,
    IntegerField,
    OuterRef,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce
from django.utils.dateparse import parse_date

from program.models import LostDay, Plan
from program.planning.defaults import default
from program.planning.pace import PlannedJobs, Week, idle_days, weeks_of
from program.queries.planning.asked import PlanAsked
from program.queries.planning.calendar import work_days_of
from program.queries.planning.pool import OPEN
from program.queries.rates import Rate, RateYearRow
from program.queries.replacements import full_by_day
from replacements.models import Consent, WorkOrder
from replacements.queries.owners import owner_changes
from services_inventory.domain.days import day_told
from services_inventory.models import ServiceLine
from services_inventory.queries.counts import unplaced_counts
from services_inventory.queries.counts_now import cells_now

# What an open line of an area that has begun waits for, from the end of the work to its beginning.
WAITS = {
    "REVIEW": "handed in, wait for review",
    "RETURNED": "returned with reasons, wait for the contractor",
    "RELEASED": "released, wait for the contractor",
    "PLANNED": "agreed and ordered, not released",
    "NO_ORDER": "agreed, no order made",
    "REFUSED": "owner refused or took the answer back",
    "NO_CONSENT": "no consent yet",
    "UNKNOWN": "unknown, nobody has looked",
}

REFUSALS = ("REFUSED", "REVOKED")
_LOST = "LOST"


@dataclass(frozen=True)
class Cause:
    """One reason for a gap: how many lines, or crew-days, it holds."""

    key: str
    label: str
    number: int
    unit: str = "lines"


@dataclass(frozen=True)
class Pace:
    """The running year's strip; `waits` part the open lines of areas begun, `others` may overlap.

    `needed` and `planned` are those of the year's end; `work_days` those of the year from the
    plan's day on.
    """

    row: RateYearRow
    as_of: date
    needed: int | None
    weeks: list[Week]
    plan: Plan | None = None
    crews: int = 0
    work_days: list[date] = field(default_factory=list)
    waits: list[Cause] = field(default_factory=list)
    others: list[Cause] = field(default_factory=list)

    @property
    def now(self) -> Week:
        """The week that ends today."""
        return next(week for week in self.weeks if week.last_day == self.as_of)

    @property
    def waiting(self) -> int:
        """Open lines of the areas that the plan has begun."""
        return sum(cause.number for cause in self.waits)

    def sentence(self) -> str:
        """The whole strip in words."""
        now, parts = self.now, []
        done = now.done or 0
        for figure, word, behind in (
            (now.planned, "planned", "the plan"),
            (now.needed, "needed at an even pace", "that pace"),
        ):
            if figure is not None:
                by = round(figure) - done
                way = f"{abs(by):,} {'behind' if by > 0 else 'ahead of'} {behind}"
                parts.append(f"{round(figure):,} {word} ({way if by else f'level with {behind}'})")
        told = " and ".join(parts)
        end = self.weeks[-1]
        fan = "" if end.low is None else (
            f" Nine in ten runs of the plan's forecast end the year between {round(end.low):,} and "
            f"{round(end.high or 0):,}."
        )  # fmt: skip
        return (
            f"By {day_told(self.as_of)}, program year {self.row.number}, week {now.number} of "
            f"{end.number}: {done:,} replaced{f', {told}' if told else ''}.{fan}"
        )


def pace_of(rate: Rate, as_of: date, plan: Plan | None) -> Pace | None:
    """Return the strip of the running year; None where no program year runs.

    plan : the one in force, or the one that is looked at; without it nothing is planned
    """
    if not rate.years or rate.years[-1].over:
        return None
    row = rate.years[-1]
    still = rate.standing.to_replace
    needed = None if still is None else still + row.record.replaced
    given = {"done": full_by_day(as_of, row.number), "needed": needed}
    if plan is not None and (year := _year_of(plan, row.number)):
        asked = PlanAsked.again(plan.settings)
        work_days = _work_days(asked, max(row.first_day, plan.drawn_on), row.last_day)
        areas = _areas(plan, row.number)
        weeks = weeks_of(
            row.first_day, row.last_day, as_of, areas=[jobs for _, jobs, _ in areas],
            work_days=work_days, drawn_on=plan.drawn_on, ends=_ends(plan, row.number), **given,
        )  # fmt: skip
        waits, lost = _waits(plan, row.number, as_of, max(row.first_day, plan.drawn_on))
        others = [*_idle(areas, year, work_days, as_of), *_weather(year, row, plan, as_of, lost)]
        return Pace(
            row, as_of, needed, weeks, plan, year.get("crews") or 0, work_days, waits,
            [*_unplaced(), *others],
        )  # fmt: skip
    weeks = weeks_of(
        row.first_day, row.last_day, as_of, areas=None, work_days=(), drawn_on=row.first_day,
        ends=None, **given,
    )  # fmt: skip
    return Pace(row, as_of, needed, weeks, others=_unplaced())


def _year_of(plan: Plan, number: int) -> dict | None:
    return next((row for row in plan.result.get("years", ()) if row["year"] == number), None)


def _work_days(asked: PlanAsked, first: date, last: date) -> list[date]:
    from program.planning.crew_calendar import working_days

    return working_days(work_days_of(asked), first, last)


def _areas(plan: Plan, number: int) -> list[tuple[int, PlannedJobs, date | None]]:
    """Return crew, jobs, and the day on which the ground is restored, of each area of a year."""
    days = (None, None, None)
    return [
        (crew, PlannedJobs(jobs, first, last), restored or last)
        for crew, jobs, *told in plan.result.get("laid", {}).get(str(number), ())
        for first, last, restored in [(*(day and parse_date(day) for day in told), *days)[:3]]
    ]


def _ends(plan: Plan, number: int) -> tuple[float, float] | None:
    """Nine in ten runs' numbers replaced in a year, by the plan's forecast."""
    kept = plan.forecast.get("replaced_fan") or ()
    rows = dict(zip(plan.forecast.get("years", ()), kept, strict=False))
    return (rows[number][0], rows[number][-1]) if number in rows else None


def answers_standing(as_of: date) -> QuerySet:
    """Return the owners' answers up to a day; what an earlier owner said holds no longer."""
    later = owner_changes(as_of).filter(
        premise=OuterRef("line__premise"), changed_on__gt=OuterRef("answered_on")
    )
    return Consent.objects.filter(~Exists(later), answered_on__lte=as_of)


def waiting_lines(plan: Plan, number: int, as_of: date) -> QuerySet:
    """Return the open lines of the areas begun by a day, each with what it `waits` for."""
    begun = plan.areas.filter(program_year__lte=number, starts_on__lte=as_of)
    order = WorkOrder.objects.filter(line=OuterRef("pk"), state__in=WorkOrder.OPEN_STATES)
    last = answers_standing(as_of).filter(line=OuterRef("pk")).order_by("-answered_on", "-id")
    lines = ServiceLine.objects.filter(
        pk__in=plan.area_lines.filter(area__in=begun).values("line_id"), category__in=OPEN
    )
    found = lines.annotate(
        order_state=Coalesce(Subquery(order.order_by("-id").values("state")[:1]), Value("")),
        answer=Coalesce(Subquery(last.values("answer")[:1]), Value("")),
    )
    return found.annotate(
        waits=Case(
            When(order_state="HANDED_IN", then=Value("REVIEW")),
            When(order_state="RETURNED", then=Value("RETURNED")),
            When(order_state="RELEASED", then=Value("RELEASED")),
            When(category="UNKNOWN", then=Value("UNKNOWN")),
            When(answer__in=REFUSALS, then=Value("REFUSED")),
            When(answer="", then=Value("NO_CONSENT")),
            When(order_state="PLANNED", then=Value("PLANNED")),
            default=Value("NO_ORDER"),
        )
    )


def _waits(plan: Plan, number: int, as_of: date, begun: date):
    """Return what lines wait for, and (day, crew) of what weather took; both by one question."""
    no_day, no_crew = Cast(Value(None), DateField()), Cast(Value(None), IntegerField())
    lines = waiting_lines(plan, number, as_of).order_by().values_list("waits", no_day, no_crew)
    lost = lost_days(begun, as_of).order_by().values_list(Value(_LOST), "day", "crew")
    rows = list(lines.union(lost, all=True))
    found = Counter(key for key, _, _ in rows)
    waits = [Cause(key, label, found[key]) for key, label in WAITS.items() if found[key]]
    return waits, [(day, crew) for key, day, crew in rows if key == _LOST]


def _unplaced() -> list[Cause]:
    """Open lines in no neighborhood, so in no area of any plan, by reason."""
    return [
        Cause(row["why"], f"{row['name'].lower()}, so in no area of any plan", row["open"])
        for row in unplaced_counts(cells_now())
        if row["open"]
    ]


def _idle(areas, year: dict, work_days, as_of: date):
    busy: dict[int, list[tuple[date, date]]] = {}
    for crew, jobs, restored in areas:
        if jobs.first and restored:
            busy.setdefault(crew, []).append((jobs.first, restored))
    idle = idle_days(busy, year.get("crews") or 0, work_days, as_of)
    if idle:
        yield Cause("IDLE", "days so far for which the plan has no work", idle, "crew-days")


def lost_days(first: date, last: date) -> QuerySet[LostDay]:
    """Return the days on record as lost to weather, those taken back left out."""
    rows = LostDay.objects.filter(taken_back_at=None, day__gte=first, day__lte=last)
    return rows.order_by("-day", "crew", "id")


def _weather(year: dict, row: RateYearRow, plan: Plan, as_of: date, days_lost):
    """Days that weather took, as recorded, beside the plan's allowance: its calendar has none."""
    low, high = default("season_days_lost")
    begun, crews = max(row.first_day, plan.drawn_on), year.get("crews") or 0
    gone = max(0, (as_of - begun).days + 1) / 365.25
    days = round(gone * (low + high) / 2 * crews)
    lost = {
        (day, crew) for day, own in days_lost for crew in ([own] if own else range(1, crews + 1))
    }
    told = f"days lost to weather so far, as recorded; the plan allows for {days:,}"
    if lost or days:
        yield Cause("WEATHER", told, len(lost), "crew-days")
