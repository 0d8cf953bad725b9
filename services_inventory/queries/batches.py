"""Reading batches: how far one is, what it held back, which columns its file has."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import islice

from django.db.models import Q, QuerySet
from django.utils.formats import date_format
from django.utils.timezone import localdate, localtime

from .. import progress
from ..domain.columns import plain
from ..domain.days import day_told
from ..intake.columns import FIELDS, ColumnMap, guess
from ..intake.columns.making import SIGNS
from ..intake.preview import preview
from ..intake.reading import ReadApart, Table, open_table
from ..kept_files import local_path
from ..models import Batch, SavedColumns
from .own_words import CHOICES, own_words

SILENT_S = 60  # a worker reports every ten seconds while nothing keeps it
SAMPLE = 200
PREVIEWED = 10
MOST_SAVED = 200
FEWEST_NAMED = 3  # columns that a saved map must find in a file with other headings
SHOWN_KINDS = ("INTAKE", "BOUNDARIES", "DOCUMENTS", "INTAKE_UNDO", "RESTATE")


def batches_shown(limit: int = 60) -> list[Batch]:
    """Return the latest batches of the inventory, newest first."""
    return list(
        Batch.objects.filter(kind__in=SHOWN_KINDS)
        .select_related("withdrawn_by")
        .order_by("-id")[:limit]
    )


def batches_waiting(day: date) -> QuerySet[Batch]:
    """Return what a worker may take up on a day: queued, and not for a later day."""
    of_today = Q(parameters__not_before__isnull=True) | Q(
        parameters__not_before__lte=day.isoformat()
    )
    return Batch.objects.filter(of_today, state=Batch.State.QUEUED)


def batch_progress(batch: Batch, at: datetime) -> dict:
    """Return how far a batch is at a moment: {done, total, percent, left, message}."""
    note = progress.read(batch.pk) if batch.is_running else None
    done, total = (note["done"], note["total"]) if note else (batch.done, batch.total)
    percent = min(99, int(100 * done / total)) if total else 0
    message = note["message"] if note else batch.message
    later = batch.parameters.get("not_before", "") > localdate(at).isoformat()
    if batch.state == Batch.State.QUEUED and not later:
        message = _waits_for()
    return {
        "done": done,
        "total": total,
        "percent": percent if batch.is_running else batch.percent,
        "left": _left_told(progress.seconds_left(note)) if note else "",
        "message": message,
        "who": _who(batch) if batch.is_running and batch.held_by else "",
    }


def _who(batch: Batch) -> str:
    """Say which worker has a batch, and since when."""
    since = f" since {date_format(localtime(batch.started_at), 'TIME_FORMAT')}"
    return f"{batch.held_by}{since if batch.started_at else ''}"


def _left_told(seconds: float | None) -> str:
    """Say how long is left, no closer than anybody can know.

    >>> [_left_told(seconds) for seconds in (20, 70, 400, 9000)]
    ['under a minute left', 'about 1 minute left', 'about 7 minutes left', 'about 2.5 hours left']
    """
    if seconds is None:
        return ""
    if seconds < 60:
        return "under a minute left"
    minutes = round(seconds / 60)
    if minutes < 90:
        return f"about {minutes} minute{'' if minutes == 1 else 's'} left"
    return f"about {minutes / 60:.1f} hours left"


def _waits_for() -> str:
    """Say which workers are there and which fell silent, each with since when."""
    running = Batch.objects.filter(state__in=(Batch.State.APPLYING, Batch.State.CHECKING))
    busy = list(running.exclude(held_by="").order_by("started_at"))
    held = {one.held_by for one in busy}
    known = {name: note for name, note in progress.workers().items() if name not in held}
    there, gone = [], []
    for name, note in known.items():
        if not progress.silent(note, SILENT_S) and not note.get("ended"):
            there.append(f"{name}, there since {_moment(note['since'])}")
        elif not note.get("ended"):
            gone.append(f"{name} has not reported since {_moment(note['at'])}")
    if there:
        return ". ".join([f"Waits for the next worker: {'; '.join(there)}", *gone]) + "."
    if busy:
        one = busy[0]
        first = f"Waits for its turn: the worker {_who(one)} is at “{one.title or one}”"
        return ". ".join([first, *gone]) + "."
    since = "ever reported"
    if known:
        last = max(known, key=lambda name: known[name]["at"])
        since = f"reported since {_moment(known[last]['at'])} (the last was {last})"
    return (
        f"No worker has {since}, so nothing runs yet. Ask whoever runs the program to start one: "
        "manage.py serve starts both, manage.py worker the worker alone."
    )


def _moment(seconds: float) -> str:
    """Say when that was, given in seconds since the epoch."""
    return date_format(localtime(datetime.fromtimestamp(seconds, UTC)), "DATETIME_FORMAT")


def header_sha256(header: list[str], sheet: str = "") -> str:
    """Return what a saved column map is found by: the headings in their order, and the sheet."""
    said = json.dumps([header, sheet] if sheet else header)
    return hashlib.sha256(said.encode()).hexdigest()


def table_of(batch: Batch, sheet: str = "") -> ReadApart:
    """Open the batch's file, or another sheet of it; raises `UnreadableFile`."""
    return open_table(
        local_path(batch.file),
        sheet=sheet or batch.parameters.get("sheet") or None,
        layer=batch.parameters.get("layer") or None,
    )


