"""The rows of a batch that were not taken in: by reason, as a table to mend, and as a file."""

from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.db.models import Q, QuerySet
from django.utils.timezone import localdate

from ..intake.checking import RowChecker, RowProblem
from ..intake.columns import ColumnMap, made_of
from ..intake.held import alike, held_name, mended_cells, typed_text, write_held
from ..intake.reading import Table
from ..models import Batch, HeldRow
from .batches import table_of
from .own_words import own_words

ROWS_SHOWN = 50
MOST_INPUTS = 2_000
ENDED_WITHOUT = ("REFUSED", "STOPPED", "WITHDRAWN")
_WAITS = Q(went_to=None) | Q(went_to__state__in=ENDED_WITHOUT)
_WAITS &= Q(left_out_at=None)


def held_open(batch: Batch) -> QuerySet[HeldRow]:
    """Return the held rows that still wait; those that went on in vain wait again."""
    return batch.held_rows.filter(_WAITS).order_by("row_number")


def held_everywhere() -> QuerySet[HeldRow]:
    """Return the held rows that still wait, of all files that are taken in."""
    return HeldRow.objects.filter(_WAITS, batch__kind="INTAKE", batch__state="APPLIED")


@dataclass
class HeldGroup:
    """Rows held for one reason, whatever their values are; `why` is the first row's sentence."""

    key: str
    why: str
    rows: list[int] = field(default_factory=list)
    mended: int = 0


def held_groups(batch: Batch) -> list[HeldGroup]:
    """Return the rows that still wait by reason, the most first."""
    found: dict[str, HeldGroup] = {}
    waiting = held_open(batch).values_list("row_number", "reason", "mended_at")
    for row, reason, mended_at in waiting.iterator():
        same = alike(reason)
        if same not in found:
            found[same] = HeldGroup(sha256(same.encode()).hexdigest()[:16], reason)
        found[same].rows.append(row)
        found[same].mended += mended_at is not None
    return sorted(found.values(), key=lambda group: -len(group.rows))


LEFT_OUT = ("left_out_at", "left_out_by", "left_out_why")


def left_out_acts(batch: Batch) -> list[dict]:
    """Return what was left out of a batch, act by act, the latest first, with its row numbers."""
    acts: dict[tuple, dict] = {}
    rows = batch.held_rows.filter(left_out_at__isnull=False).order_by("row_number")
    for row, *said in rows.values_list("row_number", *LEFT_OUT):
        key = sha256(repr(said).encode()).hexdigest()[:16]
        act = dict(zip(LEFT_OUT, said, strict=True)) | {"key": key, "rows": []}
        acts.setdefault(key, act)["rows"].append(row)
    return sorted(acts.values(), key=lambda act: act["left_out_at"], reverse=True)


def held_table(batch: Batch, rows: list[int], *, whole: bool) -> dict:
    """Return held rows as a table to mend, each cell with what is wrong with it.

    Parameters
    ----------
    rows : the numbers of the rows of one reason, from the first that is shown
    whole : all columns, not only those that are taken in or complained of

    Raises
    ------
    UnreadableFile, BadColumnMap: the file can't be read any more, or not with its columns.
    """
    table, checker = held_checker(batch)
    some = list(held_open(batch).filter(row_number__in=rows[:ROWS_SHOWN]))
    problems = held_problems(checker, table, some)
    at_of = {heading: at for at, heading in enumerate(table.header)}
    complained = {at_of[one.column] for of_row in problems.values() for one in of_row
                  if one.column in at_of}  # fmt: skip
    taken = checker.used
    others = (at for at in range(len(table.header)) if whole or at in taken)
    shown = list(dict.fromkeys([*sorted(complained), *others]))  # what is wrong comes first
    some = some[: max(1, MOST_INPUTS // max(len(shown), 1))]
    return {
        "header": [(at, table.header[at]) for at in shown],
        "left_out": len(table.header) - len(shown),
        "rows": [_row(one, problems.get(one.row_number, []), table, shown) for one in some],
        "last": some[-1].row_number if some else None,
        "more": len(rows) - len(some),
    }


def _row(one: HeldRow, problems: list[RowProblem], table: Table, shown: list[int]) -> dict:
    """Return a row as the page writes it; what names no column stands beside its number."""
    cells = mended_cells(one.cells, one.mended, len(table.header))
    of_cell: dict[str, list[str]] = {}
    for problem in problems:
        of_cell.setdefault(problem.column, []).append(problem.sentence)
    of_row = [s for column, said in of_cell.items() if column not in table.header for s in said]
    if not problems:
        of_row = [] if one.mended else [one.reason]
    return {
        "number": one.row_number,
        "of_row": " ".join(of_row),
        "mended": one.mended_at,
        "reads": bool(one.mended) and not problems,
        "cells": [
            {
                "at": at,
                "heading": table.header[at],
                "text": typed_text(cells[at]) if at < len(cells) else "",
                "wrong": " ".join(of_cell.get(table.header[at], ())),
                "typed": str(at) in (one.mended or {}),
            }
            for at in shown
        ],
    }


def held_checker(batch: Batch) -> tuple[Table, RowChecker]:
    """Return the batch's file and what checks its rows, as the batch itself was read."""
    table = table_of(batch)
    columns = ColumnMap.from_dict(batch.result["columns"])
    moment = batch.result.get("recorded_at")
    as_of = localdate(datetime.fromisoformat(moment) if moment else batch.created_at)
    own = own_words(made_of(columns, table.header).header)
    return table, RowChecker(columns, table.header, as_of=as_of, own=own)


def held_problems(
    checker: RowChecker, table: Table, rows: list[HeldRow]
) -> dict[int, list[RowProblem]]:
    """Return what is wrong with rows as they were mended, by their numbers."""
    width = len(table.header)
    given = [(row.row_number, mended_cells(row.cells, row.mended, width)) for row in rows]
    found: dict[int, list[RowProblem]] = {}
    for problem in checker.check_many(given).problems if given else ():
        found.setdefault(problem.row_number, []).append(problem)
    return found


def held_file(batch: Batch, *, left_out: bool = False) -> Path | None:
    """Write the rows of a batch that wait beside the data and return where; None if there are none.

    What was mended on the page stands in it as it was typed. Those that were left out are a file
    of their own, with the reason for that.
    """
    rows = batch.held_rows.exclude(left_out_at=None) if left_out else held_open(batch)
    why = "left_out_why" if left_out else "reason"
    reasons, mended = {}, {}
    for row, reason, typed in rows.values_list("row_number", why, "mended"):
        reasons[row] = reason
        if typed:
            mended[row] = typed
    return rows_file(batch, reasons, batch.file_name, mended) if reasons else None


def rows_file(batch: Batch, reasons: dict[int, str], name: str, mended: dict | None = None) -> Path:
    """Write these rows of a batch's file, each with its reason, and return where."""
    table = table_of(batch)
    folder = Path(settings.DATA_DIR) / "held" / str(batch.pk)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / held_name(table, name)
    write_held(table, reasons, path, mended)
    return path
