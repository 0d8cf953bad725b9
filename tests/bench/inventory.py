"""An inventory of any size in a database of its own, for the pages and downloads to be timed on.

The lines come in as a utility's would: one CSV through the intake, so that evidence, category
changes and provenance are there. Then 200 neighbourhoods are laid over them.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NEIGHBOURHOODS = 200


@contextmanager
def database_of_its_own() -> Iterator[Path]:
    """Start the program in a fresh folder; yield the folder.

    SQLite unless `DATABASE_URL` names an empty PostgreSQL database.

    Raises
    ------
    SystemExit
        The database holds lines that this benchmark did not make.
    """
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        os.environ["DATA_DIR"] = folder
        os.environ.setdefault("SECRET_KEY", "only-for-this-run")
        os.environ["DJANGO_SETTINGS_MODULE"] = "program.settings"
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        from services_inventory.models import ServiceLine

        if ServiceLine.objects.exists():
            raise SystemExit("DATABASE_URL names a database that is in use; give an empty one.")
        yield Path(folder)


def engine() -> str:
    """Return the name of the database engine in use."""
    from django.db import connection

    return connection.display_name


def take_in_lines(number: int, folder: Path) -> None:
    """Take in so many lines, and give each its neighbourhood."""
    from datetime import UTC, datetime

    from services_inventory.models import Batch
    from services_inventory.operations.batches import batch_open, batch_run
    from tests.bench.intake_file import write

    source = write(folder / "lines.csv", number)
    at = datetime(2028, 3, 1, 9, tzinfo=UTC)
    batch = batch_open(
        kind="INTAKE",
        by="bench",
        at=at,
        file=source,
        parameters={"recorded_at": at.isoformat(), "step": "APPLY"},
    )
    batch = batch_run(batch=batch)
    if batch.state != Batch.State.APPLIED:
        raise SystemExit(batch.message)
    source.unlink()
    _lay_neighbourhoods()


def _lay_neighbourhoods() -> None:
    from django.db.models import F
    from django.db.models.functions import Mod

    from services_inventory import bulk
    from services_inventory.models import Neighbourhood, Premise, ServiceLine

    made = Neighbourhood.objects.bulk_create(
        Neighbourhood(name=f"Ward {number + 1}") for number in range(NEIGHBOURHOODS)
    )
    first = made[0].pk
    # Whole streets of a hundred houses, as in a town.
    ward = Mod(F("id") / 100, NEIGHBOURHOODS) + first
    Premise.objects.update(neighbourhood_id=ward)
    ServiceLine.objects.update(neighbourhood_id=Mod(F("premise_id") / 100, NEIGHBOURHOODS) + first)
    bulk.settle_statistics()
