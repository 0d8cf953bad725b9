"""Note that the record was looked through or a back-up restored, for the boards."""

from django.core.management.base import BaseCommand, CommandError

from program.clock import machine_now
from program.models import Proof


class Command(BaseCommand):
    """Note one proof."""

    help = "Notes that the record held, or that a back-up was restored; the boards show it."

    def add_arguments(self, parser):
        parser.add_argument("what", metavar="WHAT", choices=["checked", "restored"])
        parser.add_argument("--failed", action="store_true", help="it did not hold")
        parser.add_argument("--about", default="", metavar="NAME", help="which back-up")

    def handle(self, *args, **options):
        if len(options["about"]) > 120:
            raise CommandError("Say in at most 120 letters which back-up it was.")
        proof = Proof.objects.create(
            what=options["what"].upper(),
            held=not options["failed"],
            about=options["about"],
            at=machine_now(),
        )
        self.stdout.write(str(proof))
