"""The calendar as iCalendar (RFC 5545), for the calendar programs that offices use."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from program.domain.deadlines.due import Due, DueState
from program.domain.deadlines.groups import Group, grouped
from services_inventory.domain.days import day_told

_PRODUCT = "-//Lead service line replacement program//Deadlines//EN"


def to_ics(dues: Iterable[Due], as_of: date, name: str = "Lead line deadlines") -> bytes:
    """Write deadlines as one iCalendar file of all-day events.

    What one duty asks for on one day is one event. The event of a single deadline keeps its UID
    for ever, so that a corrected day moves it instead of adding one. The file holds ids and
    rules, no names. The same dues and day give the same bytes.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    for group in grouped(dues):
        calendar.add_component(_event(group, as_of))
    return calendar.to_ical()


def _event(group: Group, as_of: date):
    from icalendar import Event

    due, state = group.first, group.state(as_of)
    event = Event()
    event.add("uid", f"{uuid5(NAMESPACE_URL, f'urn:lead-line-program:{group.key}')}")
    event.add("dtstamp", datetime.combine(as_of, time(), UTC))
    event.add("dtstart", due.due_on)
    event.add("dtend", due.due_on + timedelta(days=1))
    event.add("summary", _summary(group, state))
    event.add("description", _description(due))
    event.add("categories", [due.subject.kind.label])
    event.add("transp", "TRANSPARENT")
    return event


def _summary(group: Group, state: DueState) -> str:
    prefix = {DueState.OVERDUE: "OVERDUE: ", DueState.DONE: "Done: "}.get(state, "")
    due = group.first
    if group.number > 1:
        return f"{prefix}{group.number:,} × {due.what}"
    return f"{prefix}{due.what} ({due.subject.kind.label.lower()} {due.subject.id})"


def _description(due: Due) -> str:
    lines = [due.how_computed, f"Rule value {due.rule_id}: {due.mark}."]
    if due.done_on:
        lines.append(f"Done on {day_told(due.done_on)}.")
    return "\n".join(lines)
