"""Write the whole record in open formats."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from program.clock import now, today
from program.operations.archiving import archive_write, folder_digest
from services_inventory.refused import Refused


class Command(BaseCommand):
    """Write an archive."""

    help = "Writes the whole record as CSV, GeoPackage and files that need no program to be read."

    def add_arguments(self, parser):
        parser.add_argument("--out", metavar="DIR", required=True, help="a new folder for it")

    def handle(self, *args, **options):
        folder = Path(options["out"])
        try:
            head = archive_write(folder, day=today(), at=now())
        except Refused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Head of the chain: {head or 'nothing is sealed yet'}")
        self.stdout.write(f"SHA-256 of the list of sums: {folder_digest(folder)}")
