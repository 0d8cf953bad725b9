"""No cell ends a file: its row is held with a reason that names the column, or is taken in.

`-s` prints what became of the cells.
"""

from collections import Counter

import pytest

from services_inventory.intake.columns import FIELDS
from services_inventory.intake.columns.making import PARTS
from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import batch_open, batch_run
from tests.services_inventory.intake import bad_cells
from tests.services_inventory.intake.bad_cells import DAY, FORMATS, may_be_taken, tried, write

pytestmark = pytest.mark.django_db


def intake(path, header, fields) -> Batch:
    """Check a file and take it in by a map that says where each field is."""
    columns = dict(zip(FIELDS, header, strict=False))
    given = {
        "columns": {"columns": {f: columns[f] for f in fields}},
        "recorded_at": DAY.isoformat(),
    }
    batch = batch_open(kind="INTAKE", by="clerk", at=DAY, file=path, parameters=given)
    for step in ("CHECK", "APPLY"):
        batch.parameters = {**batch.parameters, "step": step}
        batch_run(batch=batch)
        assert batch.state in (Batch.State.CHECKED, Batch.State.APPLIED), batch.message
    return batch


@pytest.mark.parametrize(
    ("kind", "places"),
    [
        *((kind, "latitude and longitude") for kind in FORMATS),
        *((kind, "geometry") for kind in FORMATS if kind != "GEOPACKAGE"),
    ],
)
def test_every_bad_cell_of_every_column_is_held_or_taken_and_none_ends_the_file(
    kind, places, tmp_path
):
    left_out = ("geometry",) if places != "geometry" else ("latitude", "longitude")
    fields = [field for field in FIELDS if field not in (*left_out, *PARTS)]
    rows = [row for row in tried(kind) if row.field in fields]
    if places == "geometry":
        rows = [row for row in rows if row.field == "geometry"]
    driver = "ESRI Shapefile" if kind == "SHAPEFILE" else ""
    header = bad_cells.headings(driver, list(FIELDS))
    batch = intake(write(kind, rows, tmp_path), header, fields)
    assert batch.counts["total"] == len(rows)
    reasons = dict(batch.held_rows.values_list("row_number", "reason"))
    headings = dict(zip(FIELDS, header, strict=True))
    wrong, counted = [], {}
    for number, row in enumerate(rows, start=2):
        reason = reasons.get(number, "")
        count = counted.setdefault(f"{kind}: {row.content}", Counter())
        count["tried"] += 1
        count["held" if reason else "taken"] += 1
        if not reason and not may_be_taken(row, kind):
            wrong.append(f"{row.field}: {row.content} was taken in")
        said = headings[row.field]
        side = row.field.split("_")[0]
        if reason and said not in reason and f"The {side} side" not in reason:
            wrong.append(f"{row.field}: {row.content} is held without naming it: {reason}")
    print("", bad_cells.as_table(counted), sep="\n")
    assert not wrong, "\n".join(wrong)
    assert ServiceLine.objects.count() == batch.counts["new"]
    assert not ServiceLine.objects.filter(location_id="").exists()


@pytest.mark.parametrize("name", list(bad_cells.typed_columns()))
def test_a_column_of_any_type_in_any_field_ends_no_file(name, tmp_path):
    values, counted = bad_cells.typed_columns()[name], Counter()
    others = [field for field in FIELDS if field not in ("location_id", *PARTS)]
    for fields in (others, [*PARTS], ["location_id"]):
        folder = tmp_path / fields[0]
        folder.mkdir()
        path, rows = bad_cells.write_typed(values, fields, folder)
        batch = intake(path, list(FIELDS), list(dict.fromkeys(["location_id", *fields])))
        assert batch.counts["total"] == rows
        reasons = batch.held_rows.values_list("reason", flat=True)
        assert all(reason.strip() for reason in reasons)
        counted += Counter(tried=rows, held=len(reasons), taken=rows - len(reasons))
    print("", bad_cells.as_table({f"PARQUET: {name}": counted}), sep="\n")
