"""The day a page or a command works by.

Nothing below views and commands reads a clock. The project names, in the settings
`TODAY` and `NOW`, the callables that tell them, so that an invented scenario can stand at
a day of its own without this app knowing of it.
"""

from datetime import date, datetime

from django.conf import settings
from django.utils import timezone
from django.utils.module_loading import import_string


def today() -> date:
    """Return the day that pages and commands call today."""
    named = getattr(settings, "TODAY", "")
    return import_string(named)() if named else timezone.localdate()


def now() -> datetime:
    """Return the moment (aware) that new records are stamped with."""
    named = getattr(settings, "NOW", "")
    return import_string(named)() if named else timezone.now()
