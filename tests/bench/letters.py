"""What 50,000 letters cost: working out who is owed one, and printing them.

    python -m tests.bench letters --letters 50000

The record is the invented file taken in; the slots hold stand-in words of usual length. The
floor of the printing is the same PDF library drawing as many pages with the same number of lines.
"""

import argparse
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path

from tests.bench.processes import Spent, in_process, run_step
from tests.bench.rows import Measured, as_table, machine

LINES_PER_LETTER = 8  # about one line in eight of the invented file is lead with certainty
DAY = date(2028, 3, 1)
MORNING = datetime(2028, 3, 1, 9, tzinfo=UTC)
STAND_IN = "Stand-in words of about the length that such a text has in an agency's model letter. "
SLOTS = {"health_effects": 9, "reduce_exposure": 22}  # sentences


def main() -> None:
    """Build, work out, print, write the floor."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--letters", type=int, default=2_000)
    options.add_argument("--keep", type=Path, help="folder of the record, to be used again")
    given = options.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-") as scratch:
        folder = given.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        in_process(__spec__.name, "prepare", folder, given.letters)
        owed = in_process(__spec__.name, "owe", folder)
        printed = in_process(__spec__.name, "letters", folder, given.letters)
        floor = in_process(__spec__.name, "floor", folder, printed["letters"], printed["pages"])
    print("\n".join(table(owed, printed, floor)))


def table(owed: dict, printed: dict, floor: dict) -> list[str]:
    """Return the lines of the table."""
    minutes = printed["seconds"] / printed["letters"] * 50_000 / 60
    rows = (
        (f"{owed['added']:,} notices put on the list", owed),
        (f"{printed['letters']:,} letters, {printed['pages']:,} pages, and their list", printed),
        ("floor: as many pages by the PDF library alone", floor),
    )
    return [
        machine(),
        "",
        "| work | processor s | seconds | peak MB |",
        "|---|---|---|---|",
        *(f"| {what} | {one['cpu']:.1f} | {one['seconds']:.1f} | {one['rss']} |"
          for what, one in rows),
        "",
        as_table([
            Measured("letters and list", printed["cpu"], "s", floor["cpu"], 2, 1.5),
            Measured("50,000 letters by the clock", minutes, "min", None, 10, 5,
                     f"{printed['reports']} reports of progress"),
        ]),
    ]  # fmt: skip


def _step_prepare(folder: Path, letters: str) -> dict:
    from django.core.management import call_command

    from program.models import NoticeSlot, Utility
    from tests.bench.inventory import take_in_lines

    call_command("migrate", verbosity=0)
    if Utility.objects.exists():  # a record that was kept
        return {}
    Utility.objects.create(
        name="Quillwater", pwsid="ZZ0000001", state="ZZ", phone="000-000-0100",
        website="quillwater.example", return_address="1 Basin Ave\nQuillwater ZZ 69011",
    )  # fmt: skip
    NoticeSlot.objects.bulk_create(
        NoticeSlot(
            kind="ALL", slot=slot, text=STAND_IN * sentences, taken_from="stand-in",
            filled_by="bench", filled_at=MORNING,
        )
        for slot, sentences in SLOTS.items()
    )  # fmt: skip
    take_in_lines(int(letters) * LINES_PER_LETTER, folder)
    return {}


def _step_owe(folder: Path) -> dict:
    from program.operations.notices import notices_owe

    before = Spent.now()
    added = notices_owe(DAY)
    return {**before.until_now(), "added": added}


def _step_letters(folder: Path, letters: str) -> dict:
    from program.models import Notice
    from program.operations.notices import letters_run
    from services_inventory.models import Batch
    from services_inventory.operations.batches import batch_open

    lead = Notice.objects.open().filter(kind="LEAD").order_by("id")
    wanted = lead.values("id")[: int(letters)]
    Notice.objects.exclude(id__in=wanted).delete()
    day = "2029-12-31"
    parameters = {"kind": "LEAD", "due_by": day, "languages": ["en"], "dated": DAY.isoformat()}
    batch = batch_open(kind="LETTERS", by="bench", at=MORNING, parameters=parameters)
    told: list[tuple[int, int]] = []
    before = Spent.now()
    letters_run(batch=batch, report=lambda done, total: told.append((done, total)))
    spent = before.until_now()
    if batch.state != Batch.State.APPLIED:
        raise SystemExit(batch.message)
    counts = {name: batch.counts[name] for name in ("letters", "pages")}
    return {**spent, **counts, "reports": len(told)}


def _step_floor(folder: Path, letters: str, pages: str) -> dict:
    """Draw pages of equally many lines with nothing but the library."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    pdfmetrics.registerFont(TTFont("Vera", "Vera.ttf"))
    lines = [STAND_IN.strip()] * 48
    before = Spent.now()
    per_file = 2_000
    for start in range(0, int(pages), per_file):
        canvas = Canvas(str(folder / "floor.pdf"), pageCompression=1, invariant=1)
        for _ in range(min(per_file, int(pages) - start)):
            text = canvas.beginText(72, 700)
            text.setFont("Vera", 9.5, 12.5)
            for line in lines:
                text.textLine(line)
            canvas.drawText(text)
            canvas.showPage()
        canvas.save()
    return before.until_now()


if __name__ == "__main__":
    run_step(globals()) or main()
