"""The program's clock: the only place in this project that knows what day it is.

A real utility runs on the real date. An invented scenario stands at the day in
`Utility.clock_stands_at`, and a banner on every page says so.
"""

from datetime import date, datetime, timedelta

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
    """Return the moment for new records: the real time of day on the program's day."""
    moment = timezone.now()
    day = standing_day()
    if day is None:
        return moment
    return moment + timedelta(days=(day - timezone.localdate(moment)).days)
