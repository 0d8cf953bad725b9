"""Derive every standing again from the evidence, and report what differs."""

import json

from django.core.management.base import BaseCommand

from ...operations.batches import batch_open, batch_run
from ...today import now


class Command(BaseCommand):
    """Compare all standings with the evidence."""

    help = "Derives every standing from the evidence and reports differences: none, if all is well."

    def add_arguments(self, parser):
        """Add the options."""
        parser.add_argument("--write", action="store_true", help="correct what differs")
        parser.add_argument("--json", action="store_true", help="print JSON only")

    def handle(self, *args, **options):
        """Run the batch here and now."""
        batch = batch_open(
            kind="RESTATE",
            by="command line",
            at=now(),
            parameters={"write": options["write"]},
        )
        batch_run(batch=batch)
        found = {**batch.counts, "changed": batch.result["changed"]}
        if options["json"]:
            self.stdout.write(json.dumps(found))
            return
        self.stdout.write(
            f"{found['lines']:,} lines compared, {found['differences']:,} differ from their "
            f"evidence, {found['changed']:,} categories corrected."
        )
        for example in batch.result["examples"]:
            self.stdout.write(
                f"  {example['location_id']}: stored {example['stored']}, "
                f"the evidence says {example['derived']}"
            )
