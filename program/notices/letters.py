"""Batches of letters as PDF, and the same list as a mail-merge CSV."""

import csv
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from itertools import islice
from pathlib import Path

from program.notices.letter_page import (
    MAIL_LINES_MAX,
    NUMBER_10,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    SHIPPED_FONTS,
    DoesNotFit,
    Fonts,
    Pen,
    Sender,
    UnprintableText,
    WindowEnvelope,
)
from program.notices.templates_text import NoticeKind, Passage, SlotTexts, UnknownPlaceholder
from program.submissions.cell_text import Notes, clean
from services_inventory.domain.days import day_told
from services_inventory.domain.formulas import without_formula
from services_inventory.domain.reporting import Report
from services_inventory.progress import UNFINISHED

LETTERS_PER_FILE = 2_000
REPORT_EVERY = 100
MERGE_COLUMNS = (
    "letter", "file", "first_page", "pages", "reference", "kind", "language", "dated",
    "mail_1", "mail_2", "mail_3", "mail_4", "location_id", "service_address",
    "not_printed_because",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Letter:
    """One letter: whom it goes to, which line it is about, and what only this letter says.

    dated : its day in words; empty for the day of the batch as numbers
    enclosed : the same letter in further languages, behind it in the same envelope
    """

    reference: str
    kind: NoticeKind
    language: str
    mail_to: tuple[str, ...]
    location_id: str
    service_address: str
    values: Mapping[str, str] = field(default_factory=dict)
    leave_out: tuple[str, ...] = ()
    dated: str = ""
    enclosed: tuple["Letter", ...] = ()


@dataclass(frozen=True)
class Refused:
    """One letter that was not printed, and the sentence that says why."""

    reference: str
    sentence: str


@dataclass(frozen=True)
class PrintedBatch:
    """What a batch came to: PDF files, the mail-merge list, and the letters not printed."""

    files: tuple[Path, ...]
    merge_list: Path
    printed: int
    pages: int
    refused: tuple[Refused, ...]


def print_letters(
    folder: Path,
    letters: Iterable[Letter],
    *,
    sender: Sender,
    texts: SlotTexts,
    dated: date,
    stem: str = "letters",
    total: int = 0,
    fonts: Fonts = SHIPPED_FONTS,
    envelope: WindowEnvelope = NUMBER_10,
    per_file: int = LETTERS_PER_FILE,
    report: Report | None = None,
) -> PrintedBatch:
    """Print a batch; the files appear together when all is done, or not at all.

    A letter that alone cannot be printed is left out and named in `refused`; the mail-merge list
    holds every letter, and says for these why they were not printed.

    Raises:
        EmptySlot: a notice of the batch has a slot without text; nothing is printed.
        NoticeError: a text that every letter holds cannot be drawn in the font.

    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=UNFINISHED) as unfinished:
        batch = _Batch(Path(unfinished), sender, texts, dated, stem, fonts, envelope)
        batch.print_all(iter(letters), total, per_file, report)
        for name in (*batch.files, batch.merge_name):
            os.chmod(Path(unfinished) / name, 0o644)
            os.replace(Path(unfinished) / name, folder / name)
    return PrintedBatch(
        tuple(folder / name for name in batch.files),
        folder / batch.merge_name,
        batch.printed,
        batch.pages,
        tuple(batch.refused),
    )


class _Batch:
    """One batch in the making."""

    def __init__(self, folder, sender, texts, dated, stem, fonts, envelope):
        self.folder, self.sender, self.texts, self.dated = folder, sender, texts, dated
        self.stem, self.merge_name = stem, f"{stem}-mail-merge.csv"
        self.pen = Pen(fonts, envelope)
        self.files: list[str] = []
        self.refused: list[Refused] = []
        self.printed = self.pages = 0
        self.passages = cache(self._passages)

    def print_all(self, letters: Iterator[Letter], total, per_file, report) -> None:
        """Print every letter, `per_file` to a PDF, and list it for the mail merge."""
        with open(self.folder / self.merge_name, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(MERGE_COLUMNS)
            while some := list(islice(letters, per_file)):
                name = f"{self.stem}-{len(self.files) + 1:04d}.pdf"
                self._print_file(name, some, writer, total, report)
        if report:
            report(self.printed + len(self.refused), total or self.printed + len(self.refused))

    def _print_file(self, name: str, letters: list[Letter], writer, total, report) -> None:
        from reportlab.pdfgen.canvas import Canvas

        canvas = Canvas(
            str(self.folder / name),
            pagesize=(PAGE_WIDTH, PAGE_HEIGHT),
            pageCompression=1,
            invariant=1,  # no time of writing inside: the same letters give the same bytes
        )
        canvas.setTitle(f"{self.sender.system_name}: notices of {day_told(self.dated)}")
        canvas.setAuthor(self.sender.system_name)
        first = 1
        for letter in letters:
            pages = self._print_letter(canvas, letter)
            self.printed += pages > 0
            writer.writerow(self._merge_row(letter, name, first, pages))
            first += pages
            done = self.printed + len(self.refused)
            if report and done % REPORT_EVERY == 0:
                report(done, total)
        if first > 1:
            self.files.append(name)
            self.pages += first - 1
            canvas.save()

    def _passages(self, kind, language, leave_out) -> tuple[Passage, ...]:
        passages = self.texts.passages(kind, language, leave_out)
        for passage in passages:  # a fault here is every letter's, so it stops the batch
            self.pen.checked(passage.text)
        return passages

    def _print_letter(self, canvas, letter: Letter) -> int:
        together = (letter, *letter.enclosed)
        passages = [self.passages(one.kind, one.language, one.leave_out) for one in together]
        try:
            bodies = [
                self.pen.lay_out(said, self._values(one))
                for one, said in zip(together, passages, strict=True)
            ]
            mail_to = self.pen.address(letter.mail_to)
            reference = self.pen.checked(letter.reference)
        except (UnprintableText, DoesNotFit, UnknownPlaceholder) as error:
            self.refused.append(Refused(letter.reference, str(error)))
            return 0
        dated = letter.dated or self.dated.isoformat()
        return self.pen.draw(canvas, self.sender, dated, reference, mail_to, bodies)

    def _values(self, letter: Letter) -> dict[str, str]:
        sender = self.sender
        return {
            **letter.values,
            "system_name": sender.system_name,
            "pwsid": sender.pwsid,
            "phone": sender.phone,
            "website": sender.website,
            "email": sender.email,
            "service_address": letter.service_address,
            "location_id": letter.location_id,
        }

    def _merge_row(self, letter: Letter, name: str, first: int, pages: int) -> list:
        mail = [*letter.mail_to, *[""] * MAIL_LINES_MAX][:MAIL_LINES_MAX]
        spoken = "+".join(one.language for one in (letter, *letter.enclosed))
        text = (letter.reference, letter.kind.value, spoken, self.dated.isoformat())
        rest = (*text, *mail, letter.location_id, letter.service_address)
        safe = [without_formula(clean(value, Notes(), "")) for value in rest]
        if pages:
            return [self.printed, name, first, pages, *safe, ""]
        return ["", "", "", "", *safe, without_formula(self.refused[-1].sentence)]
