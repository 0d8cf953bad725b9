"""Taking in neighborhood boundaries, and giving every premise its neighborhood."""

from django.db import transaction

from .. import bulk
from ..domain.reporting import Report
from ..intake.boundaries import Boundaries, read_boundaries
from ..kept_files import local_path
from ..models import Batch, Neighborhood
from ..placing import NOWHERE, assign


def boundaries_run(*, batch: Batch, report: Report) -> None:
    """Advance a batch of kind BOUNDARIES: read its file, keep the boundaries, place everything.

    Parameters of the batch: `name_field` and `layer`, both optional.

    Raises
    ------
    Refused: the file cannot be used; nothing was changed.
    """
    found = read_boundaries(
        local_path(batch.file),
        name_field=batch.parameters.get("name_field") or None,
        layer=batch.parameters.get("layer") or None,
    )
    with transaction.atomic():
        kept = boundaries_write(boundaries=found, batch=batch)
        placed = premises_place(report=report)
    batch.counts = {**kept, **placed}
    batch.result = {"notes": list(found.notes), "name_field": found.name_field, "crs": found.crs}
    batch.state = Batch.State.APPLIED


def boundaries_write(*, boundaries: Boundaries, batch: Batch | None) -> dict[str, int]:
    """Keep each boundary under its name; one of the same name is replaced, others stay."""
    known = {row.name: row for row in Neighborhood.objects.all()}
    new = 0
    for boundary in boundaries.items:
        row = known.get(boundary.name)
        if row is None:
            row, new = Neighborhood(name=boundary.name), new + 1
        row.boundary_wkb = boundary.polygon.wkb
        row.west, row.south, row.east, row.north = boundary.polygon.bounds
        row.attributes = boundary.attributes
        row.batch = batch
        row.save()
    return {"neighborhoods": len(boundaries.items), "new": new}


def premises_place(*, report: Report | None = None) -> dict[str, int]:
    """Give every premise, and its lines, the neighborhood it lies in; write what changed.

    Returns how many lie inside a boundary, outside every boundary, and have no position.
    """
    import shapely

    areas = [
        (pk, shapely.from_wkb(bytes(wkb or b"")))
        for pk, wkb in Neighborhood.objects.filter(boundary_wkb__isnull=False)
        .order_by("id")
        .values_list("id", "boundary_wkb")
    ]
    ids, latitudes, longitudes = _positions()
    found = assign(latitudes, longitudes, [polygon for _, polygon in areas])
    area_ids = [pk for pk, _ in areas]
    rows = (
        (pk, area_ids[index] if index != NOWHERE else None)
        for pk, index in zip(ids, found.tolist(), strict=True)
    )
    with transaction.atomic():
        bulk.stage("placed", [("premise_id", "INTEGER"), ("neighborhood_id", "INTEGER")], rows)
        for table, key in (
            ("services_inventory_premise", "id"),
            ("services_inventory_serviceline", "premise_id"),
        ):
            bulk.execute(
                f"UPDATE {table} AS t SET neighborhood_id = p.neighborhood_id FROM placed p "
                f"WHERE p.premise_id = t.{key} "
                "AND t.neighborhood_id IS DISTINCT FROM p.neighborhood_id"
            )
        bulk.drop("placed")
    nowhere = int((found == NOWHERE).sum())
    without = sum(latitude is None for latitude in latitudes)
    if report:
        report(len(ids), len(ids))
    return {"inside": len(ids) - nowhere, "outside": nowhere - without, "no_position": without}


def _positions() -> tuple[list[int], list, list]:
    rows = list(bulk.stream("SELECT id, latitude, longitude FROM services_inventory_premise"))
    return (
        [row[0] for row in rows],
        [row[1] if row[2] is not None else None for row in rows],
        [row[2] if row[1] is not None else None for row in rows],
    )
