"""Build the invented town, do the whole job in it, say what was done, and serve it."""

import json
import time

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from .serve import ADDRESS, address


class Command(BaseCommand):
    """Run the demo."""

    help = "Builds the invented demo town in an empty database, and serves it."

    def add_arguments(self, parser):
        parser.add_argument("--no-serve", action="store_true", help="build, report and end")
        parser.add_argument("--json", action="store_true", help="print what came of it as JSON")
        parser.add_argument("--address", default=ADDRESS, type=address, metavar="HOST:PORT")

    def handle(self, *args, **options):
        from fixtures.demo import DemoRefused, build_demo, demo_stands

        self.quiet = options["json"]
        started = time.monotonic()
        call_command("migrate", verbosity=0)
        try:
            if not demo_stands():
                build_demo(say=self._say, report=self._report)
        except DemoRefused as error:
            raise CommandError(str(error)) from error
        outcome = self._outcome()
        if options["json"]:
            self.stdout.write(json.dumps(outcome))
        else:
            self._tell(outcome, time.monotonic() - started)
        if not options["no_serve"]:
            call_command("serve", address=options["address"])

    def _say(self, text: str) -> None:
        if not self.quiet:
            self.stderr.write(f"{text} …")

    def _report(self, done: int, total: int) -> None:
        """Keep quiet about single rows; the stages are told by `_say`."""

    def _outcome(self) -> dict:
        from program.operations.submissions import submission_files
        from program.queries.replacements import full_replacements
        from services_inventory.queries.counts import category_counts

        counts = category_counts()
        return {"counts": counts, "files": submission_files(2030), "replaced": full_replacements()}

    def _tell(self, outcome: dict, seconds: float) -> None:
        from fixtures.people import ACCOUNTS, PASSWORD

        counts = outcome["counts"]
        write = self.stdout.write
        write(f"\nQuillwater, an invented town, stands ready ({seconds:.0f} s).")
        write(
            f"{counts['total']:,} service lines: {counts['LEAD']:,} lead, {counts['GRR']:,} "
            f"galvanized requiring replacement, {counts['UNKNOWN']:,} unknown, "
            f"{counts['NON_LEAD']:,} non-lead."
        )
        write(f"{outcome['replaced']:,} full replacements in three program years.")
        for kind, path in outcome["files"].items():
            write(f"Submission for 2030, {kind}: {path}")
        write("\nAccounts of this demo only, each with the password " + PASSWORD + ":")
        for name, first, last, role, company in ACCOUNTS:
            write(f"  {name:<11} {role}{', ' + company if company else ''} ({first} {last})")
