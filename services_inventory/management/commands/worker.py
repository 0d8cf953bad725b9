"""Advance waiting batches, one after the other, until told to stop."""

import signal
import time

from django.core.management.base import BaseCommand
from django.db import close_old_connections

from ...operations.batches import batch_claim, batch_run, batches_recover


class Command(BaseCommand):
    """Run the worker."""

    help = "Runs waiting batches (intake files, exports, plans). Stop it with Ctrl-C."

    def add_arguments(self, parser):
        """Add the options."""
        parser.add_argument("--once", action="store_true", help="run what waits, then end")
        parser.add_argument("--every", type=float, default=0.5, metavar="SECONDS")

    def handle(self, *args, **options):
        """Claim and run until the process is told to end."""
        self.ending = False
        if not options["once"]:
            signal.signal(signal.SIGTERM, self._end)
        batches_recover()
        while not self.ending:
            if not options["once"]:  # a caller of one round keeps the connection it has
                close_old_connections()
            batch = batch_claim()
            if batch is not None:
                self._run(batch)
            elif options["once"]:
                return
            else:
                time.sleep(options["every"])

    def _end(self, *args):
        self.ending = True

    def _run(self, batch):
        try:
            batch_run(batch=batch)
        except Exception as error:  # the batch is refused already; the worker lives on
            self.stderr.write(f"{batch}: {error!r}")
        self.stdout.write(f"{batch}: {batch.get_state_display()} {batch.message}".strip())
