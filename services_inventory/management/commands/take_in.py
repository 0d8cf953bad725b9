"""Take an inventory file into the record from the command line."""

import json
import time
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from services_inventory.refused import Refused

from ...command_words import COMMAND_LINE, account, past_day
from ...intake.columns import BadColumnMap, ColumnMap
from ...models import Batch
from ...operations.batches import batch_forget, batch_open, batch_run_here
from ...operations.feeds import feed_named, feed_waits
from ...queries.held import held_file
from ...queries.moves import moves_of, said_by
from ...today import now

HELD_SHOWN = 20
COUNTED = ("new", "changed", "unchanged", "held", "total")


class Command(BaseCommand):
    """Read, check, match and apply one file."""

    help = (
        "Takes in an inventory file (CSV, XLSX, GeoPackage, GeoJSON, zipped Shapefile, Parquet). "
        "Every row ends as new, changed, unchanged or held with a reason."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--columns", type=Path, metavar="FILE", help="a column map")
        parser.add_argument("--dry-run", action="store_true", help="check and count, write nothing")
        parser.add_argument("--json", action="store_true", help="print the counts as JSON only")
        parser.add_argument(
            "--source",
            default="",
            metavar="WORDS",
            help="how materials are known where the file doesn't say",
        )
        parser.add_argument(
            "--source-name",
            default="",
            metavar="NAME",
            help="read the file as this regular source is read; one that changes much waits",
        )
        parser.add_argument("--sheet", default="", metavar="NAME", help="the sheet of a workbook")
        parser.add_argument("--layer", default="", metavar="NAME", help="the layer of a GeoPackage")
        parser.add_argument(
            "--true-since",
            metavar="DAY",
            help="what the file says is true since this day: past days and amendments follow",
        )
        parser.add_argument(
            "--by", default=COMMAND_LINE, metavar="ACCOUNT", help="who takes the file in"
        )

    def handle(self, *args, **options):
        batch = self._open(options)
        self._shown = 0.0
        watched = self.stderr.isatty()
        report = self._report if watched else None
        batch_run_here(batch=batch, report=report)
        if options["source_name"] and not options["dry_run"] and batch.state == "CHECKED":
            if why := feed_waits(batch):
                raise CommandError(f"{why} See batch {batch.pk}.")
            batch.parameters = {**batch.parameters, "step": "APPLY"}
            batch_run_here(batch=batch, report=report)
        if watched:
            self.stderr.write("\r      \r", ending="")
        if batch.state in (Batch.State.REFUSED, Batch.State.STOPPED):
            if options["dry_run"]:
                batch_forget(batch=batch)
            raise CommandError(batch.message)
        counts = {name: batch.counts[name] for name in COUNTED}
        if options["json"]:
            self.stdout.write(json.dumps(counts))
        else:
            self._tell(batch, counts)
        if options["dry_run"]:
            batch_forget(batch=batch)

    def _open(self, options) -> Batch:
        since = options["true_since"]
        parameters = {
            "true_since": None if since is None else past_day(since).isoformat(),
            "step": "CHECK" if options["dry_run"] or options["source_name"] else "APPLY",
            **self._of_feed(options["source_name"]),
            **{name: options[name] for name in ("source", "sheet", "layer") if options[name]},
        }
        try:
            if options["columns"]:
                text = options["columns"].read_text(encoding="utf-8")
                parameters["columns"] = ColumnMap.from_toml(text).to_dict()
            return batch_open(
                kind="INTAKE",
                by=account(options["by"]),
                at=now(),
                file=options["file"],
                parameters=parameters,
            )
        except OSError as error:
            raise CommandError(f"{error.filename} can't be opened: {error.strerror}.") from error
        except UnicodeDecodeError as error:
            raise CommandError(f"{options['columns']} is no text in UTF-8.") from error
        except BadColumnMap as error:
            raise CommandError(str(error)) from error

    def _of_feed(self, name: str) -> dict:
        """Return how a file of a regular source is read."""
        if not name:
            return {}
        try:
            feed = feed_named(name)
        except Refused as error:
            raise CommandError(str(error)) from error
        return {**feed.parameters, "feed": feed.pk}

    def _report(self, done: int, total: int) -> None:
        if time.monotonic() - self._shown > 0.5:
            self._shown = time.monotonic()
            percent = min(99, 100 * done // max(total, 1))
            self.stderr.write(f"\r{percent:3d}% ", ending="")
            self.stderr.flush()

    def _tell(self, batch: Batch, counts: dict) -> None:
        step = "Checked" if batch.state == Batch.State.CHECKED else "Taken in"
        self.stdout.write(f"{step}: {batch.file_name} (batch {batch.pk})")
        for name, number in counts.items():
            self.stdout.write(f"  {name:<10}{number:>12,}")
        for one in moves_of(batch):
            self.stdout.write(f"  {one['lines']:>10,}  {one['before']} -> {one['after']}")
        for one in said_by(batch):
            said = f"the file says {one['said']}, the evidence {one['now']}: {one['why']}"
            self.stdout.write(f"  {one['lines']:>10,}  {said}")
        for note in batch.result.get("notes", ()):
            self.stdout.write(f"  {note}")
        left = batch.result.get("not_taken_in")
        if left:
            self.stdout.write(f"  Columns that were not taken in: {', '.join(left)}")
        if batch.state == Batch.State.CHECKED:
            for row in batch.held_rows.order_by("row_number")[:HELD_SHOWN]:
                self.stdout.write(f"  Row {row.row_number}: {row.reason}")
            return
        path = held_file(batch)
        if path is not None:
            self.stdout.write(f"  Held rows, each with its reason: {path}")
