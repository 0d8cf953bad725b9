"""Whether the database or the disk, rather than a statement, is what failed, and how to say so.

An error of PostgreSQL's server carries a code (its manual, appendix A: class 08 is the
connection, 28 who may connect, 3D the database's name, 53 its resources, 57P a server that stops
or starts). One without a code comes from this side: there is no connection. An error of SQLite
carries the name of its result code (sqlite.org, "Result and Error Codes").
"""

import errno

from django.db import DatabaseError, InterfaceError, OperationalError, ProgrammingError

AWAY = (
    "The database does not answer. Nothing of this was saved; what was saved before is as it was. "
    "Try again in a few minutes, and if it stays so, tell the administrator."
)
BUSY = (
    "Somebody else is writing to the database, such as a large file that is being taken in. "
    "Nothing of this was saved. Try again in a few minutes."
)
DISK_FULL = (
    "The disk of the program's machine is full. Nothing of this was saved; what was saved before "
    "is as it was. Tell the administrator; when there is room again, do it once more."
)
DAMAGED = (
    "The database's file is damaged, or is no database. Nothing of this was saved. Put the last "
    "backup in its place (docs/deploy.md), and keep the damaged file aside."
)
OTHER_VERSION = (
    "The database is not set up yet, or is of another version of this program. "
    "Where manage.py serve is bringing it up to date just now, wait for its address; else run "
    "“python manage.py migrate”. Then try again."
)
_AWAY_STATES = ("08", "28", "3D", "53", "57P")
_AWAY_NAMES = ("SQLITE_CANTOPEN", "SQLITE_IOERR", "SQLITE_READONLY")
_BUSY_NAMES = ("SQLITE_BUSY", "SQLITE_LOCKED")
_DAMAGED_NAMES, _DAMAGED_STATES = ("SQLITE_CORRUPT", "SQLITE_NOTADB"), ("XX001", "XX002")
_LACKING_WORDS = ("no such table", "no such column", "has no column named")
_LACKING_STATES = ("42P01", "42703")


def database_away(error: BaseException | None) -> str:
    """Return the sentence to show when the database is what failed, else an empty text."""
    if not isinstance(error, DatabaseError | InterfaceError):
        return ""
    if disk_full(error):
        return DISK_FULL
    cause = error.__cause__
    name = getattr(cause, "sqlite_errorname", None)
    if (name or "").startswith(_DAMAGED_NAMES) or _state(cause) in _DAMAGED_STATES:
        return DAMAGED
    if not isinstance(error, OperationalError | InterfaceError):
        return ""
    if name is not None and name.startswith(_BUSY_NAMES):
        return BUSY
    if name is not None:
        away = name.startswith(_AWAY_NAMES)
    elif hasattr(cause, "sqlstate"):
        away = cause.sqlstate is None or cause.sqlstate.startswith(_AWAY_STATES)
    else:
        away = False
    return AWAY if away else ""


def other_version(error: BaseException | None) -> str:
    """Return the sentence for a command to say when a table or column is lacking, else nothing.

    A page does not say it: there the same error may be a fault of one statement.
    """
    if not isinstance(error, OperationalError | ProgrammingError):
        return ""
    lacking = any(words in str(error) for words in _LACKING_WORDS)
    return OTHER_VERSION if lacking or _state(error.__cause__) in _LACKING_STATES else ""


def _state(cause: BaseException | None) -> str:
    return getattr(cause, "sqlstate", None) or ""


def disk_full(error: BaseException | None) -> str:
    """Return the sentence to show when a disk has no room left, else an empty text.

    Source: errno(3); PostgreSQL's disk_full, 53100; SQLite's SQLITE_FULL.
    """
    cause = getattr(error, "__cause__", None)
    full = (
        (isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT))
        or getattr(cause, "sqlite_errorname", None) == "SQLITE_FULL"
        or getattr(cause, "sqlstate", None) == "53100"
    )
    return DISK_FULL if full else ""
