"""What ends a command by a fault of data, settings or the machine, in a sentence.

The one place for all commands, Django's own among them; `manage.py` prints the sentence and ends
with exit code 1. What is no such fault is one of the program and keeps its traceback.
"""

from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, InterfaceError

from .database_away import database_away, disk_full, other_version
from .domain.regulation import RegulationError
from .kept_files import store_away

WHICH_DATABASE = "DATABASE_URL says which database is meant; docs/deploy.md, where to look first."


def sentence_of(error: BaseException) -> str:
    """Return what to say, or an empty text where the program itself is at fault."""
    if isinstance(error, ImproperlyConfigured | RegulationError):
        return str(error)
    if isinstance(error, DatabaseError | InterfaceError):
        return _of_database(error)
    if isinstance(error, OSError):
        return disk_full(error) or _of_file(error)
    return store_away(error)


LOCK_NOT_AVAILABLE = "55P03"  # PostgreSQL's documentation, appendix A
HELD_TOO_LONG = (
    "Somebody is at work on a table that this needs, and did not let it go in the time that "
    "lock_timeout allows. What was being done at that moment is undone; run it again, best when "
    "less is going on."
)


def _of_database(error: Exception) -> str:
    if getattr(error.__cause__, "sqlstate", "") == LOCK_NOT_AVAILABLE:
        return HELD_TOO_LONG
    if lacking := other_version(error):
        return lacking
    away = database_away(error)
    return f"{str(error).strip()}\n{away}\n{WHICH_DATABASE}" if away else ""


def _of_file(error: OSError) -> str:
    """Say which file or folder can't be used; without a name the error tells nobody anything."""
    return f"{error.filename} can't be used: {error.strerror}." if error.filename else ""
