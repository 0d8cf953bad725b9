"""The life of an annual submission: draft, frozen, certified, amended. Files never change."""

import fcntl
import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import MINYEAR, date, datetime, timedelta
from pathlib import Path, PurePath

from django.conf import settings
from django.db import transaction

from program.domain.calendar import annual_submission_due, program_year, program_year_bounds
from program.models import Submission, SubmissionFile
from program.operations.pools import pools_freeze_due
from program.operations.sealing import record_seal
from program.operations.submission_content import Content, kept_now
from program.queries.certification import questions_asked, unread_values
from program.queries.corrections import amends_kept
from program.queries.deadlines import overdue_count
from program.queries.open_questions import Question, open_questions
from program.rules import rules_in_force
from program.submissions import digest
from program.submissions.filing import PASSES, AuditDiffers, Filing, write_submission
from program.submissions.layouts import STANDARD, Layout, LayoutError, layout_text
from program.submissions.tables import lists_now
from program.two_processes import pool_reading
from services_inventory import bulk
from services_inventory.domain.certain import certain
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import Rules
from services_inventory.domain.reporting import Report
from services_inventory.kept_files import KeptFile, hand_over, local_path, sha256_of
from services_inventory.models import CategoryChange, ServiceLine
from services_inventory.progress import UNFINISHED
from services_inventory.queries.counts import category_counts_on
from services_inventory.refused import Refused

BEFORE_THE_PROGRAM = 0
FILED = (Submission.State.FROZEN, Submission.State.CERTIFIED)


class SubmissionError(Refused):
    """The submission cannot go on; the message says why and what to do."""


@dataclass(frozen=True)
class Draft:
    """What a submission of a year would say now, and what is still open."""

    year: int
    as_of: date
    program_year: int
    due_on: date | None  # None before the first program year: the State says when
    counts: dict[str, int]
    questions: list[Question]
    submission: Submission | None


def submission_day(year: int, today: date, rules: Rules) -> tuple[date, int]:
    """Return the last day and the number of the program year that a year's submission covers.

    Before the first program year the number is BEFORE_THE_PROGRAM and the day the year's last,
    or today in the running year.

    Raises
    ------
    SubmissionError: the year has not begun or its program year is not over, or nothing was known.
    """
    first_year = program_year_bounds(1, rules)[1].year
    if year < MINYEAR:
        raise SubmissionError(f"{year} is no year. Give a year such as {first_year}.")
    if year < first_year:
        last = rules.latest("COMPLIANCE_DATE").value - timedelta(days=1)
        return _day_before_the_program(year, min(today, last), today), BEFORE_THE_PROGRAM
    if year > first_year + 200:
        raise SubmissionError(f"No program year ends in {year}. Give a year such as {first_year}.")
    number = certain(program_year(date(year, 12, 31), rules))
    last = program_year_bounds(number, rules)[1]
    if today <= last:
        raise SubmissionError(
            f"Program year {number} runs to {day_told(last)}, and today is {day_told(today)}. The "
            "submission for "
            f"{year} can be frozen from the day after; until then see the board."
        )
    return last, number


def _day_before_the_program(year: int, last: date, today: date) -> date:
    """Return the day of an inventory update from before the first program year.

    Until then updates follow the State's rhythm, so the running year can be stated as of today.
    """
    if year > today.year:
        raise SubmissionError(f"{year} has not begun; today is {day_told(today)}.")
    day = min(date(year, 12, 31), last)
    if not CategoryChange.objects.filter(effective_on__lte=day).exists():
        raise SubmissionError(
            f"The record holds no line as of {day_told(day)}: nothing was taken in by then. Take "
            "in the "
            "inventory first, or give a later year."
        )
    return day


def submission_filed(year: int) -> Submission | None:
    """Return the latest frozen or certified submission of a year."""
    return Submission.objects.filter(year=year, state__in=FILED).order_by("-revision").first()


def submission_files(year: int) -> dict[str, str]:
    """Return {kind: path} of the latest filed submission of a year, empty where there is none."""
    submission = submission_filed(year)
    if submission is None:
        return {}
    rows = submission.files.order_by("id").values_list("kind", "path")
    return {kind: str(local_path(KeptFile(path))) for kind, path in rows}


def submission_draft(*, year: int, today: date, at: datetime) -> Draft:
    """Return what the submission of a year would say now, with every open question.

    Raises
    ------
    SubmissionError: see `submission_day`.
    """
    rules = rules_in_force()
    as_of, number = submission_day(year, today, rules)
    return Draft(
        year,
        as_of,
        number,
        annual_submission_due(number, rules) if number else None,
        category_counts_on(as_of),
        open_questions(as_of, at, number, overdue_count(today)),
        submission_filed(year),
    )


