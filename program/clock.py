"""The program's clock: the only place in this project that knows what day it is.

A real utility runs on the real date. An invented scenario stands at the day in
`Utility.clock_stands_at`, and a banner on every page says so.
"""

from datetime import date, datetime, time

from django.utils import timezone

from .utility import the_utility


def standing_day() -> date | None:
    """Return the day the scenario stands at, or None where the real clock runs."""
    utility = the_utility()
    return utility.clock_stands_at if utility else None


def today() -> date:
    """Return the day that every page and command works by."""
    return standing_day() or timezone.localdate()


def now() -> datetime:
    """Return the moment for new records.

    On a scenario's day it is afternoon whatever the real time: what happened there in the morning
    (a submission was filed) would else be later than what is recorded now, and hide it.
    """
    moment = timezone.now()
    day = standing_day()
    if day is None:
        return moment
    passed = moment - timezone.make_aware(datetime.combine(timezone.localdate(moment), time()))
    return timezone.make_aware(datetime.combine(day, time(12))) + passed / 2


def machine_now() -> datetime:
    """Return the machine's own moment, whatever day a scenario stands at: of who signs in."""
    return timezone.now()
