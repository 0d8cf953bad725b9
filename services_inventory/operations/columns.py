"""Keeping a column map that a person corrected, for the next file with the same headings."""

from datetime import datetime

from ..intake.columns import FIELDS, BadColumnMap, ColumnMap
from ..models import Batch, SavedColumns
from ..queries.batches import header_sha256


def columns_choose(
    *,
    batch: Batch,
    header: list[str],
    chosen: dict[str, str],
    by: str,
    at: datetime,
) -> ColumnMap:
    """Set the batch's column map and remember it by the file's headings.

    Parameters
    ----------
    batch : the intake batch the map is for
    header : the file's headings
    chosen : `column-N` -> field key for the N-th heading (from 0), empty where it is not taken
        in; `date_order` MDY or DMY
    by, at : who corrected it, and when

    Raises
    ------
    BadColumnMap
        A field is chosen for two columns, or no column is chosen.
    """
    columns: dict[str, str] = {}
    for place, heading in enumerate(header):
        field = chosen.get(f"column-{place}")
        if not field:
            continue
        if field in columns:
            raise_twice(field, columns[field], heading)
        columns[field] = heading
    content = {"columns": columns, "date_order": chosen.get("date_order", "MDY"), "crs": ""}
    found = ColumnMap.from_dict(content)
    found.positions(header)
    SavedColumns.objects.update_or_create(
        header_sha256=header_sha256(header),
        defaults={
            "name": batch.file_name[:120],
            "columns": content,
            "saved_by": by,
            "saved_at": at,
        },
    )
    batch.parameters = {**batch.parameters, "columns": content}
    batch.save(update_fields=["parameters"])
    return found


def raise_twice(field: str, first: str, second: str) -> None:
    """Say that two columns cannot both hold one field."""
    label = FIELDS[field].label if field in FIELDS else field
    raise BadColumnMap(
        f"{first!r} and {second!r} are both set to {label!r}. Set it for one of them."
    )