def submission_freeze(
    *,
    year: int,
    by: str,
    at: datetime,
    today: date,
    layout: Layout = STANDARD,
    layout_ref: str = STANDARD.id,
    report: Report | None = None,
) -> Submission:
    """Freeze the submission of a year: write, audit and seal its files; filed already, return it.

    Lines, evidence, work and counts are as of the last day of the program year, as known now.
    layout_ref : which layout it is, such as "county_one@3"; kept with the submission

    Raises
    ------
    SubmissionError: the year cannot be submitted, another freeze runs, or the recount differs.
    """
    rules = rules_in_force(at)
    as_of, number = submission_day(year, today, rules)
    with _alone(year):
        return submission_filed(year) or _freeze(
            year, as_of, number, by, at, today, layout, layout_ref, report
        )


def submission_amend(
    *,
    submission: Submission,
    what_changed: str,
    by: str,
    at: datetime,
    today: date,
    layout: Layout = STANDARD,
    layout_ref: str = STANDARD.id,
    report: Report | None = None,
) -> Submission:
    """Freeze a new revision of a filed submission that says what changed; the old files stay.

    Raises
    ------
    SubmissionError: nothing is said about what changed, or it is not the latest one filed.
    """
    if not what_changed.strip():
        raise SubmissionError("Say what changed since the submission that is amended.")
    with _alone(submission.year):
        latest = submission_filed(submission.year)
        if latest is None or latest.pk != submission.pk:
            raise SubmissionError("Only the latest submission filed for a year can be amended.")
        as_of, number = submission_day(submission.year, today, rules_in_force(at))
        fresh = _freeze(
            submission.year, as_of, number, by, at, today, layout, layout_ref, report,
            what_changed.strip(), amends_kept(latest),
        )  # fmt: skip
        # A certified one stays in force until its amendment is certified too.
        Submission.objects.filter(pk=latest.pk, state=Submission.State.FROZEN).update(
            state=Submission.State.REPLACED
        )
        return fresh


def submission_certify(
    *,
    submission: Submission,
    name: str,
    title: str,
    statement: str,
    by: str,
    at: datetime,
    answered: tuple[str, ...] = (),
) -> Submission:
    """Certify a frozen submission; the caller has checked that the person may.

    `answered`: the keys of the questions that were answered by yes; all of them are kept with
    their evidence, and the unread values are not asked about again while they stay as they are.

    Raises
    ------
    SubmissionError: something is missing, a question is not answered, the submission is not
        frozen, or a file is not what was frozen.
    """
    if submission.state != Submission.State.FROZEN:
        raise SubmissionError(f"This submission is {submission.get_state_display()}, not frozen.")
    if not (name.strip() and title.strip() and statement.strip()):
        raise SubmissionError("A certification needs a name, a title and a statement.")
    asked = questions_asked(submission)
    if missing := [one.question for one in asked if one.key not in answered]:
        raise SubmissionError(
            f"Not answered by yes: {' '.join(missing)} If the answer is no, correct the record "
            "and amend the submission before anybody signs it."
        )
    if faults := submission_check_files(submission):
        raise SubmissionError(" ".join(faults))
    with transaction.atomic():
        used = {row[0]: row[1] for row in submission.facts["values_used"]}
        submission.facts = {
            **submission.facts,
            "answers": [[one.question, *one.evidence] for one in asked],
            "accepted": {key: used[key] for key in unread_values(submission)},
        }
        submission.state = Submission.State.CERTIFIED
        submission.certified_by = f"{name.strip()} ({by})" if name.strip() != by else by
        submission.certified_title = title.strip()
        submission.certified_statement = statement.strip()
        submission.certified_at = at
        submission.save()
        Submission.objects.filter(
            year=submission.year, revision__lt=submission.revision, state__in=FILED
        ).update(state=Submission.State.REPLACED)
    return submission


def submission_folder(submission: Submission) -> Path:
    """Return the folder that holds a submission's files."""
    return _root() / f"{submission.year}-r{submission.revision}"


def submission_check_files(submission: Submission) -> list[str]:
    """Return one sentence for each file that is missing or is not what was frozen."""
    found = []
    for file in submission.files.order_by("id"):
        name = PurePath(file.path).name
        try:
            if sha256_of(KeptFile(file.path)) != file.sha256:
                found.append(f"{name} is not the file that was frozen.")
        except FileNotFoundError:
            found.append(f"{name} is missing.")
    return found


def _root() -> Path:
    return Path(settings.DATA_DIR) / "submissions"


@contextmanager
def _alone(year: int) -> Iterator[None]:
    """Let one freeze of a year run at a time, also between processes; a killed one lets go."""
    _root().mkdir(parents=True, exist_ok=True)
    with (
        open(_root() / f".{year}.lock", "w") as lock,
        bulk.held(f"submission {year}") as alone,  # between machines, too
    ):
        try:
            if not alone:
                raise BlockingIOError
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise SubmissionError(
                f"The submission for {year} is being frozen already. Wait until that is done."
            ) from error
        yield


