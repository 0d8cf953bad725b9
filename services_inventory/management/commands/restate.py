"""Derive every standing again from the evidence, and report what differs."""

import json
from datetime import date

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from services_inventory.domain.days import day_told

from ...command_words import COMMAND_LINE, past_day
from ...forms.days import end_of
from ...operations.batches import batch_open, batch_run_here
from ...queries.past import recount
from ...today import now


class Command(BaseCommand):
    """Compare all standings with the evidence."""

    help = (
        "Derives every standing from the evidence and reports differences: none, if all is well. "
        "Ends with exit code 1 where there are any that were not corrected."
    )

    def add_arguments(self, parser):
        parser.add_argument("--write", action="store_true", help="correct what differs")
        parser.add_argument(
            "--afresh", action="store_true", help="reduce every statement again first"
        )
        parser.add_argument("--json", action="store_true", help="print JSON only")
        parser.add_argument(
            "--on", metavar="DAY", help="count a past day anew, such as 2029-12-31; writes nothing"
        )
        parser.add_argument(
            "--known", metavar="DAY", help="with --on: by what was recorded until this day"
        )

    def handle(self, *args, **options):
        """Run the batch here and now, or recount a past day."""
        if options["on"] is not None or options["known"] is not None:
            self._past(options)
        else:
            self._now(options)

    def _now(self, options) -> None:
        batch = batch_open(
            kind="RESTATE",
            by=COMMAND_LINE,
            at=now(),
            parameters={"write": options["write"], "afresh": options["afresh"]},
        )
        batch_run_here(batch=batch)
        if batch.state != batch.State.APPLIED:
            raise CommandError(batch.message)
        found = {**batch.counts, "changed": batch.result["changed"]}
        if options["afresh"]:
            found |= {name: batch.result[name] for name in ("codes", "codes_wrong")}
        if options["json"]:
            self.stdout.write(json.dumps(found))
        else:
            self._tell(found, batch.result["examples"])
        if found["differences"] and not options["write"]:
            raise SystemExit(1)

    def _tell(self, found: dict, examples: list) -> None:
        self.stdout.write(
            f"{found['lines']:,} lines compared, {found['differences']:,} differences from the "
            f"evidence, {found['changed']:,} categories corrected."
        )
        if "codes" in found:
            self.stdout.write(
                f"  {found['codes']:,} statements reduced anew: {found['codes_wrong']:,} had a "
                "wrong code or none, the others one of an earlier rule."
            )
        for example in examples:
            self.stdout.write(
                f"  {example['location_id']}: stored {example['stored']}, "
                f"the evidence says {example['derived']}"
            )

    def _past(self, options) -> None:
        """Compare the categories on record of a past day with a recount from the evidence."""
        if options["write"] or options["afresh"] or options["on"] is None:
            raise CommandError(
                "Give --on DAY, and neither --write nor --afresh: the past is read, never "
                "rewritten."
            )
        day = past_day(options["on"])
        known = None if options["known"] is None else past_day(options["known"])
        with transaction.atomic():
            found = recount(day, known_at=end_of(known) if known else None)
        if options["json"]:
            self.stdout.write(json.dumps(found))
        else:
            self._tell_past(day, found)
        if found["differences"]:
            raise SystemExit(1)

    def _tell_past(self, day: date, found: dict) -> None:
        counts = ", ".join(f"{number:,} {name}" for name, number in found["counts"].items())
        self.stdout.write(f"{day_told(day)}: {counts}, by the evidence.")
        self.stdout.write(
            f"{found['lines']:,} lines compared, {found['differences']:,} differ from the "
            "changes on record."
        )
        for line_id, said, category in found["examples"]:
            self.stdout.write(f"  line {line_id}: on record {said}, the evidence says {category}")
