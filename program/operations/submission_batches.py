"""What the worker does for the annual submission: freeze, amend, verify."""

from collections.abc import Callable
from datetime import date, datetime

from program.models import Submission
from program.operations.layouts import LayoutRefused, layout_chosen
from program.operations.submission_verify import submission_verify
from program.operations.submissions import SubmissionError, submission_amend, submission_freeze
from program.submissions.layouts import STANDARD
from services_inventory.models import Batch
from services_inventory.operations.batches import BatchError, batch_open

Report = Callable[[int, int], None]


def submission_run(*, batch: Batch, report: Report) -> None:
    """Freeze, amend or verify as a batch asks (its parameters say which)."""
    run = _verify if "verifies" in batch.parameters else _freeze
    try:
        run(batch, report)
    except (SubmissionError, LayoutRefused) as error:
        raise BatchError(str(error)) from error
    batch.state = batch.State.APPLIED


def _freeze(batch: Batch, report: Report) -> None:
    asked = batch.parameters
    ref = asked.get("layout", STANDARD.id)
    layout, _ = layout_chosen(ref)
    said = {
        "by": batch.requested_by,
        "at": batch.started_at or batch.created_at,
        "today": date.fromisoformat(asked["today"]),
        "layout": layout,
        "layout_ref": ref,
        "report": report,
    }
    if "amends" in asked:
        old = Submission.objects.get(pk=asked["amends"])
        done = submission_amend(submission=old, what_changed=asked["what_changed"], **said)
    else:
        done = submission_freeze(year=int(asked["year"]), **said)
    Submission.objects.filter(pk=done.pk, batch__isnull=True).update(batch=batch)
    batch.result = {"submission": done.pk}
    batch.message = f"The submission for {done.year}, revision {done.revision}, is frozen."


def _verify(batch: Batch, report: Report) -> None:
    submission = Submission.objects.get(pk=batch.parameters["verifies"])
    at = batch.started_at or batch.created_at
    found = submission_verify(submission=submission, at=at, report=report)
    batch.result = {
        "submission": submission.pk,
        "agrees": found.agrees,
        "altered": found.differences,
        "sentences": found.agreements,
        "moved": found.moved,
    }
    verdict = "agrees with" if found.agrees else "differs from"
    batch.message = f"Revision {submission.revision} {verdict} the record as known at its freeze."


def submissions_verify_open(*, by: str, at: datetime, year: int | None = None) -> list[Batch]:
    """Open a comparison with the record for every revision that was frozen; return them.

    A revision whose comparison waits or runs already gets no second one.
    """
    waits = Batch.objects.filter(
        kind="SUBMISSION", state__in=(Batch.State.QUEUED, Batch.State.APPLYING)
    )
    busy = {parameters.get("verifies") for parameters in waits.values_list("parameters", flat=True)}
    frozen = Submission.objects.exclude(digest="").order_by("id")
    if year is not None:
        frozen = frozen.filter(year=year)
    return [
        batch_open(
            kind="SUBMISSION",
            by=by,
            at=at,
            title=f"Verify the submission for {one.year}, revision {one.revision}",
            parameters={"year": one.year, "verifies": one.pk},
        )
        for one in frozen
        if one.pk not in busy
    ]
