"""What is sealed of the record, its rows as they are now, and where they differ."""

import json
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from functools import cache
from itertools import groupby
from typing import NamedTuple

from django.apps import apps
from django.db.models import CharField, Field, JSONField, Max, Model, Q, QuerySet, TextField
from django.utils.timezone import localdate

from services_inventory.domain.days import day_told
from services_inventory.domain.in_turn import tonight
from services_inventory.domain.reference import toml_of
from services_inventory.kept_files import KeptFile, sha256_of
from services_inventory.models import Batch, Document

from ..domain.seals import FIRST, Sealed, broken_at, digest_of, text_of
from ..models import NoticeBatch, PlanDocument, Proof, Seal, SubmissionFile

SHOWN = 3
BLOCKS_A_NIGHT, DOCUMENTS_A_NIGHT = 500, 5_000
_TEXTS = (CharField, TextField)


class Place(NamedTuple):
    """Where a row stands in its stream: by its moment, where the stream has one, then by id."""

    moment: datetime | None
    id: int


class Stream(NamedTuple):
    """Columns of a table that are written once: with the row, or later at a moment of their own."""

    name: str
    table: type[Model]
    moment: str
    columns: tuple[str, ...]

    def rows(self, after: Place | None = None, upto: Place | None = None) -> QuerySet:
        """Return the rows behind a place and up to another, in their order, with `columns`."""
        order = [self.moment, "pk"] if self.moment else ["pk"]
        found = self.table._base_manager.order_by(*order)
        if self.moment:
            found = found.filter(**{f"{self.moment}__isnull": False})
        if after is not None:
            found = found.filter(self._beyond(after))
        if upto is not None:
            found = found.exclude(self._beyond(upto))
        return found.values_list(*self.columns)

    def _beyond(self, place: Place) -> Q:
        if not self.moment:
            return Q(pk__gt=place.id)
        later = Q(**{f"{self.moment}__gt": place.moment})
        return later | Q(**{self.moment: place.moment, "pk__gt": place.id})

    def place(self, row: Sequence) -> Place:
        """Return where a row of this stream stands."""
        return Place(row[1] if self.moment else None, row[0])

    def texts(self, rows: Sequence[Sequence]) -> Sequence[Sequence]:
        """Return rows with JSON in one form of text, whatever database keeps it."""
        kept = fields_of(self.table)
        json_at = [n for n, name in enumerate(self.columns) if isinstance(kept[name], JSONField)]
        if not json_at:
            return rows
        rows = [list(row) for row in rows]
        for row in rows:
            for n in json_at:
                row[n] = json.dumps(row[n], sort_keys=True)
        return rows


class BadTable(ValueError):
    """The list of sealed tables names what there is not."""


def fields_of(table: type[Model]) -> dict[str, Field]:
    """Return the columns of a table by the names of their values."""
    return {field.attname: field for field in table._meta.concrete_fields}


def sealed_tables() -> dict[str, dict]:
    """Return what of each table is sealed, watched or left out, and why."""
    return toml_of("program", "sealed_tables.toml")


@cache
def tables_by_label() -> dict[str, type[Model]]:
    """Return every table by the label that the lists in `reference` name it with."""
    return {table._meta.label: table for table in apps.get_models(include_auto_created=True)}


@cache
def streams() -> dict[str, Stream]:
    """Return every stream by its name: a table's, and behind it those of its later columns."""
    found, tables = {}, tables_by_label()
    for label, said in sealed_tables()["tables"].items():
        table = tables[label]
        later = said.get("later", {})
        names = [table._meta.pk.attname, *(n for n in fields_of(table) if n != "id")]
        aside = {*said.get("changes", ()), *said.get("personal", ()), *later}
        aside |= {name for columns in later.values() for name in columns}
        if aside - set(names):
            raise BadTable(f"{label} has no column {', '.join(sorted(aside - set(names)))}.")
        found[label] = Stream(label, table, "", tuple(n for n in names if n not in aside))
        for moment, columns in later.items():
            name = f"{label}.{moment}"
            found[name] = Stream(name, table, moment, ("id", moment, *columns))
    return found


def left_out() -> dict[str, str]:
    """Return the tables that are not sealed, each with the reason."""
    return sealed_tables()["left_out"]


def place_of(seal: Seal) -> Place:
    """Return where the last row of a seal stands."""
    return Place(seal.last_moment, seal.last_id)


def written(place: Place) -> str:
    """Return a place as the text that a seal is chained with."""
    return str(place.id) if place.moment is None else f"{place.moment.astimezone(UTC)} {place.id}"


def said(seal: Seal) -> Sealed:
    """Return a kept seal as the domain's own."""
    last, at = written(place_of(seal)), str(seal.sealed_at.astimezone(UTC))
    return Sealed(seal.stream, seal.rows, last, seal.digest, at, seal.head)


def head_now() -> str:
    """Return the head of the chain: with it all that is sealed can be proved later."""
    return Seal.objects.order_by("-id").values_list("head", flat=True).first() or FIRST


def last_proofs() -> list[Proof]:
    """Return the last check of the record and the last restored back-up, where there are any.

    Each has `last_held`: the last time that it did hold.
    """
    found = []
    for what in Proof.What:
        proofs = Proof.objects.filter(what=what).order_by("-id")
        if last := proofs.first():
            last.last_held = last if last.held else proofs.filter(held=True).first()
            found.append(last)
    return found


