"""From the open pool to a planning case: areas, years, crews, money and windows."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from math import ceil, floor

from program.models import Plan as PlanRow
from program.operations.plans.capacity import capacity_of, crew_jobs, days_by_season, season_names
from program.operations.plans.closed_faces import closed_faces
from program.operations.plans.horizon import Horizon, horizon_of
from program.operations.plans.places import Place, UnknownLines, places_of, unknown_lines
from program.operations.plans.windows import AreaWindow, NamedPlaces, OpenYears, area_windows
from program.planning.defaults import default
from program.planning.priority import BadPriority, area_priority
from program.planning.solver import BoundMoney, PlanArea, PlanCase, PlanSettings, PlanYear, Quota
from program.planning.work_areas import AreaSize, BadArea, Grouping, WorkArea, default_size, group
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.pool import HoodFacts, OpenLine, answers, hood_facts, open_lines
from replacements.models import StreetClosure
from replacements.queries.closures import closures_from

# Larger pools get larger areas, but none of which a crew could not do several in a year.
_MANY_AREAS, _CREWS_AREAS = 800, 6


@dataclass(frozen=True)
class Record:
    """What is read of the record once, however many plans are drawn from it."""

    lines: dict[str, OpenLine]
    hoods: list[HoodFacts]
    unknown: UnknownLines
    said: dict[int, str]
    closures: tuple[StreetClosure, ...] = ()

    @classmethod
    def read(cls, seed: int, as_of: date) -> Record:
        """Read it on a day; the seed is that of the guess at unknown lines."""
        lines = open_lines()
        unknown = unknown_lines(lines, seed)
        by_id = {line.location_id: line for line in lines}
        return cls(by_id, hood_facts(), unknown, answers(), tuple(closures_from(as_of)))


@dataclass(frozen=True)
class Draft:
    """All that a plan is drawn from, and what was noticed on the way.

    `ready` holds the areas that need not wait for consent. While `verdict` is False, too much of
    the pool is in no area for anything to be said about the rule, and the plan isn't asked for it.
    """

    record: Record
    asked: PlanAsked
    lines: dict[str, OpenLine]
    ready: frozenset[str]
    grouping: Grouping
    unknown: UnknownLines
    places: dict[str, Place]
    horizon: Horizon
    crews: dict[int, int]
    windows: dict[str, AreaWindow]
    case: PlanCase
    verdict: bool
    notes: tuple[str, ...]

    @property
    def staffed(self) -> PlanAsked:
        """The settings with the crews of every year, chosen or asked for."""
        return self.asked.staffed(self.crews)

    def members(self, area: WorkArea) -> list[OpenLine]:
        """The open lines of one area."""
        return [self.lines[line_id] for line_id in area.line_ids]


def draft_of(
    as_of: date, asked: PlanAsked, record: Record | None = None, more_crews: int = 0
) -> Draft:
    """Make the case from the record, which is read if it isn't given.

    Parameters
    ----------
    more_crews : crews above the fewest that the work needs, where their number is not given

    Raises
    ------
    PlanError: something asked for or recorded makes a plan impossible.
    """
    record = record or Record.read(asked.seed, as_of)
    lines, hoods, unknown, said = record.lines, record.hoods, record.unknown, record.said
    known = [line for line in lines.values() if line.category != "UNKNOWN"]
    try:
        base = _base(asked)
        size = size_of(asked, len(lines), as_of)
        grouping = group((line.for_grouping() for line in lines.values()), size, keep=base.areas)
        faces = closed_faces(grouping, lines, record.closures)
        grouping, base = faces.grouping, base.with_parts(faces.parents)
        places, told = places_of(hoods, list(lines.values()), unknown, asked, said)
    except (BadArea, BadPriority) as error:
        raise PlanError(str(error)) from error
    ready = areas_with_consent(grouping, lines, said)
    waiting = sum(len(area.line_ids) for area in grouping.areas if area.id in ready)
    horizon = horizon_of(as_of, asked, len(known), list(unknown.chances.values()), waiting)
    work = len(known) + sum(unknown.chances.values())
    crews = crews_by_year(horizon, work, asked, more_crews)
    named = NamedPlaces(grouping, lines, [hood.name for hood in hoods])
    windows = area_windows(asked, named, horizon, faces.closed)
    verdict = len(grouping.unplaced) <= default("unplaced_share_most") * len(lines)
    case = PlanCase(
        areas=tuple(_areas(as_of, asked, lines, grouping, unknown, places, horizon, base, windows)),
        years=tuple(_years(asked.staffed(crews), lines, horizon, crews)),
        settings=PlanSettings(
            horizon.deadline.rate if verdict else Fraction(0),
            horizon.first_assessed_year,
            seed=asked.seed,
        ),
        seasons=season_names(asked),
        quotas=tuple(_quotas(asked, named, [year.year for year in horizon.years])),
        past_rates=horizon.past_rates,
    )
    notes = (
        *horizon.notes,
        *_notes(asked, crews, size, grouping, places, lines.values()),
        *filter(None, [faces.note()]),
        *told,
    )
    return Draft(
        record, asked, lines, ready, grouping, unknown, places, horizon, crews, windows, case,
        verdict, notes,
    )  # fmt: skip


def areas_with_consent(grouping: Grouping, lines, said: dict[int, str]) -> frozenset[str]:
    """The areas in which more than half of the known lines have their owner's consent."""
    found = set()
    for area in grouping.areas:
        known = [lines[i] for i in area.line_ids if lines[i].category != "UNKNOWN"]
        if 2 * sum(said.get(line.pk) == "GIVEN" for line in known) > len(known):
            found.add(area.id)
    return frozenset(found)


