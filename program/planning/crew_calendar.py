"""The crews' year: in which order each crew does its areas, and on which days.

The order is the shortest way round (found exactly for up to twelve areas); the days follow from
working days, federal holidays, the frost season and the dates by which consents can be in hand.
Lead times count back from the start: when to send consent letters, ask for permits and open a
locate ticket. Local codes, the permit and the locate center's own rules decide; these are planning
dates.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache
from itertools import islice
from math import ceil, floor
from operator import attrgetter

from program.planning.defaults import default
from program.planning.routes import shortest_order
from services_inventory.domain.days import day_told
from services_inventory.domain.formulas import csv_text


@dataclass(frozen=True)
class CrewArea:
    """One area of one crew; `not_before` is the first day it may start.

    `closed` holds first and last days of closures (paving moratoria, events) within the year,
    `away` those of the seasons in which its crew stays away.
    """

    area_id: str
    crew: int
    jobs: int
    lat: float
    lon: float
    not_before: date | None = None
    closed: tuple[tuple[date, date], ...] = ()
    away: tuple[tuple[date, date], ...] = ()


@dataclass(frozen=True)
class WorkDays:
    """When crews work, and how long paper takes; days of `weekdays` count from Monday as 0.

    `jobs_per_day` are those of a day of replacing, `restoring` the days of restoring the ground
    that follow for each of them. `frost` is the first and last (month, day) of the season without
    pulls, or None.
    """

    jobs_per_day: float = field(default_factory=lambda: default("jobs_per_crew_day"))
    restoring: float = 0.0
    weekdays: tuple[int, ...] = field(default_factory=lambda: tuple(default("production_weekdays")))
    frost: tuple[tuple[int, int], tuple[int, int]] | None = None
    federal_holidays: bool = True
    other_days_off: frozenset[date] = frozenset()
    consent_lead_days: int = field(default_factory=lambda: default("consent_lead_days"))
    permit_lead_days: int = field(default_factory=lambda: default("permit_lead_days"))
    locate_lead_workdays: int = field(default_factory=lambda: default("locate_lead_workdays"))
    locate_valid_days: int = field(default_factory=lambda: default("locate_valid_days"))


@dataclass(frozen=True)
class CalendarRow:
    """One area in the calendar; the three dates before `start` are the last that are in time.

    `restored` is the last day of restoring the ground that follows; None where there is none, or
    where it is done together with that of the crew's next area.
    """

    crew: int
    order: int
    area_id: str
    jobs: int
    start: date
    finish: date
    work_days: int
    consent_by: date
    permit_by: date
    locate_by: date
    locate_renewals: int
    notes: str = ""
    restored: date | None = None


class BadCalendar(ValueError):
    """Work that can't be put on days; the message says what to change."""


def calendar(
    areas, days: WorkDays, first_day: date, last_day: date, slow: Mapping[int, int] | None = None
) -> list[CalendarRow]:
    """Put every area on days, crew by crew.

    Parameters
    ----------
    areas : CrewArea, one per area; the crew is the one the plan gave.
    slow : working days on which a crew does half of its jobs, of crews that are new

    Returns
    -------
    list of CalendarRow, by crew and then by start; work that runs past `last_day` says so.

    Raises
    ------
    BadCalendar : no weekday is worked, a crew does no job a day, or every day is closed.
    """
    open_days = _working_days(days, first_day, last_day)
    rows = []
    for crew in sorted({area.crew for area in areas}):
        own = [area for area in areas if area.crew == crew]
        rows += _crew_rows(own, days, open_days, first_day, last_day, (slow or {}).get(crew, 0))
    return rows


