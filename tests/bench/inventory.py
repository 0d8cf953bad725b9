"""An inventory of any size in a database of its own, for the pages and downloads to be timed on.

The lines come in as a utility's would: one CSV through the intake, so that evidence, category
changes and provenance are there; a year later new evidence about every twentieth line. 200
neighborhoods lie over them.
"""

import argparse
import csv
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.processes import in_process, run_step

DEFAULT = datetime(2028, 3, 1, 9, tzinfo=UTC)
FIRST = datetime(2026, 2, 2, 9, tzinfo=UTC)
LATER = datetime(2026, 9, 7, 9, tzinfo=UTC)


def options(description: str, *more: tuple[str, dict]) -> argparse.Namespace:
    """Return the size and the folder that the command line gives, and what else it may give."""
    parser = argparse.ArgumentParser(description=description.split("\n")[0])
    parser.add_argument("--lines", type=int, default=100_000)
    parser.add_argument("--keep", type=Path, help="a folder: the record is made once and kept")
    for name, what in more:
        parser.add_argument(name, **what)
    return parser.parse_args()


@contextmanager
def record_of(lines: int, keep: Path | None = None) -> Iterator[Path]:
    """Start the program over so many lines; yield its folder.

    SQLite unless `DATABASE_URL` names an empty PostgreSQL database. In a folder to keep, the
    record of an earlier run is used again.

    Raises
    ------
    SystemExit
        The database holds other lines than those asked for.
    """
    with _folder(keep) as folder:
        os.environ["DATA_DIR"] = str(folder)
        os.environ.setdefault("SECRET_KEY", "only-for-this-run")
        os.environ["DJANGO_SETTINGS_MODULE"] = "program.settings"
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        from services_inventory.models import ServiceLine

        present = ServiceLine.objects.count()
        if present == 0:
            # In a process of its own: what it leaves in memory is none of what is measured.
            database = os.environ.get("DATABASE_URL", "")
            in_process("tests.bench.inventory", "make", Path(folder), lines, database=database)
        elif keep is None or present != lines:
            raise SystemExit(f"The database holds {present:,} lines already; give an empty one.")
        yield Path(folder)


def _folder(keep: Path | None):
    if keep is None:
        return tempfile.TemporaryDirectory(prefix="bench-")
    keep.mkdir(parents=True, exist_ok=True)
    return nullcontext(keep)


def _step_make(folder: Path, lines: str) -> dict:
    """Take in so many lines, and later evidence about every twentieth."""
    take_in_lines(int(lines), folder, FIRST)
    _take_in(write_update(folder / "update.csv", int(lines)), LATER)
    return {}


def take_in_lines(number: int, folder: Path, at: datetime = DEFAULT) -> None:
    """Take in so many lines, and give each its neighborhood."""
    from tests.bench.intake_file import write

    _take_in(write(folder / "lines.csv", number), at)
    _lay_neighborhoods()


def write_update(path: Path, rows: int) -> Path:
    """Write a file of new evidence about every twentieth line, half of it contradicting."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("location id", "customer side material", "source", "observed on"))
        for at in range(0, rows, 20):
            material = ("lead", "copper", "galvanized")[at // 20 % 3]
            writer.writerow((f"L{at:08d}", material, "excavation", "2026-09-04"))
    return path


def _take_in(source: Path, at: datetime) -> None:
    from services_inventory.models import Batch
    from services_inventory.operations.batches import batch_open, batch_run

    batch = batch_open(
        kind="INTAKE",
        by="bench",
        at=at,
        file=source,
        parameters={"recorded_at": at.isoformat(), "step": "APPLY"},
    )
    batch = batch_run(batch=batch)
    if batch.state != Batch.State.APPLIED:
        raise SystemExit(batch.message)
    source.unlink()


def _lay_neighborhoods() -> None:
    from django.db.models import F
    from django.db.models.functions import Mod

    from services_inventory import bulk
    from services_inventory.models import Neighborhood, Premise, ServiceLine
    from tests.bench.intake_file import polygons

    made = Neighborhood.objects.bulk_create(
        Neighborhood(name=f"Ward {number}", boundary_wkb=polygon.wkb)
        for number, polygon in enumerate(polygons(), start=1)
    )
    first = made[0].pk
    # Whole streets of a hundred houses, as in a town, whatever the number of lines.
    ward = Mod(F("id") / 100, len(made)) + first
    Premise.objects.update(neighborhood_id=ward)
    ServiceLine.objects.update(neighborhood_id=Mod(F("premise_id") / 100, len(made)) + first)
    bulk.settle_statistics()


if __name__ == "__main__":
    run_step(globals())
