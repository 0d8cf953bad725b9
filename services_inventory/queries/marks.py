"""What changes whenever something of the inventory changed: what is kept hangs on it."""

from django.db.models import Max

from ..asked_once import once
from ..models import Batch, Premise

LATEST = 60


@once
def batch_mark() -> tuple:
    """Return the latest batches' states: another whenever one began, ended or was taken back."""
    rows = Batch.objects.order_by("-id").values_list("id", "state", "ended_at")
    return tuple(rows[:LATEST])


def premise_mark() -> tuple:
    """Return another mark whenever premises were added, corrected or taken back."""
    return (*batch_mark(), Premise.objects.aggregate(last=Max("id"))["last"])
