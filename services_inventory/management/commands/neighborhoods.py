"""Take in neighborhood boundaries from a file and place every premise."""

import json

from django.core.management.base import BaseCommand, CommandError

from ...command_words import COMMAND_LINE
from ...models import Batch
from ...operations.batches import batch_open, batch_run_here
from ...today import now


class Command(BaseCommand):
    """Run the intake of boundaries."""

    help = (
        "Takes in neighborhood boundaries (GeoPackage, GeoJSON or zipped Shapefile, any "
        "coordinate reference system) and gives every premise its neighborhood."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", metavar="FILE")
        parser.add_argument(
            "--name-field", metavar="NAME", help="the field with the neighborhood's name"
        )
        parser.add_argument("--layer", metavar="NAME", help="the layer, where the file has several")
        parser.add_argument("--json", action="store_true", help="print the counts as JSON")

    def handle(self, *args, **options):
        try:
            batch = batch_open(
                kind="BOUNDARIES",
                by=COMMAND_LINE,
                at=now(),
                file=options["file"],
                title="Neighborhood boundaries",
                parameters={"name_field": options["name_field"], "layer": options["layer"]},
            )
        except OSError as error:
            raise CommandError(f"{options['file']} can't be opened: {error.strerror}.") from error
        batch = batch_run_here(batch=batch)
        if batch.state != Batch.State.APPLIED:
            raise CommandError(f"{options['file']}: {batch.message}")
        if options["json"]:
            self.stdout.write(json.dumps(batch.counts))
            return
        for note in batch.result["notes"]:
            self.stdout.write(note)
        counts = batch.counts
        self.stdout.write(
            f"{counts['neighborhoods']} neighborhoods ({counts['new']} new), named by the field "
            f"{batch.result['name_field']!r}.\n{counts['inside']} premises lie inside one, "
            f"{counts['outside']} outside every boundary, {counts['no_position']} have no position."
        )
