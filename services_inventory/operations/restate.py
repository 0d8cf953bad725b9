"""Deriving every standing again from the evidence: to look for differences, or to write them."""

from datetime import datetime

from .. import bulk
from ..models import Batch
from ..today import now
from .batches import Report
from .standings import standings_compare, standings_derive


def restate_run(*, batch: Batch, report: Report) -> None:
    """Advance a batch of kind RESTATE: compare every line, and correct it with `write`."""
    recorded_at = batch.parameters.get("recorded_at")
    recorded_at = datetime.fromisoformat(recorded_at) if recorded_at else now()
    written = 0
    with bulk.large_work():
        found = standings_compare(recorded_at=recorded_at, report=report)
        if batch.parameters.get("write") and found["differences"]:
            written = standings_derive(
                line_ids=None, recorded_at=recorded_at, by=batch.requested_by, batch=batch
            )
    batch.counts = {"lines": found["lines"], "differences": found["differences"]}
    batch.result = {"examples": found["examples"], "changed": written}
    batch.state = Batch.State.APPLIED
