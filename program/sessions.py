"""Sessions in a table that tells whose they are, so that they can be listed and ended."""

from datetime import UTC, datetime

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends import db

DOOR = "door"  # what a session knows of its own coming and going, see `doors.py`


class SessionStore(db.SessionStore):
    """Django's own, with what the list shows written beside each session."""

    @classmethod
    def get_model_class(cls):
        """Return the table."""
        from .models import SignedIn

        return SignedIn

    def create_model_instance(self, data):
        """Return the row of a session with these contents."""
        row, door = super().create_model_instance(data), data.get(DOOR, {})
        row.account_id = data.get(SESSION_KEY)
        row.came_from, row.browser = door.get("from", ""), door.get("browser", "")
        row.begun_at, row.seen_at = _moment(door.get("begun")), _moment(door.get("seen"))
        return row


def _moment(seconds: float | None) -> datetime | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC)
