"""Columns that the program keeps up to date, and rows of them that another hand altered."""

import hashlib
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import groupby

from django.apps import apps
from django.db.models import Max

from services_inventory.domain.in_turn import tonight

from ..domain.row_digests import ROWS_IN_A_BLOCK, differing, unpacked
from ..models import RowDigests, RowDigestsTaken, WrittenRow
from .seals import BLOCKS_A_NIGHT, SHOWN, Stream, fields_of, sealed_tables, streams

_JOINT = "\x1f"


@cache
def watched() -> dict[str, Stream]:
    """Return every stream of columns that are not sealed but watched, by the table's label."""
    said = sealed_tables()
    sealed: dict[str, set] = {}
    for stream in streams().values():
        sealed.setdefault(stream.table._meta.label, set()).update(stream.columns)
    found = {}
    for table in apps.get_models(include_auto_created=True):
        label = table._meta.label
        if label not in {*said["tables"], *said["left_out"]} - set(said["unwatched"]):
            continue
        aside = sealed.get(label, set()) | set(said["unwatched_columns"].get(label, ()))
        columns = [n for n, field in fields_of(table).items() if n not in aside]
        key = table._meta.pk.attname
        if columns := [n for n in columns if n != key]:
            found[label] = Stream(label, table, "", (key, *columns))
    return found


def watched_columns() -> dict[str, tuple[str, frozenset[str]]]:
    """Return key and watched columns of each table, all by their names in the database."""
    return {
        stream.table._meta.db_table: (
            stream.table._meta.pk.column,
            frozenset(fields_of(stream.table)[name].column for name in stream.columns[1:]),
        )
        for stream in watched().values()
    }


def unwatched() -> dict[str, str]:
    """Return the tables of which no row is watched, each with the reason."""
    return sealed_tables()["unwatched"]


def blocks_of_rows(stream: Stream, since: int | None = None, upto: int | None = None):
    """Yield (block, texts of its rows by id), from one block up to another."""
    rows = stream.rows()
    if since is not None:
        rows = rows.filter(pk__gte=since * ROWS_IN_A_BLOCK)
    if upto is not None:
        rows = rows.filter(pk__lt=(upto + 1) * ROWS_IN_A_BLOCK)
    for block, some in groupby(rows.iterator(2_000), lambda row: row[0] // ROWS_IN_A_BLOCK):
        yield block, {row[0]: _JOINT.join(map(_text, row)) for row in stream.texts(list(some))}


def _text(value) -> str:
    return value.hex() if isinstance(value, (bytes, memoryview)) else str(value)


def sum_of_digests(stream: str) -> str:
    """Return the SHA-256 over all digests that are kept of a stream, hexadecimal."""
    whole = hashlib.sha256()
    kept = RowDigests.objects.filter(stream=stream).order_by("block")
    for block, content in kept.values_list("block", "content").iterator(200):
        whole.update(f"{block}\n".encode() + bytes(content))
    return whole.hexdigest()


def rows_are_as_written(night: int | None = None) -> Iterator[str]:
    """What is kept up to date was changed by the program alone since its digests were taken.

    The sum of a table's digests is taken as its first part comes in turn.
    """
    last = dict(RowDigestsTaken.objects.order_by("id").values_list("stream", "sha256"))
    blocks = RowDigests.objects.order_by("stream").values_list("stream")
    newest = dict(blocks.annotate(last=Max("block")))
    for name, stream in watched().items():
        if name not in last:
            continue
        parts = tonight(newest.get(name, 0) + 1, BLOCKS_A_NIGHT, night)
        if parts[0].start == 0 and sum_of_digests(name) != last[name]:
            yield f"The digests of {name} are not those that were taken: they were altered."
        wrong = [pk for part in parts for pk in _wrong(stream, part) if not _written(stream, pk)]
        what = str(stream.table._meta.verbose_name).capitalize()
        for pk, gone in wrong[:SHOWN]:
            done = "removed" if gone else "changed"
            yield f"{what} {pk}: {done} in the database, and not by the program."
        if len(wrong) > SHOWN:
            yield f"{what}: {len(wrong) - SHOWN:,} further rows."


def _wrong(stream: Stream, part: range) -> Iterator[tuple[int, bool]]:
    """Yield (id, whether it is gone) of rows in some blocks that are not as their digests say."""
    kept = RowDigests.objects.filter(stream=stream.name).order_by("block")
    kept = kept.filter(block__gte=part.start, block__lt=part.stop)
    rows = blocks_of_rows(stream, part.start, part.stop - 1)
    at, texts = next(rows, (None, {}))
    for block, content in kept.values_list("block", "content").iterator(200):
        while at is not None and at < block:
            at, texts = next(rows, (None, {}))
        now: Mapping[int, str] = texts if at == block else {}
        for pk in differing(unpacked(bytes(content)), now):
            yield pk, pk not in now


def _written(stream: Stream, wrong: tuple[int, bool]) -> bool:
    """Tell whether the program wrote a row since; asked after the row was read."""
    of_table = WrittenRow.objects.filter(table=stream.table._meta.db_table)
    return of_table.filter(row_id=None).exists() or of_table.filter(row_id=wrong[0]).exists()
