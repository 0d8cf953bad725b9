"""Deriving every standing again from the evidence: to look for differences, or to write them."""

from datetime import datetime

from django.db import transaction
from django.utils.timezone import localdate

from services_inventory.refused import Refused

from .. import bulk
from ..domain.reporting import Report
from ..facts import Facts
from ..models import Batch
from ..policy import evidence_policy
from ..queries.checks import strange_evidence
from ..today import now
from .standings import standings_compare, standings_derive
from .sums import CodesWritten, codes_write


def restate_run(*, batch: Batch, report: Report) -> None:
    """Advance a batch of kind RESTATE: compare every line, and correct it with `write`.

    With `afresh`, every statement is first reduced again, and codes that don't follow from their
    statement are replaced; otherwise codes of the rule in force are taken as they are. A code that
    was right under an earlier rule is no difference; any other that was replaced is one.
    """
    try:
        _restate(batch, report)
    except ValueError as error:  # a code that no table of the program knows
        strange = " ".join(strange_evidence())
        if not strange:
            raise
        raise Refused(f"{strange} Nothing was compared.") from error


def _restate(batch: Batch, report: Report) -> None:
    recorded_at = batch.parameters.get("recorded_at")
    recorded_at = datetime.fromisoformat(recorded_at) if recorded_at else now()
    written, codes = 0, CodesWritten(0, 0)
    with bulk.large_work():
        if batch.parameters.get("afresh"):
            with transaction.atomic():
                codes = codes_write(Facts(evidence_policy(localdate(recorded_at))))
        found = standings_compare(recorded_at=recorded_at, report=report)
        if batch.parameters.get("write") and found["differences"]:
            written = standings_derive(
                line_ids=None, recorded_at=recorded_at, by=batch.requested_by, batch=batch
            )
    batch.counts = {"lines": found["lines"], "differences": found["differences"] + codes.wrong}
    batch.result = {
        "examples": found["examples"],
        "changed": written,
        "codes": codes.replaced,
        "codes_wrong": codes.wrong,
    }
    batch.state = Batch.State.APPLIED
