"""Write the lines of a day as GeoParquet."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from services_inventory.domain.days import day_told

from ...command_words import past_day
from ...forms.days import end_of
from ...frames import write_parquet


class Command(BaseCommand):
    """One file for a notebook or a GIS."""

    help = "Writes the lines that counted at the end of a day as GeoParquet (EPSG:4326)."

    def add_arguments(self, parser):
        parser.add_argument("day", metavar="DAY", help="such as 2030-12-31")
        parser.add_argument("--out", required=True, metavar="FILE", help="such as lines.parquet")
        parser.add_argument(
            "--known", metavar="DAY", help="only by what was recorded until this day"
        )

    def handle(self, *args, **options):
        """Write the file, or say why it can't be written."""
        day = past_day(options["day"])
        known = None if options["known"] is None else end_of(past_day(options["known"]))
        out = Path(options["out"])
        try:
            with out.open("wb") as file:
                lines = write_parquet(file, day, known)
        except OSError as error:
            raise CommandError(f"{out} can't be written: {error.strerror}.") from error
        self.stdout.write(f"{lines:,} lines of {day_told(day)} in {out}.")
