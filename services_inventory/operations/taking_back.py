"""Taking a record back: by name, time and reason, and once; it stays readable."""

from datetime import datetime

from services_inventory.models.withdrawal import Withdrawable
from services_inventory.refused import Refused


def take_back(*, row: Withdrawable, reason: str, by: str, at: datetime) -> None:
    """Take a record back; whatever rested on it follows, as only what stands is counted.

    Raises
    ------
    Refused: no reason is given, or it was taken back before.
    """
    if not reason.strip():
        raise Refused("Say why it is taken back.")
    if not type(row).withdraw(row.pk, by, at, reason):
        raise Refused("It was taken back before.")