def replan(
    areas, done, days: WorkDays, as_of: date, last_day: date,
    slow: Mapping[int, int] | None = None,
) -> list[CalendarRow]:  # fmt: skip
    """The rest of the year from today.

    Parameters
    ----------
    done : jobs finished by area id; areas wholly done leave the calendar, an area begun comes
        first for its crew.
    """
    left = [
        replace(area, jobs=area.jobs - done.get(area.area_id, 0))
        for area in areas
        if area.jobs > done.get(area.area_id, 0)
    ]
    begun = {area.area_id for area in left if done.get(area.area_id, 0) > 0}
    open_days = _working_days(days, as_of, last_day)
    rows = []
    for crew in sorted({area.crew for area in left}):
        own = [area for area in left if area.crew == crew]
        own_slow = (slow or {}).get(crew, 0)
        rows += _crew_rows(own, days, open_days, as_of, last_day, own_slow, begun)
    return rows


def working_days(days: WorkDays, first_day: date, last_day: date) -> list[date]:
    """The days on which crews work, first and last day included."""
    off = {year: _off(days, year) for year in range(first_day.year, last_day.year + 1)}
    return [day for day in _days(first_day, last_day) if _is_open(day, days, off[day.year])]


def csv_rows(rows) -> str:
    """The calendar as CSV text with one header line, none of it a formula to a spreadsheet."""
    names = list(CalendarRow.__dataclass_fields__)
    return csv_text(names, map(attrgetter(*names), rows))


def ics_bytes(rows, *, name: str, stamped: date) -> bytes:
    """One crew's areas as an iCalendar file of whole-day events.

    `stamped` is the day the plan was drawn; the same rows and day give the same bytes.
    """
    from icalendar import Calendar, Event

    book = Calendar()
    book.add("prodid", "-//lead line program//crew calendar//EN")
    book.add("version", "2.0")
    book.add("x-wr-calname", name)
    for row in rows:
        event = Event()
        event.add("uid", f"crew-{row.crew}-{row.area_id}-{row.start:%Y%m%d}@lead-line-program")
        event.add("dtstamp", _midnight(stamped))
        event.add("dtstart", row.start)
        # The end of a whole-day event is the day after its last.
        event.add("dtend", row.finish + timedelta(1))
        event.add("summary", f"{row.area_id}: {row.jobs} jobs")
        restored = f"Ground restored by {row.restored}. " if row.restored else ""
        event.add(
            "description",
            f"Consents by {row.consent_by}, permit by {row.permit_by}, locate ticket by "
            f"{row.locate_by}. {restored}{row.notes}".strip(),
        )
        book.add_component(event)
    return book.to_ical()


def _midnight(day: date):
    from datetime import UTC, datetime

    return datetime(day.year, day.month, day.day, tzinfo=UTC)


def _working_days(days: WorkDays, first_day: date, last_day: date) -> list[date]:
    if not days.weekdays:
        raise BadCalendar("No weekday is a working day: choose at least one.")
    if days.jobs_per_day <= 0:
        raise BadCalendar("A crew must do more than zero jobs a day.")
    # Two more years, so that late work gets dates and says that it is late.
    found = working_days(days, first_day, last_day.replace(month=12, day=28) + timedelta(730))
    if not found or found[0] > last_day:
        raise BadCalendar(
            f"No working day is left from {day_told(first_day)} to {day_told(last_day)}: shorten "
            "the frost season or the days off."
        )
    return found


def _days(first_day: date, last_day: date):
    for number in range((last_day - first_day).days + 1):
        yield first_day + timedelta(number)


def _off(days: WorkDays, year: int) -> frozenset[date]:
    return days.other_days_off | (_federal(year) if days.federal_holidays else frozenset())


@cache
def _federal(year: int) -> frozenset[date]:
    import holidays

    return frozenset(holidays.UnitedStates(years=year, categories=("public",)))


def _is_open(day: date, days: WorkDays, off) -> bool:
    return day.weekday() in days.weekdays and day not in off and not _in_frost(day, days.frost)


def _in_frost(day: date, frost) -> bool:
    if frost is None:
        return False
    first, last = frost
    today = (day.month, day.day)
    # A season over new year (December to March) wraps round.
    return first <= today <= last if first <= last else today >= first or today <= last


