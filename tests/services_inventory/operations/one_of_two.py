"""A worker for a test: its batch writes a row in one transaction, says so, and ends when it may.

Run as `python -m tests.services_inventory.operations.one_of_two FOLDER`.
"""

import os
import sys
import time
from pathlib import Path

FOLDER = Path(sys.argv[-1])


def run(*, batch, report):
    """Write a row that names this process, and hold the transaction open until it may end."""
    from django.db import transaction

    from services_inventory.models import SavedColumns
    from services_inventory.today import now

    with transaction.atomic():
        SavedColumns.objects.create(
            name="done", header_sha256=str(os.getpid()), columns={}, saved_by="w", saved_at=now()
        )
        (FOLDER / "began").touch()
        while not (FOLDER / "may end").exists():
            time.sleep(0.05)
    batch.state = batch.State.APPLIED


def main() -> None:
    """Work like `manage.py worker`, looking more often."""
    import django
    from django.conf import settings
    from django.core.management import call_command

    django.setup()
    settings.BATCH_KINDS = {"ONE": {"label": "one", "run": f"{__spec__.name}.run"}}
    from services_inventory.management.commands import worker

    worker.FOLDERS_EVERY_S = 0.2
    call_command("worker", every=0.05)


if __name__ == "__main__":
    main()