def size_of(asked: PlanAsked, pool: int, as_of: date) -> AreaSize:
    """The size asked for; where none is, the shipped one, or a larger one for a large pool.

    None that isn't asked for is more than a crew does in a year.
    """
    shipped, year = default_size(), as_of.year + 1
    days = sum(days_by_season(asked, date(year, 1, 1), date(year, 12, 31)))
    able = max(2, floor(days * asked.jobs_a_day))
    larger = min(pool / _MANY_AREAS, days * asked.jobs_a_day / _CREWS_AREAS)
    wanted = min(able // 2, max(shipped.target, ceil(larger), asked.area_least))
    target = asked.area_target or wanted
    most = asked.area_most or max(target, min(able, max(shipped.most, 2 * target)))
    least = asked.area_least if asked.area_target else min(asked.area_least, target)
    return AreaSize(least, target, most)


def crews_by_year(horizon: Horizon, work: float, asked: PlanAsked, more: int = 0) -> dict[int, int]:
    """The crews of every program year up to the deadline; where none are given, the fewest."""
    numbers = [year.year for year in (*horizon.years, *horizon.later)]
    wanted = {number: asked.crews_in(number) for number in numbers}
    given = {number: crews for number, crews in wanted.items() if crews is not None}
    if len(given) == len(wanted):
        return given
    fewest = crews_for(horizon, work, asked) + more
    return {number: given.get(number, fewest) for number in wanted}


def crews_for(horizon: Horizon, work: float, asked: PlanAsked) -> int:
    """The fewest crews that can do all work in time and hold the average on the way.

    Years whose crews are given have those.
    """
    rate, base = horizon.deadline.rate, sum(horizon.past_rates)
    for crews in range(1, 1000):
        room, needed = 0.0, 0.0
        for year in horizon.years:
            given = asked.crews_in(year.year)
            room += capacity_of(year, asked, crews if given is None else given)
            if year.year >= horizon.first_assessed_year:
                needed = float(rate * year.year - base) * year.pool - year.already_replaced
            # One job in twenty is lost to areas that don't fill a year exactly.
            if room < 1.05 * min(needed, work):
                break
        else:
            if room >= 1.05 * work:
                return crews
    return 1000


@dataclass(frozen=True)
class _Base:
    """What is kept of an earlier plan: its areas, their years, and the years locked by hand."""

    areas: tuple[WorkArea, ...] = ()
    years: tuple[tuple[str, int], ...] = ()
    locked: tuple[tuple[str, int], ...] = ()

    def with_parts(self, parents: dict[str, str]) -> _Base:
        """The same, with each part cut out in its area's year; a lock stays with the rest."""
        years = dict(self.years)
        cut = ((part, years[area]) for part, area in parents.items() if area in years)
        return replace(self, years=(*self.years, *cut))


def _base(asked: PlanAsked) -> _Base:
    if asked.based_on is None:
        return _Base()
    plan = PlanRow.objects.filter(pk=asked.based_on).first()
    if plan is None:
        raise PlanError(f"Plan {asked.based_on} is not there: choose another to start from.")
    ids: dict[int, list[str]] = {}
    pairs = plan.area_lines.order_by("line__location_id").values_list(
        "area_id", "line__location_id"
    )
    for area_id, line in pairs.iterator(5_000):
        ids.setdefault(area_id, []).append(line)
    areas, years, locked = [], [], []
    for row in plan.areas.select_related("neighborhood").order_by("key"):
        hood = row.neighborhood.name if row.neighborhood else ""
        lines = tuple(ids.get(row.pk, ()))
        areas.append(WorkArea(row.key, row.name, hood, lines, row.latitude, row.longitude))
        if row.program_year is not None:
            years.append((row.key, row.program_year))
            if row.locked and row.key not in asked.unlocked:
                locked.append((row.key, row.program_year))
    return _Base(tuple(areas), tuple(years), tuple(locked))


def _years(asked: PlanAsked, lines, horizon: Horizon, crews: dict[int, int]):
    """Each program year with its pool, its money and what its crews can do."""
    for year in horizon.years:
        budget, inspections = asked.budget_in(year.year), year.unknown * asked.cost_per_inspection
        if budget is None:
            # All of the work at once costs no more than this.
            budget = len(lines) * asked.cost_per_job + inspections
        yield PlanYear(
            year.year,
            year.pool,
            budget,
            crew_jobs(year, asked, crews[year.year]),
            year.already_replaced,
            inspections,
            _bound_money(asked, year.year),
        )


def _bound_money(asked: PlanAsked, year: int) -> tuple[BoundMoney, ...]:
    """What of a year's money is bound to neighborhoods, summed by the places named."""
    dollars: Counter[frozenset[str]] = Counter()
    for row in asked.funding:
        if year in row["years"] and row.get("places"):
            dollars[frozenset(row["places"])] += row["dollars"]
    return tuple(BoundMoney(money, places) for places, money in dollars.items())


def _areas(as_of, asked: PlanAsked, lines, grouping, unknown, places, horizon, base, windows):
    """Each work area with its windows, its locked year and its published one."""
    numbers = [year.year for year in horizon.years]
    earliest = _earliest(as_of, asked, horizon)
    open_years = OpenYears(asked, horizon, as_of)
    years, locked = dict(base.years), dict(base.locked)
    for area in grouping.areas:
        made = _area(asked, area, [lines[i] for i in area.line_ids], unknown, places)
        window = windows.get(area.id)
        yield replace(
            made,
            allowed_years=open_years.of(window, made.jobs),
            seasons=window.seasons if window else None,
            earliest_year=earliest if earliest > numbers[0] else None,
            locked_year=locked.get(area.id),
            published_year=_published(asked, years.get(area.id), numbers),
        )


def _quotas(asked: PlanAsked, named: NamedPlaces, numbers: list[int]):
    """Each promised share with its areas, in the years named or in all."""
    for place, quota in sorted(asked.quotas.items()):
        share, years = quota, numbers
        if isinstance(quota, dict):
            share, years = quota["share"], quota.get("years") or numbers
        areas = named.areas("The quotas name", place)
        if not areas:
            raise PlanError(f"{place} has no open line, so its quota can't be kept: remove it.")
        yield Quota(place, share, tuple(year for year in years if year in numbers), areas)


def _published(asked: PlanAsked, year: int | None, numbers: list[int]) -> int | None:
    if not asked.keep_published or year is None:
        return None
    # What should have been done by now can only be caught up.
    return max(numbers[0], min(year, numbers[-1]))


def _earliest(as_of: date, asked: PlanAsked, horizon: Horizon) -> int:
    """The first program year in which consent letters sent today leave days to work."""
    ready = as_of + timedelta(days=asked.consent_lead_days)
    return next(
        (year.year for year in horizon.years if year.last_day > ready), horizon.years[-1].year
    )


def expected_jobs(lines, unknown: UnknownLines) -> tuple[int, float]:
    """Known lead and GRR lines, and those expected among the unknown ones."""
    known = sum(line.category != "UNKNOWN" for line in lines)
    return known, sum(unknown.chances.get(line.location_id, 0.0) for line in lines)


def _area(asked: PlanAsked, area: WorkArea, lines, unknown, places) -> PlanArea:
    known, expected = expected_jobs(lines, unknown)
    # Hundredths keep the exact rates readable.
    counted = round(known + expected, 2)
    points = places[area.neighborhood].score.points
    return PlanArea(
        area.id,
        jobs=max(1, ceil(counted)),
        cost=round(counted * asked.cost_per_job, 2),
        priority=area_priority(points, known, expected),
        neighborhood=area.neighborhood,
        replacements=counted,
        quota_group=area.neighborhood,
    )


def _notes(asked: PlanAsked, crews, size: AreaSize, grouping: Grouping, places, lines):
    chosen = [number for year, number in crews.items() if asked.crews_in(year) is None]
    if chosen:
        yield (
            f"{chosen[0]} {'crew' if chosen[0] == 1 else 'crews'}: as few as every year's work "
            f"needs at {asked.jobs_a_day:g} jobs a day, with one job in twenty to spare. "
            "Enter the crews that you have."
        )
    free = [year for year in crews if asked.budget_in(year) is None]
    if len(free) == len(crews):
        yield "No budget was entered, so money limits nothing in this plan."
    elif free:
        yield (
            f"No budget was entered for program year {', '.join(map(str, free))}, so money limits "
            "nothing there."
        )
    if asked.area_target is None and size.target > default_size().target:
        yield (
            f"The pool is large, so work areas of about {size.target} lines were made, not "
            f"{default_size().target}."
        )
    if asked.area_most is None and size.most < default_size().most:
        yield (
            f"A crew does little more in a year than {size.most} jobs, so work areas hold no more "
            f"than that, not {default_size().most}."
        )
    for place in places.values():
        if not place.facts.has_boundary:
            yield (
                f"{place.facts.name} has no boundary: its lines are planned, but it is not on the "
                "map. Take in its boundary."
            )
    gone = Counter(line.neighborhood for line in lines if line.street == "")
    if gone:
        yield f"{sum(gone.values())} open lines have no street in their address."
    yield from grouping.sentences()
