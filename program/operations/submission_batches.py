"""What the worker does for the annual submission: freeze, amend, verify."""

from datetime import date, datetime

from django.db.models import QuerySet
from django.utils.timezone import localdate

from program.models import Submission
from program.operations.layouts import layout_chosen
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_amend, submission_freeze
from program.submissions.layouts import STANDARD
from services_inventory.domain.days import day_told
from services_inventory.domain.reporting import Report
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open


def submission_run(*, batch: Batch, report: Report) -> None:
    """Freeze, amend or verify as a batch asks (its parameters say which)."""
    run = _verify if "verifies" in batch.parameters else _freeze
    run(batch, report)
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
    rebuild = not batch.parameters.get("files_only", False)
    found = submission_verify(submission=submission, at=at, report=report, rebuild=rebuild)
    if not rebuild:
        found.agreements.append(_when_built(submission))
    batch.result = {
        "submission": submission.pk,
        "agrees": found.agrees,
        "altered": found.differences,
        "sentences": found.agreements,
        "moved": found.moved,
        "rebuilt": rebuild,
    }
    if not rebuild and found.agrees:
        batch.message = f"Revision {submission.revision}: its files are the ones that were frozen."
        return
    verdict = "agrees with" if found.agrees else "differs from"
    batch.message = f"Revision {submission.revision} {verdict} the record as known at its freeze."


def _when_built(submission: Submission) -> str:
    last = _rebuilds().filter(result__submission=submission.pk).order_by("-id").first()
    when = f"the last time on {day_told(localdate(last.ended_at))}" if last else "not yet"
    return (
        "Only the files and the chain were looked at. Each night the newest submission and one "
        f"earlier one in turn are built again from the record; this one {when}."
    )


def _rebuilds() -> QuerySet[Batch]:
    return Batch.objects.filter(kind="SUBMISSION", result__rebuilt=True, ended_at__isnull=False)


def due_in_turn() -> set[int]:
    """Return which to build again tonight: the newest, and the one not built for longest."""
    *older, newest = Submission.objects.exclude(digest="").order_by("id").values_list(
        "pk", flat=True
    ) or [0]
    last = dict(_rebuilds().order_by("id").values_list("result__submission", "id"))
    return {newest, *sorted(older, key=lambda pk: last.get(pk, 0))[:1]}


def submissions_verify_open(
    *, by: str, at: datetime, year: int | None = None, in_turn: bool = False
) -> list[Batch]:
    """Open a comparison with the record for every revision that was frozen; return them.

    A revision whose comparison waits or runs already gets no second one.
    in_turn : of all but two only the files and the chain are checked (`due_in_turn`)
    """
    waits = Batch.objects.filter(
        kind="SUBMISSION", state__in=(Batch.State.QUEUED, Batch.State.APPLYING)
    )
    busy = {parameters.get("verifies") for parameters in waits.values_list("parameters", flat=True)}
    frozen = Submission.objects.exclude(digest="").order_by("id")
    if year is not None:
        frozen = frozen.filter(year=year)
    whole = due_in_turn() if in_turn else set(frozen.values_list("pk", flat=True))
    return [
        batch_open(
            kind="SUBMISSION",
            by=by,
            at=at,
            title=f"Verify the submission for {one.year}, revision {one.revision}",
            parameters={"year": one.year, "verifies": one.pk, "files_only": one.pk not in whole},
        )
        for one in frozen
        if one.pk not in busy
    ]
