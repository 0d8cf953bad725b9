"""What somebody said is done: one reading for Deadlines, Submissions and the boards."""

from program.models import DoneMark
from services_inventory.asked_once import once


@once
def standing_marks() -> list[DoneMark]:
    """Return the marks that were not taken back."""
    return list(DoneMark.objects.standing())


def latest_marks(limit: int = 10) -> list[DoneMark]:
    """Return what was last recorded as done, latest first."""
    latest = sorted(standing_marks(), key=lambda mark: (mark.recorded_at, mark.pk), reverse=True)
    return latest[:limit]