def columns_of(
    batch: Batch, as_of: date, sheet: str = "", sent: Mapping[str, str] | None = None
) -> dict:
    """Return what the columns page shows: each heading, samples, the field guessed or saved.

    What was `sent` by the form stands in its place, where it was refused.

    Raises
    ------
    UnreadableFile: the file cannot be opened as a table.
    """
    table = table_of(batch, sheet)
    rows_read = list(islice(table.rows(), SAMPLE))
    sample = [cells for _, cells in rows_read]
    chosen, origin, why = map_of(batch, table, sample)
    rows, same = _column_rows(table.header, sample, chosen), same_fields(chosen)
    for row in rows if sent else ():
        at = row["position"]
        keys = (("field", "column"), ("second", "second"), ("sign", "sign"))
        row |= {key: (sent or {}).get(f"{name}-{at}", "") for key, name in keys}
    for one in same if sent else ():
        one["value"] = (sent or {}).get(f"same-{one['key']}", "")
    return {
        "table": table, "map": chosen, "origin": why or ORIGINS[origin],
        "date_order": (sent or {}).get("date_order", chosen.date_order), "rows": rows,
        "fields": [(field.key, field.label) for field in FIELDS.values()],
        "same": same, "says_same": any(one["value"] for one in same), "signs": SIGNS.items(),
        "preview": preview(table.header, rows_read[:PREVIEWED], chosen, as_of, own_words),
        "sample": json.dumps(
            [[row, list(map(_plain, cells))] for row, cells in rows_read[:PREVIEWED]]
        ),
        "header": json.dumps(table.header),
    }  # fmt: skip


ORIGINS = {"given": "as you set them", "guessed": "guessed from headings and content"}
# What can be said for the whole file, with the kind of the words that are offered.
SAME = ("source", "system_basis", "customer_basis", "observed_on", "city", "premise_kind",
        "line_use", "neighborhood")  # fmt: skip


def other_sheets(batch: Batch) -> list[tuple[str, int | None]]:
    """Return the other sheets of a workbook, each with the batch that took it in, or None."""
    names = batch.result.get("sheets", ())
    same = Batch.objects.filter(
        kind="INTAKE", state=Batch.State.APPLIED, file_sha256=batch.file_sha256
    ).values_list("pk", "result__sheets")
    read = list(same) if names else ()
    return [
        (name, next((pk for pk, others in read if name not in (others or ())), None))
        for name in names
    ]


