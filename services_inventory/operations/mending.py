"""Held rows mended in place: what was typed is kept, read again, and taken in as a file."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from django.db import transaction

from services_inventory.refused import Refused

from ..intake.held import APPENDED, APPENDED_OTHERWISE, own_headings, typed_text
from ..intake.reading import Table, open_table
from ..models import Batch, HeldRow
from ..queries.held import (
    LEFT_OUT,
    held_checker,
    held_open,
    held_problems,
    left_out_acts,
    rows_file,
)
from .batches import batch_open, batch_queue

MOST_AT_ONCE, AT_ONCE = 20_000, 5_000
LONGEST = 2_000
NAMES_SHOWN = 5
# What a file of some of a batch's rows is read by, as the batch itself was.
CARRIED = ("columns", "source", "sheet", "layer", "true_since")


@transaction.atomic
def held_mend(
    *,
    batch: Batch,
    typed: Mapping[int, Mapping[int, str]],
    seen: datetime | None,
    by: str,
    at: datetime,
) -> int:
    """Keep what was typed into held rows; return how many differ from before.

    Parameters
    ----------
    typed : {row: {place of the cell: text}}; a cell as it came is not kept as mended
    seen : when the page that it was typed on was made

    Raises
    ------
    Refused: somebody else mended one of the rows meanwhile, or a text is too long.
    """
    changed = []
    for row in held_open(batch).filter(row_number__in=typed):
        mended = _differing(row, typed[row.row_number])
        if mended == (row.mended or {}):
            continue
        if seen and row.mended_at and row.mended_at > seen and row.mended_by != by:
            raise Refused(
                f"{row.mended_by} mended row {row.row_number} meanwhile. What you typed is still "
                "here: compare it with theirs on a page loaded anew, then keep it again."
            )
        row.mended, row.mended_by, row.mended_at = mended or None, by, at
        if not mended:
            row.mended_by, row.mended_at = "", None
        changed.append(row)
    HeldRow.objects.bulk_update(changed, ["mended", "mended_by", "mended_at"], batch_size=500)
    return len(changed)


def _differing(row: HeldRow, typed: Mapping[int, str]) -> dict[str, str]:
    """Return what was typed instead of the row's own cells, with what was typed earlier."""
    mended = dict(row.mended or {})
    for at, text in typed.items():
        if len(text) > LONGEST:
            raise Refused(
                f"Row {row.row_number}: a text of {len(text):,} characters is longer than a cell "
                f"may be ({LONGEST:,}). Nothing was kept."
            )
        came = typed_text(row.cells[at]) if at < len(row.cells) else ""
        mended.pop(str(at), None)
        if text != came:
            mended[str(at)] = text
    return mended


def held_replace(
    *, batch: Batch, rows: list[int], at_place: int, old: str, new: str, by: str, at: datetime
) -> int:
    """Put a text for another into one column of many held rows; return how many had it.

    Raises
    ------
    Refused: none of them has it.
    """
    typed = {}
    for row in held_open(batch).filter(row_number__in=rows):
        mended = (row.mended or {}).get(str(at_place))
        cell = row.cells[at_place] if at_place < len(row.cells) else None
        if (typed_text(cell) if mended is None else mended).strip() == old.strip():
            typed[row.row_number] = {at_place: new}
    if not typed:
        raise Refused(f"No row of this reason has “{old[:60]}” in that column.")
    return held_mend(batch=batch, typed=typed, seen=None, by=by, at=at)


def held_upload(*, batch: Batch, path: Path, by: str, at: datetime) -> dict[str, int]:
    """Keep what was corrected in the downloaded file of held rows, as if typed on the page.

    Returns
    -------
    dict
        `mended` rows, and `others`: rows of the file that wait no longer, or never did.

    Raises
    ------
    Refused: it is no file of this batch's held rows.
    UnreadableFile: it is no table.
    """
    waiting = set(held_open(batch).values_list("row_number", flat=True))
    if not waiting:
        raise Refused("No row of this batch waits.")
    theirs, (ours, _) = open_table(path), held_checker(batch)
    number_at, places = _places(theirs, ours)
    typed: dict[int, dict[int, str]] = {}
    others = 0
    for _, cells in theirs.rows():
        given = typed_text(cells[number_at]) if number_at < len(cells) else ""
        if not given.isdecimal() or int(given) not in waiting:
            others += 1
            continue
        typed[int(given)] = {
            at: typed_text(cells[place]) if place < len(cells) else ""
            for place, at in places.items()
        }
    if not typed:
        raise Refused(
            "None of its rows waits in this batch. Upload the file that was downloaded here."
        )
    mended = held_mend(batch=batch, typed=typed, seen=None, by=by, at=at)
    return {"mended": mended, "others": others}