def _freeze(
    year: int, as_of: date, number: int, by: str, at: datetime, today: date, layout: Layout,
    layout_ref: str, report: Report | None, what_changed: str = "", amends: dict | None = None,
) -> Submission:  # fmt: skip
    try:
        pools_freeze_due(as_of=as_of, by=by, at=at)
    except Refused:
        pass  # listed among the open questions; the counts do not depend on it
    for left in _root().glob(f".unfinished-{year}-*"):  # by a process that was killed
        shutil.rmtree(left, ignore_errors=True)
    last = Submission.objects.filter(year=year).order_by("-revision").first()
    revision = last.revision + 1 if last else 1
    questions = open_questions(as_of, at, number, overdue_count(today))
    kept = kept_now(as_of, at) | {
        "record_head": record_seal(at=at),
        "prepared_by": by,
        "revision": revision,
        "amended_because": what_changed,
        "amends": amends,
        "previous_digest": _previous_digest(),
        "since": _known_before(year),
        "open_questions": [question.sentence for question in questions],
        "layout": layout_text(layout),
        "lists": lists_now(),
        "year_told": "" if number else "Before the first program year",
        "layout_ref": layout_ref,
    }
    folder = _root() / f"{year}-r{revision}"
    filing = files_write(folder, as_of, at, kept, layout, report)
    return _record(year, revision, as_of, number, by, at, kept, questions, folder, filing)


def _previous_digest() -> str:
    last = Submission.objects.exclude(digest="").order_by("-id").values_list("digest", flat=True)
    return last.first() or digest.FIRST


def _known_before(year: int) -> str | None:
    """The moment the last submission of an earlier year was frozen at."""
    last = Submission.objects.filter(year__lt=year, state__in=FILED).order_by("-year", "-revision")
    known = last.values_list("known_at", flat=True).first()
    return known.isoformat() if known else None


def files_write(
    folder: Path, as_of: date, known_at: datetime, kept: dict, layout: Layout,
    report: Report | None = None,
) -> Filing:  # fmt: skip
    """Write a submission's files into a folder that appears only when all of them are whole.

    Raises
    ------
    SubmissionError: the recount does not agree, or the layout has no word for a code.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    prefix = f"{UNFINISHED}{as_of.year}-"
    with (
        tempfile.TemporaryDirectory(dir=folder.parent, prefix=prefix) as scratch,
        pool_reading(ServiceLine.objects.count()) as pool,
    ):
        made = Path(scratch) / "files"
        content = Content(
            as_of=as_of,
            known_at=known_at,
            kept=kept,
            folder=Path(scratch) / "rows",
            report=_part(report, 0),
            pool=pool,
        )
        try:
            filing = write_submission(made, *content.read(), layout=layout, report=_part(report, 1))
        except (AuditDiffers, LayoutError) as error:
            raise SubmissionError(f"Nothing was frozen. {error}") from error
        if folder.exists():  # left by a process that was killed before it was recorded
            shutil.rmtree(folder)
        made.rename(folder)
        for path in folder.iterdir():
            path.chmod(0o444)
    return filing


def _part(report: Report | None, number: int) -> Report | None:
    """Reading the record is one pass more than writing the files."""
    if report is None:
        return None
    if number == 0:
        return lambda done, total: report(done, total * (PASSES + 1))
    return lambda done, total: report(total // PASSES + done, total // PASSES * (PASSES + 1))


@transaction.atomic
def _record(
    year, revision, as_of, number, by, at, kept, questions, folder, filing: Filing
) -> Submission:
    written = {kind: folder / file.path.name for kind, file in filing.files.items()}
    facts = json.loads(written["json"].read_text(encoding="utf-8"))
    hand_over(*written.values())
    submission = Submission.objects.create(
        year=year,
        revision=revision,
        state=Submission.State.FROZEN,
        as_of=as_of,
        known_at=at,
        facts={
            **kept,
            "program_year": number,
            "totals": {entry["code"]: entry["value"] for entry in facts["summary"]},
            "summary": facts["summary"],
            "checks": len(filing.audit.checks),
            "counted": _counted(facts),
            "notes": list(filing.notes),
        },
        open_questions=[vars(question) for question in questions],
        what_changed=kept["amended_because"],
        digest=filing.digest,
        previous_digest=kept["previous_digest"],
        frozen_by=by,
        frozen_at=at,
    )
    root = Path(settings.DATA_DIR)
    SubmissionFile.objects.bulk_create(
        SubmissionFile(
            submission=submission,
            kind=kind,
            path=str(written[kind].relative_to(root)),
            sha256=file.sha256,
            bytes=file.size,
            rows=sum(file.rows.values()),
        )
        for kind, file in filing.files.items()
    )
    return submission


def _counted(facts: dict) -> dict[str, int]:
    """Count of the lists what a certification asks about."""
    outcomes = [row.get("outcome", "") for row in facts["notices"]]
    return {
        "notices_due": len(outcomes),
        "notices_sent": outcomes.count("Delivered"),
        "notices_back": outcomes.count("Returned"),
        "left_with_effort": sum(r.get("reasonable_effort") == "YES" for r in facts["refusals"]),
        "set_aside": sum(row.get("holds") == "YES" for row in facts["findings_set_aside"]),
    }
