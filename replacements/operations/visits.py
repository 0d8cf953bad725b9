"""Who can be asked about a line, and when somebody is expected there."""

from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.timezone import localdate

from services_inventory.domain.days import day_told
from services_inventory.models import ServiceLine
from services_inventory.refused import Refused

from ..models import Appointment, Contractor, Person
from ..queries.closures import closure_findings
from .access import FAR_AHEAD, checked

LONGEST = timedelta(days=2)


def person_record(
    *,
    line: ServiceLine,
    capacity: str,
    name: str,
    by: str,
    at: datetime,
    phone: str = "",
    email: str = "",
    language: str = "",
) -> Person:
    """Record an owner, a tenant or a manager, and how to reach them.

    Raises
    ------
    Refused: nobody is named, or the capacity or the language is not known.
    """
    checked(capacity, language)
    if not name.strip():
        raise Refused("Write the person's name.")
    return Person.objects.create(
        line=line,
        capacity=capacity,
        name=name.strip()[:120],
        phone=phone.strip()[:40],
        email=email.strip(),
        language=language,
        recorded_by=by,
        recorded_at=at,
    )


def person_left(*, person: Person, on: date) -> None:
    """Note that somebody owns, lives in or manages the place no more."""
    Person.objects.filter(pk=person.pk, left_on=None).update(left_on=on)


def appointment_book(
    *,
    line: ServiceLine,
    purpose: str,
    starts_at: datetime,
    ends_at: datetime,
    by: str,
    at: datetime,
    with_whom: str = "OWNER",
    language: str = "",
    note: str = "",
    contractor: Contractor | None = None,
) -> Appointment:
    """Book a time at a place.

    Raises
    ------
    Refused: it is over already or years ahead, lasts more than two days, ends before it begins,
        meets another one booked at the place, or its purpose, capacity or language is not known.
    """
    checked(with_whom, language)
    if purpose not in Appointment.Purpose.values:
        raise Refused(f"A purpose is one of {', '.join(Appointment.Purpose.values)}.")
    if ends_at <= starts_at:
        raise Refused("The appointment ends before it begins.")
    if ends_at - starts_at > LONGEST:
        raise Refused(
            f"It begins {day_told(localdate(starts_at))} and ends {day_told(localdate(ends_at))}; "
            "an appointment is over within two days. Look at both days."
        )
    if ends_at <= at:
        raise Refused("That time is over; record the attempt that was made instead.")
    if ends_at > at + FAR_AHEAD:
        day = day_told(localdate(ends_at))
        raise Refused(f"The appointment is dated {day}; look at the year.")
    with transaction.atomic():
        ServiceLine.objects.select_for_update().get(pk=line.pk)
        _refuse_meeting(line, starts_at, ends_at)
        if purpose == Appointment.Purpose.WORK:
            _refuse_closed(line, localdate(starts_at))
        return Appointment.objects.create(
            line=line,
            contractor=contractor,
            purpose=purpose,
            starts_at=starts_at,
            ends_at=ends_at,
            with_whom=with_whom,
            language=language,
            note=note.strip()[:200],
            booked_by=by,
            booked_at=at,
        )


def _refuse_closed(line: ServiceLine, day: date) -> None:
    for found in closure_findings(line, day):
        raise Refused(f"{found.message} {found.do}")


def _refuse_meeting(line: ServiceLine, starts_at: datetime, ends_at: datetime) -> None:
    same = Appointment.objects.filter(
        line=line,
        state=Appointment.State.BOOKED,
        starts_at__lt=ends_at,
        ends_at__gt=starts_at,
    ).first()
    if same is not None:
        raise Refused(
            f"{same} is booked at this place already. Call it off, or choose another time."
        )


def appointment_close(
    *, appointment: Appointment, state: str, by: str, at: datetime, outcome: str = ""
) -> Appointment:
    """Say what became of an appointment: kept, missed or called off; once.

    Raises
    ------
    Refused: it was closed already, has not begun, or the state is none of the three.
    """
    closing = (Appointment.State.KEPT, Appointment.State.MISSED, Appointment.State.CANCELED)
    if state not in closing:
        raise Refused(f"An appointment becomes one of {', '.join(closing)}.")
    if state != Appointment.State.CANCELED and at < appointment.starts_at:
        raise Refused("It has not begun yet; it can only be called off.")
    done = Appointment.objects.filter(pk=appointment.pk, state=Appointment.State.BOOKED).update(
        state=state, outcome=outcome.strip()[:200], closed_by=by, closed_at=at
    )
    appointment.refresh_from_db()
    if not done:
        raise Refused(f"It was closed already: {appointment.get_state_display()}.")
    return appointment