def last_sealed() -> dict[str, Place]:
    """Return how far each stream is sealed."""
    last = {}
    for seal in Seal.objects.order_by("id").iterator():
        last[seal.stream] = place_of(seal)
    return last


def seals_hold(night: int | None = None) -> Iterator[str]:
    """What is sealed stands as it was when it was sealed."""
    chain = list(Seal.objects.order_by("id"))
    broken = broken_at(map(said, chain))
    if broken is not None:
        yield (
            f"The chain of seals is broken at seal {chain[broken].pk}, made "
            f"{day_told(localdate(chain[broken].sealed_at))}: seals were altered or removed. "
            "Compare with the head in a submission or a back-up."
        )
    parts = tonight(len(chain), BLOCKS_A_NIGHT, night)
    wanted = {chain[at].pk for part in parts for at in part}
    by_stream = sorted(chain, key=lambda seal: (seal.stream, seal.pk))
    for name, seals in groupby(by_stream, key=lambda seal: seal.stream):
        stream = streams().get(name)
        if stream is None:
            yield f"{name} was sealed and is not known any more."
            continue
        yield from _differing(stream, seals, wanted)


def later_columns_are_whole() -> Iterator[str]:
    """What is set later, such as who took a row back and when, is set together or not at all."""
    for stream in streams().values():
        kept = fields_of(stream.table)
        texts = [name for name in stream.columns[2:] if isinstance(kept[name], _TEXTS)]
        if not stream.moment or not texts:
            continue
        said = Q(*[Q(**{f"{name}__gt": ""}) for name in texts], _connector=Q.OR)
        unset = Q(**{f"{stream.moment}__isnull": True})
        wrong = stream.table._base_manager.filter((unset & said) | (~unset & ~said))
        for pk in wrong.order_by("pk").values_list("pk", flat=True)[:SHOWN]:
            what = str(stream.table._meta.verbose_name).capitalize()
            yield f"{what} {pk}: {stream.moment} and what goes with it are only half there."


def _differing(stream: Stream, seals: Iterator[Seal], wanted: set[int]) -> Iterator[str]:
    after, wrong = None, []
    for seal in seals:
        after, first = place_of(seal), after
        if seal.pk not in wanted:
            continue
        rows = list(stream.rows(first, after))
        if digest_of(text_of(stream.texts(rows))) != seal.digest:
            wrong.append(_sentence(stream, seal, first, len(rows)))
    yield from wrong[:SHOWN]
    if len(wrong) > SHOWN:
        yield f"{stream.name}: {len(wrong) - SHOWN:,} further blocks of rows differ."


def _sentence(stream: Stream, seal: Seal, first: Place | None, now: int) -> str:
    what = str(stream.table._meta.verbose_name)
    when = f", in the order of {stream.moment}" if stream.moment else ""
    behind = f"behind id {first.id} " if first else ""
    on = day_told(localdate(seal.sealed_at))
    told = (
        f"{now:,} rows, where {seal.rows:,} were sealed on {on}."
        if now != seal.rows
        else f"one or more of {now:,} rows are not as they were sealed on {on}."
    )
    return f"{what.capitalize()} {behind}up to id {seal.last_id}{when}: {told}"


def files_are_as_stored(night: int | None = None) -> Iterator[str]:
    """Documents, frozen files and plan documents are what their hashes say."""
    for what, storage, rows in (
        ("Uploaded", "default", _uploaded().values_list("title", "file", "file_sha256")),
        ("Document", "default", _documents(night)),
        ("Filed", "frozen", _all(SubmissionFile, "kind", "path", "sha256")),
        ("Plan", "frozen", _all(PlanDocument, "number", "path", "sha256")),
        ("Letters", "frozen", _letters()),
    ):
        wrong = [
            f"{what} {name} ({path}): {fault}"
            for name, path, sha256 in rows
            if (fault := _fault(KeptFile(path, storage), sha256))
        ]
        yield from wrong[:SHOWN]
        if len(wrong) > SHOWN:
            yield f"{what}: {len(wrong) - SHOWN:,} further files."


def _all(table: type[Model], *columns: str) -> Iterator[tuple]:
    return table._base_manager.order_by("pk").values_list(*columns).iterator()


def _documents(night: int | None) -> Iterator[tuple]:
    rows = Document.objects.order_by("pk").values_list("name", "file", "sha256")
    last = Document.objects.aggregate(last=Max("pk"))["last"] or 0
    for part in tonight(last + 1, DOCUMENTS_A_NIGHT, night):
        yield from rows.filter(pk__gte=part.start, pk__lt=part.stop).iterator()


def _uploaded() -> QuerySet:
    """The batches whose file is kept."""
    return Batch.objects.exclude(file="").exclude(file_sha256="").order_by("pk")


def _letters() -> Iterator[tuple]:
    """Yield kind, path and SHA-256 of every file of letters that is kept."""
    printed = NoticeBatch.objects.exclude(batch=None).order_by("pk")
    for kind, folder, files in printed.values_list("kind", "batch_id", "files"):
        for file in files:
            yield kind, f"letters/{folder}/{file['name']}", file["sha256"]


def _fault(kept: KeptFile, sha256: str) -> str:
    try:
        same = sha256_of(kept) == sha256
    except OSError:
        return "its file is missing. Restore it from a back-up."
    return "" if same else "its file was altered. Restore it from a back-up."