def _places(theirs: Table, ours: Table) -> tuple[int, dict[int, int]]:
    """Return where their file has the row's number, and {their place: our place} of each cell."""
    own, _ = own_headings(ours.header)
    names = [heading.casefold() for heading in theirs.header]
    number = APPENDED_OTHERWISE[0] if APPENDED_OTHERWISE[0] in names else APPENDED[0]
    lacking = [heading for heading in own if heading.casefold() not in names]
    if number not in names or lacking:
        told = ("s " if len(lacking) > 1 else " ") + (", ".join(lacking[:NAMES_SHOWN]) or number)
        raise Refused(
            f"The file lacks the column{told} of the download, so nobody can tell which row "
            "is which. Correct the cells of the downloaded file and leave its headings."
        )
    return names.index(number), {
        names.index(heading.casefold()): at for at, heading in enumerate(own)
    }


@transaction.atomic
def held_leave_out(*, batch: Batch, rows: list[int], reason: str, by: str, at: datetime) -> int:
    """Set waiting rows aside for a reason, so that nobody has to mend them; return how many.

    Raises
    ------
    Refused: no reason is given, none of the rows waits, or the file itself was not taken in yet.
    """
    batch = Batch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    if batch.state != Batch.State.APPLIED:
        raise Refused("Take the file itself in first; none of these rows goes in with it.")
    if not reason.strip():
        raise Refused("Say why they are left out; the reason stays with them.")
    waiting = [row.pk for row in held_open(batch) if row.row_number in set(rows)]
    if not waiting:
        raise Refused("None of the rows waits. Mark rows in the table.")
    for start in range(0, len(waiting), MOST_AT_ONCE):
        HeldRow.objects.filter(pk__in=waiting[start : start + MOST_AT_ONCE]).update(
            left_out_why=reason.strip()[:300], left_out_by=by, left_out_at=at
        )
    _count_left_out(batch)
    return len(waiting)


@transaction.atomic
def held_bring_back(*, batch: Batch, act: str) -> int:
    """Let rows wait again that were left out in one act (`left_out_acts`); return how many.

    Raises
    ------
    Refused: they wait already.
    """
    batch = Batch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    acts = {one["key"]: one for one in left_out_acts(batch)}
    if act not in acts:
        raise Refused("Those rows were brought back already.")
    of_act = {name: acts[act][name] for name in LEFT_OUT}
    back = batch.held_rows.filter(**of_act).update(
        left_out_why="", left_out_by="", left_out_at=None
    )
    _count_left_out(batch)
    return back


def _count_left_out(batch: Batch) -> None:
    """Keep the totals: rows = new + changed + unchanged + held + left out."""
    left_out = batch.held_rows.filter(left_out_at__isnull=False).count()
    both = batch.counts["held"] + batch.counts.get("left_out", 0)
    batch.counts = {**batch.counts, "held": both - left_out, "left_out": left_out}
    batch.save(update_fields=["counts"])


@transaction.atomic
def mended_take_in(*, batch: Batch, by: str, at: datetime) -> tuple[Batch, int, int]:
    """Hand the mended rows that can be read to the worker, as a file read like the batch's.

    Returns
    -------
    tuple
        The batch, how many rows it has, and how many mended rows still can't be read.

    Raises
    ------
    Refused: the batch itself was not taken in yet, or no mended row can be read.
    """
    batch = Batch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    if batch.state != Batch.State.APPLIED:
        raise Refused("Take the file itself in first. What was mended is kept until then.")
    rows = list(held_open(batch).filter(mended__isnull=False)[:MOST_AT_ONCE])
    if not rows:
        raise Refused("No row was mended yet. Correct cells, and keep them.")
    table, checker = held_checker(batch)
    wrong = held_problems(checker, table, rows)
    good = [row for row in rows if not any(one.held for one in wrong.get(row.row_number, ()))]
    if not good:
        raise Refused("No mended row can be read yet; what is wrong stands at its cells.")
    made = rows_take_in(
        batch=batch, rows={row.row_number: "mended" for row in good}, ending="mended", by=by,
        at=at, mended={row.row_number: row.mended for row in good},
    )  # fmt: skip
    return made, len(good), len(rows) - len(good)


def rows_take_in(
    *,
    batch: Batch,
    rows: dict[int, str],
    ending: str,
    by: str,
    at: datetime,
    mended: dict | None = None,
) -> Batch:
    """Hand some rows of a batch's file to the worker, read as the batch was; they wait no longer.

    Parameters
    ----------
    rows : number of each row, with a word why it comes again
    mended : {row: {place: text}} typed instead of its cells
    """  # fmt: skip
    parameters = {name: batch.parameters[name] for name in CARRIED if batch.parameters.get(name)}
    if columns := batch.result.get("columns"):
        parameters["columns"] = columns
    path = rows_file(batch, rows, ending, mended)
    if path.suffix != ".xlsx":  # rows of a layer come as text, which has none
        parameters = {key: parameters[key] for key in parameters.keys() - {"sheet", "layer"}}
    path = path.rename(path.with_stem(f"{Path(batch.file_name).stem[:200]}-{ending}"))
    try:
        made = batch_open(kind="INTAKE", by=by, at=at, file=path, parameters=parameters)
    finally:
        path.unlink(missing_ok=True)
    numbers = sorted(rows)
    for start in range(0, len(numbers), AT_ONCE):
        some = numbers[start : start + AT_ONCE]
        batch.held_rows.filter(row_number__in=some).update(went_to=made)
    return batch_queue(batch=made, step="APPLY")
