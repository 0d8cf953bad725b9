"""Photographs and scans of cards, attached to many lines at once by a list in a zip."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import accumulate, groupby
from pathlib import PurePosixPath
from tempfile import NamedTemporaryFile

from django.conf import settings
from django.db import transaction

from services_inventory.refused import Refused

from ..apart import Apart
from ..domain.addresses import normalize
from ..domain.content_types import content_type_of
from ..domain.reporting import Report
from ..intake.held import typed_text
from ..intake.photographs import MOST_BYTES, contents, read_files
from ..intake.reading import UnreadableFile, open_table
from ..intake.telling import held_by
from ..kept_files import local_path
from ..models import Batch, Document, HeldRow, LineDocument, ServiceLine
from ..today import now
from .documents import NewFile, documents_store

KIND = "DOCUMENTS"
ALLOWED = ("application/pdf", "image/heic", "image/jpeg", "image/png")
HEADINGS = {
    "line": ("line", "location id", "location", "address", "premise", "service no"),
    "file": ("file", "file name", "filename", "photo", "picture", "scan", "document"),
    "page": ("page", "pages", "page no"),
}
BYTES_AT_ONCE, FILES_AT_ONCE = 64 * 1024**2, 50
ASKED_AT_ONCE = 500
SHOWN = 50
MOST_ROWS = 100_000


Files = dict[str, tuple[int, bytes]]  # of the zip: how large, and how each begins


@dataclass(frozen=True)
class Named:
    """A row of the list that can be done: which line, which file of the zip, which page."""

    row: int
    line: int
    file: str
    page: int | None


def documents_run(*, batch: Batch, report: Report) -> None:
    """Check or apply a zip of pictures, as the batch's parameter `step` says.

    Raises
    ------
    Refused: the zip or its list can't be used; nothing was attached.
    """
    path = local_path(batch.file)
    with transaction.atomic(), Apart(UnreadableFile) as process:
        listed, files = process.call(contents, path)
        rows = _rows(listed)
        named, held = _understood(rows, files)
        report(1, 2)
        if batch.parameters.get("step") == "CHECK":
            batch.state = Batch.State.CHECKED
        else:
            _attach(batch, process, named, files, report)
            batch.state = Batch.State.APPLIED
        _told(batch, rows, named, held, files)


def _rows(listed: bytes) -> list[tuple[int, list[str]]]:
    """Return the rows of the list: [line, file, page] as text."""
    with NamedTemporaryFile(dir=settings.FILE_UPLOAD_TEMP_DIR) as copy:
        copy.write(listed)
        copy.flush()
        table = open_table(copy.name)
        names = [heading.casefold().replace("_", " ").strip() for heading in table.header]
        places = {
            key: next((names.index(one) for one in words if one in names), None)
            for key, words in HEADINGS.items()
        }
        lacking = [key for key in ("line", "file") if places[key] is None]
        if lacking:
            raise UnreadableFile(
                f"The list in the zip lacks the column {lacking[0]}. Its columns are line (the "
                "location id or the address), file, and page."
            )
        rows = [(row, [_cell(cells, at) for at in places.values()]) for row, cells in table.rows()]
    if not 0 < len(rows) <= MOST_ROWS:
        raise UnreadableFile(f"The list in the zip has {len(rows):,} rows; 1 to {MOST_ROWS:,} go.")
    return rows


def _cell(cells: list, at: int | None) -> str:
    return typed_text(cells[at]).strip() if at is not None and at < len(cells) else ""


def _understood(rows, files: Files) -> tuple[list[Named], dict[int, str]]:
    """Find the line and the file of each row; say of each other why it can't be done."""
    lines, by_name = _lines({cells[0] for _, cells in rows}), _by_name(files)
    named, held, seen = [], {}, set()
    for row, (place, file, page) in rows:
        try:
            found = Named(row, _line(place, lines), _file(file, by_name, files), _page(page))
        except Refused as error:
            held[row] = str(error)
            continue
        key = (found.line, found.file, found.page)
        if key in seen:
            held[row] = "The same line, file and page stand in an earlier row."
        else:
            seen.add(key)
            named.append(found)
    return named, held


def _lines(given: set[str]) -> dict[str, list[int]]:
    """Return the lines that each text names: by identifier, else by address."""
    found: dict[str, list[int]] = {}
    live = ServiceLine.objects.filter(category__isnull=False)
    texts = sorted(given - {""})
    for start in range(0, len(texts), ASKED_AT_ONCE):
        some = texts[start : start + ASKED_AT_ONCE]
        for pk, name in live.filter(location_id__in=some).values_list("pk", "location_id"):
            found.setdefault(name, []).append(pk)
        keys: dict[str, list[str]] = {}
        for text in some:
            if text not in found and (key := normalize(text).key):
                keys.setdefault(key, []).append(text)
        at = live.filter(premise__address_key__in=keys)
        for pk, key in at.values_list("pk", "premise__address_key"):
            for text in keys[key]:
                found.setdefault(text, []).append(pk)
    return found


