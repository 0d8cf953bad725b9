"""Seal what was added to the record, and write out what proves it."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from program.clock import now
from program.models import Seal
from program.operations.row_digests import row_digests_take
from program.operations.sealing import proof_write, record_seal


class Command(BaseCommand):
    """Seal, and print the head of the chain."""

    help = "Seals rows added to the record, so that an alteration of any of them is seen later."

    def add_arguments(self, parser):
        parser.add_argument(
            "--out",
            metavar="DIR",
            help="write all sealed rows as CSV there, with a script that checks them anywhere",
        )

        parser.add_argument(
            "--met", metavar="HEAD", help="seal nothing; say whether the chain holds this head"
        )

    def handle(self, *args, **options):
        if options["met"] is not None:
            if options["met"] and not Seal.objects.filter(head=options["met"]).exists():
                raise CommandError("The chain of this record does not hold that head.")
            self.stdout.write("The chain of this record holds that head.")
            return
        row_digests_take(at=now())
        head = record_seal(at=now())
        if options["out"]:
            head = proof_write(Path(options["out"]))
        self.stdout.write(head or "Nothing is on record yet.")
