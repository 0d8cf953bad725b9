"""Small files taken in as a person does it: written, opened as a batch, checked or applied."""

import csv
from datetime import UTC, datetime

from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_run

APRIL = datetime(2028, 4, 3, 9, tzinfo=UTC)
HEADER = (
    "location id", "address", "latitude", "longitude", "system side material",
    "customer side material", "year installed", "source",
)  # fmt: skip
MILL = ("L1", "12 Mill St", "41.5", "-100.3", "lead", "copper", "1921", "tap card")
OAK = ("L2", "40 Oak Ave", "41.51", "-100.31", "copper", "copper", "1995", "installation record")
ELM = ("L3", "7 Elm Rd", "41.52", "-100.32", "unk", "galvanized", "1950", "tap card")


def open_file(folder, rows, *, header=HEADER, name="list.csv", at=APRIL, **parameters) -> Batch:
    """Write rows as a CSV file and open a batch for it."""
    folder.mkdir(exist_ok=True)
    path = folder / name
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([header, *rows])
    given = {"recorded_at": at.isoformat(), **parameters}
    return batch_open(kind="INTAKE", by="clerk", at=at, file=path, parameters=given)


def run(batch: Batch, step: str = "APPLY") -> dict:
    """Run one step of the batch and return the counts it came to."""
    batch.parameters = {**batch.parameters, "step": step}
    batch_run(batch=batch)
    assert batch.state in (Batch.State.CHECKED, Batch.State.APPLIED), batch.message
    return batch.counts


def take_in(folder, rows, **more) -> dict:
    """Check and apply a file; the check's counts must be the apply's."""
    batch = open_file(folder, rows, **more)
    checked = run(batch, "CHECK")
    applied = run(batch)
    assert checked == applied
    assert sum(applied[k] for k in ("new", "changed", "unchanged", "held")) == applied["total"]
    return applied


def counted(new=0, changed=0, unchanged=0, held=0) -> dict:
    """Return counts as a batch keeps them."""
    found = {"new": new, "changed": changed, "unchanged": unchanged, "held": held}
    return {**found, "total": sum(found.values())}
