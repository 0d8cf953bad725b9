"""Advance waiting batches, one after the other, until told to stop."""

import logging
import signal
import time

from django.core.management.base import BaseCommand
from django.db import InterfaceError, OperationalError, close_old_connections, connections
from django_guid import clear_guid, set_guid

from ... import bulk, progress
from ...command_words import number_from
from ...database_away import database_away
from ...operations.batches import batch_claim, batch_run, batches_recover
from ...operations.feeds import feed_go_on, feeds_look
from ...operations.left_over import left_over_remove
from ...today import now

FOLDERS_EVERY_S = 10

log = logging.getLogger(__name__)


class Command(BaseCommand):
    """Run the worker."""

    help = "Runs waiting batches (intake files, exports, plans). Stop it with Ctrl-C."

    def add_arguments(self, parser):
        parser.add_argument("--once", action="store_true", help="run what waits, then end")
        parser.add_argument("--every", type=number_from(0.05, 60), default=0.5, metavar="SECONDS")

    def handle(self, *args, **options):
        """Claim and run until the process is told to end."""
        self.ending = False
        self.recovered = False
        self.said = ""
        self.looked = -FOLDERS_EVERY_S
        if not options["once"]:
            signal.signal(signal.SIGTERM, self._end)
        try:
            self._go_on(options)
        finally:
            progress.worker_leaves()

    def _go_on(self, options):
        while not self.ending:
            try:
                if not self._advance(options["once"]) and not self.ending:
                    if options["once"]:
                        return
                    time.sleep(options["every"])
            except (InterfaceError, OperationalError) as error:
                sentence = database_away(error)
                if options["once"] or not sentence:
                    raise
                self._wait(sentence)

    def _end(self, *args):
        self.ending = True

    def _advance(self, once: bool) -> bool:
        """Run the oldest waiting batch, and tell whether there was one."""
        if not once:  # a caller of one round keeps the connection it has
            close_old_connections()
        if not self.recovered:
            batches_recover()
            left_over_remove()
            self.recovered = True
        self._look()
        batch = batch_claim()
        self.said = ""
        if batch is not None:
            self._run(batch)
        return batch is not None

    def _look(self) -> None:
        """Report, and look into the watched folders, now and then."""
        if time.monotonic() - self.looked >= FOLDERS_EVERY_S:
            progress.worker_reports()
            if bulk.holds_are_known():  # what a worker on another machine left
                batches_recover()
            feeds_look(at=now())
            self.looked = time.monotonic()

    def _run(self, batch):
        set_guid(f"batch-{batch.pk}")  # what is logged meanwhile is told by it
        try:
            batch_run(batch=batch)
            feed_go_on(batch)
        except Exception as error:  # the batch is refused already; the worker lives on
            if database_away(error):
                progress.let_go(batch.pk)  # refused or, where that failed too, taken up again
                raise
            log.exception("%s", batch)
        self.stdout.write(f"{batch}: {batch.get_state_display()} {batch.message}".strip())
        clear_guid()

    def _wait(self, sentence: str) -> None:
        """Let the database come back; then what was being run is taken up again."""
        if sentence != self.said:  # once, not every other second of a night
            self.stderr.write(f"{sentence} The worker waits for it.")
        self.said = sentence
        self.recovered = False
        connections.close_all()
        time.sleep(2)
