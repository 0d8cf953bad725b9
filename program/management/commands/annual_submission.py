"""Freeze the annual submission of a year, or take the frozen one, and copy its files out."""

import json
import shutil
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils.timezone import localdate

from program.clock import now, today
from program.models import Submission
from program.operations.layouts import layout_chosen
from program.operations.submission_batches import submissions_verify_open
from program.operations.submissions import (
    submission_filed,
    submission_files,
    submission_freeze,
)
from program.queries.layouts import layout_last_used
from program.submissions.layouts import load_layout
from services_inventory.command_words import COMMAND_LINE
from services_inventory.domain.days import day_told
from services_inventory.operations.batches import batch_run_here
from services_inventory.refused import Refused

CATEGORIES = {"LEAD": "A1", "GRR": "A2", "NON_LEAD": "A4", "UNKNOWN": "A3", "total": "A5"}


class Command(BaseCommand):
    """Write the annual submission."""

    help = "Freezes the annual submission of YEAR (or takes the one frozen) and copies its files."

    def add_arguments(self, parser):
        parser.add_argument("year", type=int, nargs="?", metavar="YEAR")
        parser.add_argument("--out", metavar="DIR", help="folder to copy the files to")
        parser.add_argument(
            "--layout",
            default="",
            metavar="LAYOUT",
            help="layout to freeze in: id, id@version, or a TOML file",
        )
        parser.add_argument("--json", action="store_true", help="print counts and files as JSON")
        parser.add_argument(
            "--verify",
            action="store_true",
            help="rebuild the frozen files of every revision (of YEAR, if given) and compare",
        )
        parser.add_argument(
            "--in-turn",
            action="store_true",
            help="with --verify: check every file, rebuild only the newest and one more in turn",
        )

    def handle(self, *args, **options):
        year, out = options["year"], options["out"]
        if options["verify"] and not out:
            self._verify(year, options["json"], options["in_turn"])
            return
        if year is None:
            raise CommandError("Say which year the submission is for, such as 2030.")
        if not out:
            raise CommandError("Say with --out which folder the files are to be copied to.")
        target = _writable(Path(out))
        before = submission_filed(year)
        try:
            submission = before or _frozen(year, options["layout"])
        except Refused as error:
            raise CommandError(str(error)) from error
        if not options["json"]:
            self._say(submission, reused=before is not None)
        if options["verify"]:
            self._verify(year, options["json"])
        files = _copy(submission_files(year), target)
        if options["json"]:
            self.stdout.write(json.dumps({"counts": _counts(submission), "files": files}))
        else:
            self._list(submission, files)

    def _say(self, submission, *, reused: bool) -> None:
        name = f"The submission for {submission.year}, revision {submission.revision},"
        state = submission.get_state_display()
        if reused:
            self.stdout.write(
                f"{name} was {state} on {day_told(localdate(submission.frozen_at))}; its files are "
                "taken as they are."
            )
        else:
            self.stdout.write(f"{name} is {state}, as of {day_told(submission.as_of)}.")

    def _verify(self, year: int | None, quiet: bool, in_turn: bool = False) -> None:
        """Compare every revision with the record; the pages then show day, person and result."""
        opened = submissions_verify_open(by=COMMAND_LINE, at=now(), year=year, in_turn=in_turn)
        if year is not None and not opened:
            raise CommandError(f"No submission for {year} is frozen, so there is none to verify.")
        altered: list[str] = []
        for batch in opened:
            result = batch_run_here(batch=batch).result
            altered += result.get("altered", [batch.message])
            if not quiet:
                self.stdout.write(batch.message)
                for sentence in (*result.get("sentences", ()), *result.get("moved", ())):
                    self.stdout.write(f"  {sentence}")
        if altered:
            raise CommandError(" ".join(altered))

    def _list(self, submission, files: dict[str, str]) -> None:
        for name, number in _counts(submission).items():
            self.stdout.write(f"{name:<9}{number:>11,}")
        for kind, path in files.items():
            self.stdout.write(f"{kind}: {path}")
        for question in submission.open_questions:
            self.stdout.write(f"Open: {question['sentence']}")


def _frozen(year: int, ref: str) -> Submission:
    """Freeze in the layout asked for: a file, a choice, or the one last used."""
    if ref.endswith(".toml"):
        layout, ref = load_layout(ref), Path(ref).name
    else:
        ref = ref or layout_last_used()
        layout, _ = layout_chosen(ref)
    return submission_freeze(
        year=year, by=COMMAND_LINE, at=now(), today=today(), layout=layout, layout_ref=ref
    )


def _counts(submission) -> dict[str, int]:
    totals = submission.facts["totals"]
    return {name: totals[code] for name, code in CATEGORIES.items()}


def _writable(folder: Path) -> Path:
    """Return the folder, made if need be.

    Raises
    ------
    CommandError: it is a file, or nothing can be written there.
    """
    probe = folder / ".can-write"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe.touch()
        probe.unlink()
    except OSError as error:
        raise CommandError(
            f"Nothing can be written to {folder} ({error.strerror}). Choose another folder."
        ) from error
    return folder


def _copy(files: dict[str, str], folder: Path) -> dict[str, str]:
    copied = {}
    for kind, path in files.items():
        target = folder / Path(path).name
        target.unlink(missing_ok=True)
        copied[kind] = str(shutil.copyfile(path, target))
    return copied
