"""What an annual submission costs, against writing its line list by bare XlsxWriter.

    python -m tests.bench submission --lines 1000000

The record is built by taking in the invented file. Each step runs in a process of its own, so that
peak memory is its own. A long list is worked on by several processes: the processor's time counts
all of them, the memory the largest one. The floor is XlsxWriter in constant memory, writing the
finished list's own cells.
"""

import argparse
import csv
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime
from itertools import islice
from pathlib import Path

from tests.bench.processes import Spent, in_process, run_step
from tests.bench.rows import Measured, as_table, machine

KINDS = {"XLSX": "xlsx", "CSV": "csv", "JSON": "lines_json", "GeoPackage": "geopackage"}
MORNING = datetime(2028, 3, 1, 9, tzinfo=UTC)
YEAR, TODAY = 2028, date(2029, 1, 10)
CHUNK = 5_000


def main() -> None:
    """Build, freeze, write the floor, print."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--lines", type=int, default=20_000)
    options.add_argument("--keep", type=Path, help="folder of the record, to be used again")
    given = options.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-") as scratch:
        folder = given.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        in_process(__spec__.name, "prepare", folder, given.lines)
        frozen = in_process(__spec__.name, "freeze", folder)
        verified = in_process(__spec__.name, "verify", folder)
        archived = in_process(__spec__.name, "archive", folder)
        floor = in_process(__spec__.name, "floor", folder)
    print("\n".join(table(given.lines, frozen, verified, archived, floor)))


def table(lines: int, frozen: dict, verified: dict, archived: dict, floor: dict) -> list[str]:
    """Return the lines of the table."""
    out = [
        f"{machine()}; {lines:,} lines",
        "",
        "| work | seconds | processor s, all processes | peak MB | MB written |",
        "|---|---|---|---|---|",
    ]
    size = sum(frozen["sizes"].values()) / 1e6
    named = (
        ("the whole freeze", {**frozen, "mb": f"{size:.0f}"}),
        ("verifying it", {**verified, "mb": ""}),
        ("the archive with kit, streamed", {**archived, "mb": f"{archived['size'] / 1e6:.0f}"}),
        ("floor: the same cells by XlsxWriter", {**floor, "mb": f"{floor['size'] / 1e6:.0f}"}),
    )
    for name, one in named:
        said = f"{one['seconds']:.2f} | {one['cpu']:.2f} | {one['rss']} | {one['mb']}"
        out.append(f"| {name} | {said} |")
    goals = [
        Measured("freeze, by the clock", frozen["seconds"], "s", floor["seconds"], 1.3, 1.1),
        Measured("freeze, processor", frozen["cpu"], "s", floor["cpu"], 2.6, 2.0),
        Measured("verify, by the clock", verified["seconds"], "s", floor["seconds"], 1.3, 1.1),
        Measured("peak memory of one process", frozen["rss"], "MB", None, 700, 500),
    ]
    return [*out, "", as_table(goals)]


def _step_prepare(folder: Path, lines: str) -> dict:
    from django.core.management import call_command

    from program.models import Utility
    from tests.bench.inventory import take_in_lines

    call_command("migrate", verbosity=0)
    if Utility.objects.exists():  # a record that was kept
        return {}
    Utility.objects.create(name="Quillwater", pwsid="ZZ0000001", state="ZZ", connections=int(lines))
    take_in_lines(int(lines), folder)
    return {}


def _step_freeze(folder: Path) -> dict:
    from program.models import Submission, SubmissionFile
    from program.operations.submissions import submission_amend, submission_freeze

    started = Spent.now()
    said = {"by": "bench", "at": datetime(2029, 1, 10, 9, tzinfo=UTC), "today": TODAY}
    earlier = Submission.objects.filter(year=YEAR).order_by("-revision").first()
    if earlier:
        done = submission_amend(submission=earlier, what_changed="Timed again.", **said)
    else:
        done = submission_freeze(year=YEAR, **said)
    spent = started.until_now()
    files = dict(SubmissionFile.objects.filter(submission=done).values_list("kind", "bytes"))
    return {"sizes": {name: files[kind] for name, kind in KINDS.items()}, **spent}


def _step_verify(folder: Path) -> dict:
    from program.models import Submission
    from program.operations.submission_verify import submission_verify

    started, at = Spent.now(), datetime(2029, 1, 11, 9, tzinfo=UTC)
    found = submission_verify(submission=Submission.objects.latest("id"), at=at)
    assert found.agrees, found.differences
    return started.until_now()


def _step_archive(folder: Path) -> dict:
    from program.models import Submission
    from program.queries.submissions import submission_archive

    started = Spent.now()
    _, content = submission_archive(Submission.objects.latest("id"))
    return {"size": sum(map(len, content)), **started.until_now()}


def _step_floor(folder: Path) -> dict:
    """Write the cells of the filed list by XlsxWriter alone; reading them is not counted."""
    import xlsxwriter

    from program.models import SubmissionFile
    from program.submissions.tables import LINES

    source = folder / SubmissionFile.objects.filter(kind="csv").latest("id").path
    target = folder / "floor.xlsx"
    spent: Counter = Counter()
    book = xlsxwriter.Workbook(str(target), {"constant_memory": True, "tmpdir": str(folder)})
    sheet, day = book.add_worksheet(), book.add_format({"num_format": "yyyy-mm-dd"})
    write = {"text": sheet.write_string, "int": sheet.write_number, "number": sheet.write_number}
    write["date"] = lambda at, col, value: sheet.write_datetime(at, col, value, day)
    for first, chunk in _typed_chunks(source, [column.kind for column in LINES.columns]):
        before = Spent.now()
        for at, cells in enumerate(chunk, start=first):
            for col, (kind, value) in enumerate(cells):
                if value is not None:
                    write[kind](at, col, value)
        spent.update(before.until_now())
    before = Spent.now()
    book.close()
    last = before.until_now()
    size = target.stat().st_size
    target.unlink()
    spent.update(last)
    return {**spent, "rss": last["rss"], "size": size}


def _typed_chunks(source: Path, kinds: list[str]) -> Iterator[tuple[int, list]]:
    """Yield (number of the first row, rows of (kind, value)) of a filed list, 5,000 at a time."""
    read = {"text": str, "date": date.fromisoformat, "int": int, "number": float}
    with source.open(newline="", encoding="utf-8") as file:
        rows, first = csv.reader(file), 1
        next(rows)
        while chunk := list(islice(rows, CHUNK)):
            yield first, [
                [(kind, read[kind](cell) if cell else None) for kind, cell in
                 zip(kinds, row, strict=True)]
                for row in chunk
            ]  # fmt: skip
            first += len(chunk)


if __name__ == "__main__":
    run_step(globals()) or main()
