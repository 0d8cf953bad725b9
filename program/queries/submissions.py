"""Reads of filed submissions and of the batches that make them."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import islice
from pathlib import Path

from django.conf import settings
from django.utils.timezone import localdate, localtime

from program.domain.calendar import annual_submission_due, last_finished_year, program_year_bounds
from program.domain.shares import percent
from program.models import Submission
from program.rules import rules_in_force
from program.submissions.archive import zip_stream
from services_inventory.asked_once import once
from services_inventory.domain.days import day_told
from services_inventory.models import Batch

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
    years = []
    for number in range(last_finished_year(_day_before(as_of), rules), 0, -1):
        year = program_year_bounds(number, rules)[1].year
        due_on = annual_submission_due(number, rules)
        years.append(SubmissionYear(year, number, due_on, filed.get(year, [])))
    return years


def _day_before(day: date) -> date:
    return date.fromordinal(day.toordinal() - 1)


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
    path = file and Path(settings.DATA_DIR) / file.path
    if not path or not path.is_file():
        return None
    with open(path, encoding="utf-8", newline="") as lines:
        table = csv.reader(lines)
        headings = next(table, [])
        return {"headings": headings, "rows": list(islice(table, rows)), "number": file.rows}


def submission_archive(submission: Submission) -> tuple[str, Iterator[bytes]]:
    """Return the name and the bytes of a ZIP with all files, and the certification if there is one.

    Raises
    ------
    FileNotFoundError: a file is missing.
    """
    root = Path(settings.DATA_DIR)
    paths = [root / path for path in submission.files.order_by("id").values_list("path", flat=True)]
    for path in paths:
        path.stat()
    texts = [("certification.txt", certification(submission))] if submission.certified_at else []
    name = f"submission-{submission.year}-revision-{submission.revision}.zip"
    return name, zip_stream(paths, texts)


def certification(submission: Submission) -> str:
    """Return who certified what, when and in which words, as plain text."""
    unread = ", ".join(submission.facts.get("acknowledged", ())) or "none"
    return "\n".join(
        [
            f"Annual submission for {submission.year}, revision {submission.revision}",
            f"As of {day_told(submission.as_of)}, program year {submission.facts['program_year']}",
            f"Digest (SHA-256 of the manifest): {submission.digest}",
            f"Digest of the submission before: {submission.previous_digest or 'none'}",
            "",
            submission.certified_statement,
            "",
            f"{submission.certified_by}, {submission.certified_title}",
            f"Certified on {localtime(submission.certified_at):%Y-%m-%d %H:%M}",
            f"Values used, acknowledged as not yet read in the rule's text: {unread}",
            "",
        ]
    )


def summary_rows(submission: Submission) -> list[dict]:
    """Return the totals as the page shows them: code, heading, value in words.

    Of a revision each row has what the submission amended by it said, and whether it differs.
    """
    before = _amended_totals(submission)
    rows = _summary(submission)
    for row in rows:
        row["before"] = _shown(before[row["code"]]) if row["code"] in before else ""
        row["differs"] = bool(before) and row["before"] != row["value"]
    return rows


def _amended_totals(submission: Submission) -> dict:
    earlier = Submission.objects.filter(year=submission.year, revision__lt=submission.revision)
    facts = earlier.order_by("-revision").values_list("facts", flat=True).first()
    return facts["totals"] if facts else {}


def _summary(submission: Submission) -> list[dict]:
    from program.submissions.facts import REPORT_COUNTS, TOTALS, code_order

    totals = submission.facts["totals"]
    named = [(total.code, total.heading) for total in (*TOTALS, *REPORT_COUNTS)]
    named += [
        ("B1", "Baseline lead lines"),
        ("B2", "Baseline GRR lines"),
        ("B3", "Baseline unknown lines"),
        ("B9", "Replacement pool at the start"),
        ("B10", "Annual rate: (B4 + B5) of B9"),
        ("B11", "Cumulative average rate: mean of the annual rates"),
        ("B12a", "Required rate"),
        ("B12b", "Deadline"),
        ("B12c", "Kind of deadline"),
        ("B15", "Replacement plan"),
    ]
    named.sort(key=lambda pair: code_order(pair[0]))
    return [
        {"code": code, "heading": heading, "value": _shown(totals[code])}
        for code, heading in named
        if code in totals
    ]


def _shown(value) -> str:
    if isinstance(value, dict):
        return percent(Fraction(int(value["numerator"]), int(value["denominator"])), 4)
    return f"{value:,}" if isinstance(value, int) else str(value)
