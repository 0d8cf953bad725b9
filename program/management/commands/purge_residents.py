"""Erase what names residents at a line."""

from django.core.management.base import BaseCommand, CommandError

from program.clock import now
from program.operations.purging import residents_purge
from services_inventory.command_words import COMMAND_LINE
from services_inventory.models import ServiceLine
from services_inventory.refused import Refused


class Command(BaseCommand):
    """Purge a line."""

    help = "Erases names of residents, ways to reach them and what they wrote, of one line."

    def add_arguments(self, parser):
        parser.add_argument("location", metavar="LOCATION", help="the line's location id")
        parser.add_argument(
            "--reason", metavar="TEXT", required=True, help="who asked for it, and when"
        )

    def handle(self, *args, **options):
        line = ServiceLine.objects.filter(location_id=options["location"]).first()
        if line is None:
            raise CommandError("There is no line with that location id.")
        try:
            done = residents_purge(line=line, reason=options["reason"], by=COMMAND_LINE, at=now())
        except Refused as error:
            raise CommandError(str(error)) from error
        rows = sum(done.erased.values())
        self.stdout.write(f"{rows} row{'' if rows == 1 else 's'} name nobody any more.")
