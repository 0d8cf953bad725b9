"""Reads of filed submissions and of the batches that make them."""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path

from django.conf import settings
from django.utils.timezone import localdate

from program.domain.calendar import annual_submission_due, last_finished_year, program_year_bounds
from program.domain.replacement_rate import percent
from program.models import Submission
from program.rules import rules_in_force
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


def submission_years(as_of: date) -> list[SubmissionYear]:
    """Return the finished program years, latest first, with their submissions by revision."""
    rules = rules_in_force()
    filed: dict[int, list[Submission]] = {}
    for submission in Submission.objects.order_by("-revision"):
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


def submission_file_path(submission: Submission, kind: str) -> Path | None:
    """Return where a file of a submission lies, or None."""
    path = submission.files.filter(kind=kind).values_list("path", flat=True).first()
    full = Path(settings.DATA_DIR) / path if path else None
    return full if full and full.is_file() else None


def summary_rows(submission: Submission) -> list[dict]:
    """Return the totals as the page shows them: code, heading, value in words."""
    from program.submissions.facts import REPORT_COUNTS, TOTALS

    totals = submission.facts["totals"]
    named = [(total.code, total.heading) for total in (*TOTALS, *REPORT_COUNTS)]
    named += [
        ("B9", "Replacement pool at the start"),
        ("B10", "Annual rate: (B4 + B5) of B9"),
        ("B11", "Cumulative average rate: mean of the annual rates"),
        ("B12a", "Required rate"),
    ]
    return [
        {"code": code, "heading": heading, "value": _shown(totals[code])}
        for code, heading in named
        if code in totals
    ]


def _shown(value) -> str:
    if isinstance(value, dict):
        return percent(Fraction(int(value["numerator"]), int(value["denominator"])), 4)
    return f"{value:,}" if isinstance(value, int) else str(value)
