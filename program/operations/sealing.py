"""Sealing what was added to the record, and handing it out with the means to check it."""

import csv
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from shutil import copyfile

from django.db import transaction

from services_inventory import bulk

from ..domain.seals import ROWS_IN_A_BLOCK, Sealed, seal, text_of
from ..models import Seal
from ..queries.seals import Place, Stream, head_now, last_sealed, said, streams, written

# A moment is taken as an act begins and kept as it ends; nobody's act takes an hour.
SETTLED = timedelta(hours=1)
CHECK = Path(__file__).parents[1] / "reference" / "check_seals.py"


def record_seal(*, at: datetime) -> str:
    """Seal all rows added since the last time; return the head of the chain.

    Rows are read while others write; whoever seals meanwhile too comes first, and the rest is
    sealed behind it. A table that is written to all the while waits for the next time.
    """
    while True:
        head = head_now()
        made = list(_seals(head, at))
        with transaction.atomic():
            bulk.shut_out_writers(Seal._meta.db_table)
            if head_now() == head:
                Seal.objects.bulk_create(made, batch_size=1_000)
                return made[-1].head if made else head


def _seals(head: str, at: datetime) -> Iterator[Seal]:
    last = last_sealed()
    for stream in streams().values():
        for rows in _blocks(stream, last.get(stream.name), at):
            place = stream.place(rows[-1])
            said_at = str(at.astimezone(UTC))
            sealed = seal(head, stream.name, stream.texts(rows), written(place), said_at)
            head = sealed.head
            yield _row(sealed, place, at)


def _blocks(stream: Stream, after: Place | None, at: datetime) -> Iterator[list[tuple]]:
    settled = 0 if stream.moment else bulk.settled_id(stream.table._meta.db_table)
    if settled is None:
        return
    upto = Place(at - SETTLED if stream.moment else None, settled)
    found = stream.rows(after, upto).iterator(chunk_size=2_000)
    yield from _pieces(found, ROWS_IN_A_BLOCK)


def _pieces(rows: Iterator[tuple], size: int) -> Iterator[list[tuple]]:
    while piece := list(islice(rows, size)):
        yield piece


def _row(sealed: Sealed, place: Place, at: datetime) -> Seal:
    return Seal(
        stream=sealed.stream,
        rows=sealed.rows,
        last_id=place.id,
        last_moment=place.moment,
        digest=sealed.digest,
        head=sealed.head,
        sealed_at=at,
    )


def proof_write(folder: Path) -> str:
    """Write the sealed columns of every table as CSV, the seals, and a script that checks them.

    The script stands on Python's standard library alone. Names and ways to reach residents are
    not sealed and not written. Returns the head of the chain.
    """
    folder.mkdir(parents=True, exist_ok=True)
    chained = Seal.objects.order_by("id")
    with (folder / "seals.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(Sealed._fields)
        out.writerows(said(one) for one in chained.iterator())
    for name, upto in last_sealed().items():
        stream = streams()[name]
        rows = stream.rows(None, upto).iterator(chunk_size=2_000)
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            file.write(text_of([stream.columns]))
            for block in _pieces(rows, 2_000):
                file.write(text_of(stream.texts(block)))
    copyfile(CHECK, folder / CHECK.name)
    return head_now()
