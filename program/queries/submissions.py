"""Reads of filed submissions and of the batches that make them."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import islice
from pathlib import Path

from django.utils.timezone import localdate

from program.domain.calendar import annual_submission_due, last_finished_year, program_year_bounds
from program.domain.deadlines import keep_until
from program.models import DoneMark, Submission
from program.queries.done_marks import standing_marks
from program.queries.signing import sheet_said
from program.rules import rules_in_force
from program.submissions import archive
from program.submissions.archive import zip_stream
from program.submissions.facts import code_order
from program.submissions.figures import exact_parts, figure_read
from program.submissions.kit import KIT_NAME, reviewers_kit
from services_inventory.asked_once import once
from services_inventory.kept_files import KeptFile, local_path
from services_inventory.models import Batch

RECOUNT = Path(archive.__file__).with_name("recount.py")
FILE_LABELS = {
    "xlsx": "Workbook",
    "csv": "Line list, CSV",
    "lines_json": "Line list, JSON lines",
    "json": "Summary and lists, JSON",
    "geopackage": "Line list, GeoPackage",
    "dictionary": "What the CSV's columns mean",
    "layout": "Layout used",
    "audit": "Recount",
    "corrections": "Correction ledger, CSV",
    "filed_and_now": "Totals filed and now, CSV",
    "manifest": "Manifest with every SHA-256",
}


@dataclass(frozen=True)
class SubmissionYear:
    """One finished program year: when its submission is due and what was filed."""

    year: int
    number: int
    due_on: date
    filed: list[Submission]
    marked: DoneMark | None = None

    @property
    def certified_on(self) -> date | None:
        """The day the latest certified revision was certified."""
        days = [localdate(s.certified_at) for s in self.filed if s.certified_at]
        return max(days, default=None)


@once
def filed_submissions() -> list[Submission]:
    """Return every submission that was frozen, the latest revisions first."""
    return list(Submission.objects.order_by("-revision"))


def submission_years(as_of: date) -> list[SubmissionYear]:
    """Return the finished program years, latest first, with their submissions by revision."""
    rules = rules_in_force()
    filed: dict[int, list[Submission]] = {}
    for submission in filed_submissions():
        filed.setdefault(submission.year, []).append(submission)
    marks = _marks()
    years = []
    for number in range(last_finished_year(_day_before(as_of), rules), 0, -1):
        year = program_year_bounds(number, rules)[1].year
        due_on = annual_submission_due(number, rules)
        years.append(
            SubmissionYear(year, number, due_on, filed.get(year, []), marks.get(str(number)))
        )
    return years


def _marks() -> dict[str, DoneMark]:
    """Return by program year what Deadlines shows as done: the two pages read one mark."""
    annual = (m for m in standing_marks() if m.key.startswith("ANNUAL_UPDATE_DAY/"))
    return {mark.key.rpartition("/")[2]: mark for mark in annual}


def _day_before(day: date) -> date:
    return date.fromordinal(day.toordinal() - 1)


def verified_last(submission: Submission) -> Batch | None:
    """Return the latest comparison of one revision with the record that came to an end."""
    ended = Batch.objects.filter(kind="SUBMISSION", result__submission=submission.pk)
    return ended.filter(result__has_key="altered").order_by("-id").first()


def kept_until(submission: Submission) -> date | None:
    """Return the first day on which a frozen revision may be discarded; none until it is frozen."""
    frozen_at = submission.frozen_at
    return frozen_at and keep_until(localdate(frozen_at), rules_in_force())


def submission_batches(year: int | None = None, limit: int = 5) -> list[Batch]:
    """Return the latest batches that froze or verified, of one year if given."""
    batches = Batch.objects.filter(kind="SUBMISSION").order_by("-id")
    if year is not None:
        batches = batches.filter(parameters__year=year)
    return list(batches[:limit])


def submission_file_rows(submission: Submission) -> list[dict]:
    """Return the files of a submission as its page lists them."""
    return [
        {
            "kind": file.kind,
            "label": FILE_LABELS.get(file.kind, file.kind),
            "name": Path(file.path).name,
            "bytes": file.bytes,
            "rows": file.rows,
            "sha256": file.sha256,
        }
        for file in submission.files.order_by("id")
    ]


def ledger_head(submission: Submission, rows: int = 50) -> dict | None:
    """Return the first rows of an amendment's ledger as it was frozen, or None for an original."""
    file = submission.files.filter(kind="corrections").first()
    if file is None:
        return None
    try:
        path = local_path(KeptFile(file.path))
        lines = open(path, encoding="utf-8", newline="")
    except OSError:
        return None
    with lines:
        table = csv.reader(lines)
        headings = next(table, [])
        return {"headings": headings, "rows": list(islice(table, rows)), "number": file.rows}


def submission_archive(submission: Submission) -> tuple[str, Iterator[bytes]]:
    """Return the name and the bytes of a ZIP with all files and the page that is signed.

    Raises
    ------
    FileNotFoundError: a file is missing.
    """
    named = submission.files.order_by("id").values_list("path", flat=True)
    paths = [local_path(KeptFile(path)) for path in named]
    for path in paths:
        path.stat()
    texts = [
        signing_sheet(submission),
        (KIT_NAME, reviewers_kit()),
        ("recount.py", RECOUNT.read_bytes()),
    ]
    name = f"submission-{submission.year}-revision-{submission.revision}.zip"
    return name, zip_stream(paths, texts)


def signing_sheet(submission: Submission) -> tuple[str, bytes]:
    """Return the name and the bytes of the page that is signed, a PDF."""
    from program.submissions.signing_sheet import signing_sheet_pdf  # loads the PDF library

    what = "certification" if submission.certified_at else "to-sign"
    name = f"{what}-{submission.year}-revision-{submission.revision}.pdf"
    return name, signing_sheet_pdf(sheet_said(submission))


def signed_last(user) -> dict[str, str]:
    """Return the name of an account, and the title and words that it certified with last."""
    signed = Submission.objects.filter(certified_by__endswith=f"({user.get_username()})")
    last = signed.order_by("-certified_at").first()
    said = {"title": last.certified_title, "statement": last.certified_statement} if last else {}
    return {"name": user.get_full_name(), **said}


def summary_rows(submission: Submission) -> list[dict]:
    """Return the figures as they were filed: code, heading, text, numerator and denominator.

    Of a revision each row has what the submission amended by it said, and whether it differs.
    """
    before = {entry["code"]: entry["text"] for entry in _amended_summary(submission)}
    return [
        {
            "code": entry["code"].replace("_TO_DATE", ", all"),
            "heading": entry["heading"],
            "value": entry["text"],
            "of": _exactly(entry["value"]),
            "before": before.get(entry["code"], ""),
            "differs": bool(before) and before.get(entry["code"], "") != entry["text"],
        }
        for entry in sorted(submission.facts["summary"], key=lambda e: code_order(e["code"]))
    ]


def _amended_summary(submission: Submission) -> list[dict]:
    earlier = Submission.objects.filter(year=submission.year, revision__lt=submission.revision)
    facts = earlier.order_by("-revision").values_list("facts", flat=True).first()
    return facts["summary"] if facts else []


def _exactly(value: object) -> str:
    top, bottom = exact_parts(figure_read(value))
    return f"{top:,} of {bottom:,}" if bottom else ""
