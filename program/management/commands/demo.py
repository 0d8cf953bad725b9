"""Build the invented town, do the whole job in it, say what was done, and serve it."""

import argparse
import json
import os
import subprocess
import sys
import time
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

ADDRESS = "127.0.0.1:8000"


class Command(BaseCommand):
    """Run the demo."""

    help = "Builds the invented demo town in an empty database, and serves it."

    def add_arguments(self, parser):
        """Add the options."""
        parser.add_argument("--no-serve", action="store_true", help="build, report and end")
        parser.add_argument("--json", action="store_true", help="print what came of it as JSON")
        parser.add_argument("--address", default=ADDRESS, type=_address, metavar="HOST:PORT")

    def handle(self, *args, **options):
        """Build if need be, report, serve."""
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
            self._serve(options["address"])

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

    def _serve(self, address: str) -> None:
        """Run the worker beside a web server until Ctrl-C ends both."""
        manage = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py")]
        worker = subprocess.Popen([*manage, "worker"], env=os.environ)
        self.stdout.write(f"\nOpen http://{address}/ and sign in. Ctrl-C ends the demo.")
        command = [
            sys.executable, "-m", "gunicorn", "program.wsgi", "--bind", address, "--workers", "2",
            "--threads", "4", "--worker-class", "gthread", "--log-level", "warning",
            "--chdir", str(settings.BASE_DIR),
        ]  # fmt: skip
        try:
            subprocess.run(command, check=False)
        except KeyboardInterrupt:
            pass
        finally:
            worker.terminate()
            worker.wait(timeout=20)


def _address(text: str) -> str:
    """Return where to serve, or refuse it before the town is built."""
    host, _, port = text.rpartition(":")
    if not host or not port.isdecimal() or not 0 < int(port) < 65536:
        raise argparse.ArgumentTypeError(f"{text[:60]!r}; write it like {ADDRESS}")
    return text