def _crew_rows(own, days: WorkDays, open_days, first_day, last_day, slow, begun=frozenset()):
    waiting = [own[k] for k in shortest_order([(area.lat, area.lon) for area in own])]
    waiting.sort(key=lambda area: area.area_id not in begun)
    rows: list = []
    cursor, owed = 0, 0.0
    while waiting:
        area, start = _next(waiting, open_days, cursor)
        waiting.remove(area)
        used = _days_of(area, open_days, start, _days_for(area.jobs, days.jobs_per_day, slow))
        if used is None:
            raise BadCalendar(
                f"Work area {area.area_id} finds no working days in the two years after "
                f"{day_told(last_day)}: shorten its closed dates or the frost season, or give crew "
                f"{area.crew} less work."
            )
        slow = max(0, slow - len(used))
        owed += len(used) * days.restoring
        # Parts of a day are kept for the next area; behind the last one they are a day.
        restoring = floor(owed + 1e-9) if waiting else ceil(owed - 1e-9)
        owed -= restoring
        row = _row(area, len(rows) + 1, used, open_days, days, first_day, last_day)
        cursor = open_days.index(used[-1]) + 1
        here = (k for k in range(cursor, len(open_days)) if _at_work(area, open_days[k]))
        if restored := list(islice(here, restoring)):
            row, cursor = replace(row, restored=open_days[restored[-1]]), restored[-1] + 1
        rows.append(row)
    return rows


def _days_for(jobs: int, a_day: float, slow: int) -> int:
    """The days that jobs take when half of them is done on each of the first `slow`."""
    return ceil(min(2 * jobs / a_day, jobs / a_day + slow / 2) - 1e-9)


def _next(waiting, open_days, cursor: int):
    """The first area in order that can start now; failing that, the one that can start soonest."""
    starts = [
        (next((k for k in range(cursor, len(open_days)) if _may(area, open_days[k])), None), area)
        for area in waiting
    ]
    for start, area in starts:
        if start == cursor:
            return area, start
    able = [(start, place) for place, (start, _) in enumerate(starts) if start is not None]
    if not able:
        raise BadCalendar(
            f"Work area {waiting[0].area_id} has no open day left: change its earliest day or its "
            "closed dates."
        )
    start, place = min(able)
    return waiting[place], start


def _may(area: CrewArea, day: date) -> bool:
    if area.not_before and day < area.not_before:
        return False
    return _at_work(area, day) and not any(first <= day <= last for first, last in area.closed)


def _at_work(area: CrewArea, day: date) -> bool:
    return not any(first <= day <= last for first, last in area.away)


def _days_of(area: CrewArea, open_days, start: int, count: int):
    used = []
    for day in open_days[start:]:
        if _may(area, day):
            used.append(day)
        if len(used) == count:
            return used
    return None


def _row(area, order, used, open_days, days, first_day, last_day) -> CalendarRow:
    start, finish = used[0], used[-1]
    place = open_days.index(start)
    notes = []
    if finish > last_day:
        notes.append(f"Runs past {day_told(last_day)}.")
    if area.not_before and start == area.not_before and start > first_day:
        notes.append(f"Waits for {day_told(area.not_before)}.")
    consent_by = start - timedelta(days.consent_lead_days)
    if consent_by < first_day:
        notes.append(f"Consent letters should have gone by {day_told(consent_by)}.")
    span = (finish - start).days + 1
    return CalendarRow(
        area.crew,
        order,
        area.area_id,
        area.jobs,
        start,
        finish,
        len(used),
        consent_by,
        start - timedelta(days.permit_lead_days),
        _workdays_before(open_days, place, start, days),
        max(0, ceil(span / days.locate_valid_days) - 1) if days.locate_valid_days else 0,
        " ".join(notes),
    )


def _workdays_before(open_days, place: int, start: date, days: WorkDays) -> date:
    """Locate centers count their own business days: Monday to Friday less federal holidays."""
    day, left = start, days.locate_lead_workdays
    while left > 0:
        day -= timedelta(1)
        if day.weekday() < 5 and day not in _off(days, day.year):
            left -= 1
    return day
