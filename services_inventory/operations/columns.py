"""Keeping a column map that a person corrected, for the next file with the same headings."""

import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.utils.timezone import localdate

from services_inventory.refused import Refused

from ..intake.checking import RowChecker
from ..intake.checking.words import READERS
from ..intake.columns import FIELDS, BadColumnMap, ColumnMap
from ..intake.columns.making import JOINED
from ..intake.preview import preview
from ..intake.reading import Table
from ..models import Batch, SavedColumns
from ..queries.batches import header_sha256
from ..queries.own_words import own_words
from .batches import batch_open_again

MOST_ROWS = 10


def columns_choose(
    *,
    batch: Batch,
    table: Table,
    chosen: Mapping[str, str],
    by: str,
    at: datetime,
) -> ColumnMap:
    """Set the batch's column map and remember it by the file's headings and its sheet.

    Parameters
    ----------
    batch : the intake batch the map is for
    table : the file
    chosen : what the form sent; see `columns_asked`
    by, at : who corrected it, and when

    Raises
    ------
    BadColumnMap: a field is chosen for two columns that can't be joined, or no column is chosen.
    """
    found = columns_asked(table.header, chosen)
    RowChecker(found, table.header, as_of=localdate(at))
    content = found.to_dict()
    SavedColumns.objects.update_or_create(
        header_sha256=header_sha256(table.header, table.sheet),
        defaults={
            "name": batch.file_name[:120], "columns": content, "headings": table.header,
            "sheet": table.sheet[:120], "saved_by": by, "saved_at": at,
        },
    )  # fmt: skip
    batch.parameters = {**batch.parameters, "columns": content, "sheet": table.sheet}
    batch.save(update_fields=["parameters"])
    return found


def sheet_open(*, batch: Batch, sheet: str, by: str, at: datetime) -> Batch:
    """Open another sheet of a workbook that was taken in, for its columns to be chosen.

    Raises
    ------
    Refused: the workbook has no such sheet besides, or its file is kept no more.
    """
    if sheet not in batch.result.get("sheets", ()):
        raise Refused("The workbook has no other sheet of that name.")
    if not batch.file or not batch.file.storage.exists(str(batch.file.name)):
        raise Refused("The workbook is kept no more. Upload it again.")
    kept = {name: batch.parameters.get(name) for name in ("source", "true_since")}
    return batch_open_again(batch=batch, parameters={**kept, "sheet": sheet}, by=by, at=at)


def columns_previewed(sent: Mapping[str, str], as_of: date) -> dict:
    """Return how the rows that a page sent back would be understood by its choices."""
    try:
        header, rows = json.loads(sent["header"]), json.loads(sent["sample"])
        if not all(isinstance(one, list) for one in (header, rows, *rows)):
            raise ValueError("no rows")
        given = [(int(number), list(cells)) for number, cells in rows]
        columns = columns_asked([str(heading) for heading in header], sent)
    except BadColumnMap as error:
        return {"problem": str(error), "rows": []}
    except (KeyError, ValueError, TypeError):
        return {"problem": "The page is out of date; load it again.", "rows": []}
    return preview(header, given[:MOST_ROWS], columns, as_of, own_words)


def columns_asked(header: Sequence[str], chosen: Mapping[str, str]) -> ColumnMap:
    """Return the map that a form asks for.

    Parameters
    ----------
    chosen : `column-N` -> field key for the N-th heading (from 0), empty where it is not taken
        in; `second-N` with `sign-N`, what stands behind a sign in it; `same-FIELD`, what is so in
        the whole file; `date_order` MDY or DMY. Text of two columns with one field is joined.

    Raises
    ------
    BadColumnMap: a field is chosen for two columns that can't be joined, or no column is chosen.
    """
    columns: dict[str, list[str]] = {}
    made: dict[str, dict] = {}
    for place, heading in enumerate(header):
        field, second = chosen.get(f"column-{place}"), chosen.get(f"second-{place}")
        if second:
            _split(field, second, heading, chosen.get(f"sign-{place}") or ",", columns, made)
        elif field:
            _once(field, {}, made, heading)
            columns.setdefault(field, []).append(heading)
    made |= _joined(columns)
    for field in FIELDS:
        if same := " ".join(chosen.get(f"same-{field}", "").split()):
            _once(field, {}, made, same)
            _refuse_unknown(field, same)
            made[field] = {"same": same}
    content = {
        "columns": {field: headings[0] for field, headings in columns.items()
                    if len(headings) == 1},
        "made": made, "date_order": chosen.get("date_order", "MDY"), "crs": "",
    }  # fmt: skip
    found = ColumnMap.from_dict(content)
    found.positions(header)
    return found


def _split(
    field: str | None, second: str, heading: str, sign: str, columns: Mapping, made: dict
) -> None:
    for part, one in enumerate((field, second), start=1):
        if one:
            _once(one, columns, made, heading)
            made[one] = {"split": heading, "at": sign, "part": part}


def _joined(columns: Mapping[str, list[str]]) -> dict[str, dict]:
    """Join what two columns hold of one field, where that is text."""
    found = {}
    for field, headings in columns.items():
        if len(headings) > 1:
            if field not in FIELDS or FIELDS[field].kind not in JOINED:
                raise_twice(field, *headings[:2])
            found[field] = {"join": headings}
    return found


def _once(field: str, columns: Mapping, made: Mapping[str, dict], heading: str) -> None:
    if field in columns or field in made:
        way = made.get(field, {})
        raise_twice(field, str(way.get("split") or columns.get(field, [""])[0]), heading)


def _refuse_unknown(field: str, same: str) -> None:
    """Refuse a word for the whole file that is in no list: nobody would be asked what it means."""
    label, kind = FIELDS[field].label, FIELDS[field].kind
    if kind in READERS and not READERS[kind](same).code:
        raise BadColumnMap(f"{label.capitalize()}: {same!r} is not a known word; choose one.")


def raise_twice(field: str, first: str, second: str) -> None:
    """Say that two columns cannot both hold one field."""
    label = FIELDS[field].label if field in FIELDS else field
    raise BadColumnMap(
        f"{first!r} and {second!r} are both set to {label!r}. Set it for one of them."
    )
