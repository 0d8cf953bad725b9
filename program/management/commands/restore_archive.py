"""Put an archive into an empty record."""

from pathlib import Path

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from program.clock import now
from program.operations.archiving import archive_restore
from program.operations.row_digests import row_digests_take
from services_inventory.refused import Refused


class Command(BaseCommand):
    """Restore an archive, into SQLite or PostgreSQL, whichever wrote it."""

    help = "Puts an archive of `archive` into an empty record, and checks the record."

    def add_arguments(self, parser):
        parser.add_argument("folder", metavar="DIR")

    def handle(self, *args, **options):
        try:
            rows = archive_restore(Path(options["folder"]))
        except Refused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{rows:,} rows are back. Invite each person anew: manage.py invite NAME")
        row_digests_take(at=now(), restored=True)
        call_command("check_record", stdout=self.stdout)
