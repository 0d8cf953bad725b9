"""Taking digests of what is kept up to date, of the rows that the program wrote since."""

from collections.abc import Iterator
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from services_inventory import bulk

from ..domain.row_digests import ROWS_IN_A_BLOCK, packed, taken, unpacked
from ..models import RowDigests, RowDigestsTaken, WrittenRow
from ..queries.row_digests import blocks_of_rows, sum_of_digests, watched
from ..queries.seals import Stream

_SINGLE = 200  # blocks read one by one; where more were written to, the table is read through


def row_digests_take(*, at: datetime, restored: bool = False) -> None:
    """Take digests of new rows, and of those that the program wrote since the last time.

    restored : the record came from an archive, without the digests and tables that stay behind
    """
    for stream in watched().values():
        _take(stream, at, restored)


def _take(stream: Stream, at: datetime, restored: bool) -> None:
    last = RowDigestsTaken.objects.filter(stream=stream.name).aggregate(last=Max("id"))["last"]
    notes = dict(
        WrittenRow.objects.filter(table=stream.table._meta.db_table).values_list("id", "row_id")
    )
    written = {pk for pk in notes.values() if pk is not None}
    whole = last is None or None in notes.values()
    made = [
        RowDigests(stream=stream.name, block=block, content=content)
        for block, content in _anew(stream, None if whole else written)
    ]
    with transaction.atomic():
        bulk.shut_out_writers(RowDigests._meta.db_table)
        of_stream = RowDigestsTaken.objects.filter(stream=stream.name)
        if of_stream.aggregate(last=Max("id"))["last"] != last:
            return  # another took them meanwhile
        _put(made, stream.name, at, restored)
        ids = list(notes)
        for start in range(0, len(ids), 500):
            WrittenRow.objects.filter(id__in=ids[start : start + 500]).delete()


def _put(made: list[RowDigests], stream: str, at: datetime, restored: bool) -> None:
    """Write blocks, and their sum where it is another than before."""
    RowDigests.objects.bulk_create(
        made,
        batch_size=100,
        update_conflicts=True,
        unique_fields=["stream", "block"],
        update_fields=["content"],
    )
    RowDigests.objects.filter(stream=stream, content=b"").delete()
    sha256 = sum_of_digests(stream)
    last = RowDigestsTaken.objects.filter(stream=stream).order_by("-id").first()
    if last is None or (made or restored) and last.sha256 != sha256:
        RowDigestsTaken.objects.create(stream=stream, sha256=sha256, taken_at=at)


def _anew(stream: Stream, written: set[int] | None) -> Iterator[tuple[int, bytes]]:
    """Yield the blocks whose digests change."""
    kept = RowDigests.objects.filter(stream=stream.name)
    for block, texts in _blocks(stream, kept, written):
        content = kept.filter(block=block).values_list("content", flat=True).first()
        was = bytes(content or b"")
        now = packed(taken(unpacked(was), texts, written))
        if now != was:
            yield block, now


def _blocks(stream: Stream, kept, written: set[int] | None) -> Iterator[tuple[int, dict]]:
    last = kept.aggregate(last=Max("block"))["last"]
    blocks = {pk // ROWS_IN_A_BLOCK for pk in written or ()}
    if written is None or last is None or len(blocks) > _SINGLE:
        blocks, last = set(kept.values_list("block", flat=True)), 0
        yield from _with_gone(blocks, blocks_of_rows(stream))
        return
    for block in sorted(one for one in blocks if one < last):
        yield block, dict(blocks_of_rows(stream, block, block)).get(block, {})
    yield from _with_gone({last, *(b for b in blocks if b > last)}, blocks_of_rows(stream, last))


def _with_gone(blocks: set[int], rows) -> Iterator[tuple[int, dict]]:
    """Yield blocks of rows, and behind them those that hold no row any more."""
    for block, texts in rows:
        blocks.discard(block)
        yield block, texts
    yield from ((block, {}) for block in sorted(blocks))
