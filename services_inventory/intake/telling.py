"""What is told of a file that was checked or taken in: left out, lacking, held, doubtful."""

import json
from collections.abc import Iterator
from math import isfinite

from .applying import CORRECTED_TOLD
from .columns import FIELDS, ValueKind
from .held import alike, own_headings, storable
from .matching import ELSEWHERE

MOST_REASONS = 50
FEW = 5  # rows with identifiers of another kind, from which it is the column that is wrong
FIRST_VALUES = 3


def not_taken_in(job) -> list[str]:
    """Return the headings of the columns that are not taken in, whoever chose the others."""
    taken, (theirs, _) = job.checker.used, own_headings(job.table.header)
    return [
        storable(heading)
        for at, heading in enumerate(theirs)
        if at not in taken and heading.strip()
    ]


def left_values(job) -> dict[str, list[str]]:
    """Return the first values of each column that is not taken in."""
    taken, found = job.checker.used, {}
    for at, heading in enumerate(job.table.header):
        if at not in taken:
            cells = (cells[at] for cells in job.first_cells if at < len(cells))
            values = dict.fromkeys(str(cell)[:40] for cell in cells if cell not in (None, ""))
            found[storable(heading)] = [storable(one) for one in list(values)[:FIRST_VALUES]]
    return found


def lacking(job) -> Iterator[str]:
    """Say what the file, as it is understood, tells nothing of."""
    kinds = {FIELDS[field].kind for field in job.checker.positions}
    if not {ValueKind.MATERIAL, ValueKind.CONNECTOR} & kinds:
        yield "No column says what any pipe is made of: the file tells of places only."
    elif ValueKind.BASIS not in kinds and not job.batch.parameters.get("source"):
        yield (
            "Nothing in this file says how its materials are known, so nothing in it can become "
            "non-lead. Correct the columns: choose one for it, or say it for the whole file."
        )

    sides = {field.split("_")[0] for field in job.checker.positions if field.endswith("_material")}
    if "customer" in sides and "system" not in sides:
        yield (
            "No column says what the system side is made of, so this file by itself makes no line "
            "non-lead. Is it under another heading, or in another file?"
        )
    elsewhere = sum(ELSEWHERE in question.reason for question in job.questions)
    if elsewhere >= FEW and "location_id" in job.checker.positions:
        heading = job.checker.header[job.checker.positions["location_id"]]
        yield storable(
            f"{heading}: {elsewhere:,} rows give an identifier that the record doesn’t know, at an "
            "address that it knows. If it is the number of another system (an account, a meter), "
            "correct the columns: set it to “not taken in”, and rows are found by address."
        )
    if job.corrected:
        told = ", ".join(f"{name} in {_rows(rows)}" for name, rows in job.corrected)
        yield f"What is known of places is corrected: {told}."
    for name, rows in job.old_words.items():
        yield (
            f"{CORRECTED_TOLD[name].capitalize()}: {_rows(len(rows), 'repeats', 'repeat')} what "
            f"another source has corrected since, such as row {rows[0]}. The later word stands; "
            "where it is wrong, correct it on the page of its line."
        )
    if job.lookalikes:
        yield storable(job.lookalikes)
    for heading, rows in job.checker.not_shown.items():
        if rows:
            yield (
                f"{heading}: {_rows(rows, 'says', 'say')} no, which is not recorded: the word "
                "alone does not show that no earlier pipe was lead."
            )


def _rows(number: int, one: str = "", more: str = "") -> str:
    return f"{number:,} row{'' if number == 1 else 's'} {one if number == 1 else more}".rstrip()


def held_by(reasons: dict[int, str]) -> list[dict]:
    """Count held rows by why, whatever the values are; with the first rows of each."""
    found: dict[str, list[int]] = {}
    for row, why in sorted(reasons.items()):
        found.setdefault(alike(why), []).append(row)
    most = sorted(found.items(), key=lambda one: -len(one[1]))[:MOST_REASONS]
    return [
        {"why": storable(reasons[rows[0]]), "rows": len(rows), "first": rows[:5]}
        for _, rows in most
    ]


def doubtful(job) -> Iterator[str]:
    """Say of each column in how many rows its cell was left out of what was taken in."""
    for column, notes in job.doubts.items():
        yield (
            f"{column}: {_rows(len(notes), 'is', 'are')} taken in without what stands there, such "
            f"as row {notes[0].row_number}: {storable(notes[0].sentence)}"
        )


def keepable_json(found: list):
    return json.loads(storable(json.dumps(found, ensure_ascii=False)).replace("\\u0000", "?"))


def cells_as_json(cells: list) -> str:
    return json.dumps(list(map(_keepable, cells)))


def _keepable(cell):
    """A cell as JSON and both databases can hold it."""
    if isinstance(cell, str):
        return storable(cell)
    if cell is None or (isinstance(cell, int | float) and isfinite(cell)):
        return cell
    return storable(getattr(cell, "written", None) or str(cell))