def _line(place: str, lines: dict[str, list[int]]) -> int:
    found = lines.get(place, [])
    if len(found) == 1:
        return found[0]
    if not place:
        raise Refused("No line is named. Write its location id or address.")
    if found:
        raise Refused(
            f"{place[:80]} has {len(found)} lines. Write the location id of the one that is shown."
        )
    raise Refused(f"{place[:80]} is not in the record. Correct it, or take the line in.")


def _by_name(files: Files) -> dict[str, list[str]]:
    """Return the files by their whole path and by their name alone, whatever letters' case."""
    found: dict[str, list[str]] = {}
    for path in files:
        for name in {path.casefold(), PurePosixPath(path).name.casefold()}:
            found.setdefault(name, []).append(path)
    return found


def _file(given: str, by_name: dict[str, list[str]], files: Files) -> str:
    found = by_name.get(given.replace("\\", "/").casefold(), [])
    if not given:
        raise Refused("No file is named.")
    if len(found) != 1:
        many = "is in the zip more than once; write its folder too" if found else "isn’t in the zip"
        raise Refused(f"{given[:80]} {many}.")
    size, head = files[found[0]]
    if size > MOST_BYTES:
        raise Refused(f"{given[:80]} is larger than {MOST_BYTES // 1024**2} MB.")
    if content_type_of(head) not in ALLOWED:
        raise Refused(f"{given[:80]} is no JPEG, PNG, HEIC or PDF, whatever its name says.")
    return found[0]


def _page(given: str) -> int | None:
    if not given:
        return None
    if not (given.isascii() and given.isdecimal() and 0 < int(given) < 10_000):
        raise Refused(f"The page “{given[:20]}” is no number from 1 to 9999.")
    return int(given)


def _told(batch, rows, named: list[Named], held: dict[int, str], files: Files) -> None:
    """Keep counts, what is held, and the first of what is attached."""
    HeldRow.objects.filter(batch=batch).delete()
    cells = dict(rows)
    HeldRow.objects.bulk_create(
        (HeldRow(batch=batch, row_number=row, reason=why, cells=cells[row])
         for row, why in sorted(held.items())),
        batch_size=2_000,
    )  # fmt: skip
    used = {one.file for one in named}
    lines = ServiceLine.objects.select_related("premise").in_bulk(
        {one.line for one in named[:SHOWN]}
    )
    batch.counts = {
        "attached": len(named), "held": len(held), "total": len(rows), "files": len(used),
        "lines": len({one.line for one in named}),
    }  # fmt: skip
    batch.result = {
        "held_by": held_by(held),
        "unused": sorted(files.keys() - used)[:SHOWN],
        "unused_number": len(files.keys() - used),
        "shown": [
            {"row": one.row, "line": one.line, "file": one.file, "page": one.page,
             "place": lines[one.line].premise.address or lines[one.line].location_id}
            for one in named[:SHOWN]
        ],
    }  # fmt: skip
    batch.save()


def _attach(batch, process: Apart, named: list[Named], files, report: Report) -> None:
    """Keep each file once, and attach it to the lines that the list names."""
    documents: dict[str, Document] = {}
    wanted = sorted({one.file for one in named})
    for names in _at_once(wanted, files):
        read = process.call(read_files, local_path(batch.file), names)
        new = [NewFile(content, name, "SCAN") for name, content in zip(names, read, strict=True)]
        kept = documents_store(
            files=new, by=batch.requested_by, at=now(), allowed=ALLOWED, limit_bytes=MOST_BYTES
        )
        documents |= dict(zip(names, kept, strict=True))
        report(len(wanted) + len(documents), 2 * len(wanted))
    LineDocument.objects.bulk_create(
        (LineDocument(line_id=one.line, document=documents[one.file], page=one.page,
                      batch=batch, row_number=one.row) for one in named),
        batch_size=2_000,
    )  # fmt: skip


def _at_once(names: list[str], files: Files) -> Iterator[list[str]]:
    """Yield names in pieces that fit into memory together."""
    before = accumulate((files[name][0] for name in names), initial=0)
    pieces = zip(names, before, range(len(names)), strict=False)
    for _, some in groupby(pieces, lambda one: (one[1] // BYTES_AT_ONCE, one[2] // FILES_AT_ONCE)):
        yield [name for name, _, _ in some]


@transaction.atomic
def documents_take_back(*, batch: Batch, by: str, at: datetime) -> Batch:
    """Take all that a zip attached off its lines again; the files stay on record.

    Raises
    ------
    Refused: it attached nothing, or was taken back already.
    """
    batch = Batch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    if batch.kind != KIND or batch.state != Batch.State.APPLIED:
        raise Refused("Nothing of this batch is attached.")
    batch.state, batch.message = Batch.State.WITHDRAWN, f"Taken off its lines by {by}."
    batch.ended_at = at
    batch.save(update_fields=["state", "message", "ended_at"])
    return batch