def map_of(batch: Batch, table: Table, sample: list | None = None) -> tuple[ColumnMap, str, str]:
    """Return a file's map, whether it is given, saved or guessed, and more words on that."""
    asked = batch.parameters.get("sheet") or table.sheet
    if (given := batch.parameters.get("columns")) and asked == table.sheet:
        return ColumnMap.from_dict(given), "given", ""
    if sample is None:
        sample = [cells for _, cells in islice(table.rows(), SAMPLE)]
    guessed = guess(table.header, sample)
    saved = _saved_for(table)
    if saved is None:
        return guessed, "guessed", ""
    found = ColumnMap.from_dict(saved.columns)
    when, known = day_told(localdate(saved.saved_at)), set(map(plain, saved.headings))
    why = f"as {saved.saved_by} saved them on {when}"
    taken = {*found.made, *(column.field for column in found.columns)}
    added = tuple(
        column for column in guessed.columns
        if plain(column.heading) not in known and column.field not in taken
    ) if known else ()  # fmt: skip
    if added:
        why += f"; new since: {', '.join(column.heading for column in added)} (guessed)"
    return replace(found, columns=(*found.columns, *added)), "saved", why


def _saved_for(table: Table) -> SavedColumns | None:
    """Return the map saved for these headings, or the latest that names none but these."""
    for sheet in {table.sheet, ""}:
        key = header_sha256(table.header, sheet)
        if exact := SavedColumns.objects.filter(header_sha256=key).first():
            return exact
    there = set(map(plain, table.header))
    found = [
        (saved.sheet == table.sheet, len(named), saved.saved_at, saved)
        for saved in SavedColumns.objects.order_by("-saved_at")[:MOST_SAVED]
        if saved.columns
        and len(named := ColumnMap.from_dict(saved.columns).headings()) >= FEWEST_NAMED
        and named <= there
    ]
    return max(found, key=lambda one: one[:3])[3] if found else None


def _column_rows(header: list[str], sample: list, chosen: ColumnMap) -> list[dict]:
    fields = {column.heading: column for column in chosen.columns}
    hints, made = dict(chosen.unmapped), _made_of_headings(chosen)
    return [
        {
            "heading": heading,
            "position": at,
            "samples": _samples(sample, at),
            "field": made.get(heading, {}).get(
                1, fields[heading].field if heading in fields else ""
            ),
            "second": made.get(heading, {}).get(2, ""),
            "sign": made.get(heading, {}).get("at", ""),
            "why": fields[heading].why if heading in fields else hints.get(heading, ""),
        }
        for at, heading in enumerate(header)
    ]


def _made_of_headings(chosen: ColumnMap) -> dict[str, dict]:
    """Return what each heading is split into, or joined to."""
    found: dict[str, dict] = {}
    for field, way in chosen.made.items():
        for heading in way.get("join", ()):
            found.setdefault(heading, {})[1] = field
        if "split" in way:
            found.setdefault(way["split"], {"at": way["at"]})[way["part"]] = field
    return found


def same_fields(chosen: ColumnMap) -> list[dict]:
    """Return what can be said for the whole file, with what was said and the words offered."""
    return [
        {
            "key": key,
            "label": FIELDS[key].label,
            "value": chosen.made.get(key, {}).get("same", ""),
            "choices": [label for _, label in CHOICES.get(FIELDS[key].kind.value, ())],
            "is_day": FIELDS[key].kind.value == "DATE",
        }
        for key in SAME
    ]


def _plain(cell):
    return cell if isinstance(cell, str | int | float | None) else str(getattr(cell, "why", cell))


def _samples(sample: list, at: int, most: int = 3) -> list[str]:
    seen = []
    for cells in sample:
        value = str(cells[at]).strip() if at < len(cells) and cells[at] is not None else ""
        if value and value not in seen:
            seen.append(value[:60])
        if len(seen) == most:
            break
    return seen
