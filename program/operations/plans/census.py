"""Census areas taken in from a file and laid over the neighborhoods: a batch that holds both."""

from __future__ import annotations

from dataclasses import asdict

from program.operations.plans.works import refuse_same_file
from program.planning.census import CensusArea, Laid, laid_by_ground, laid_by_lines, read_census
from program.queries.open_questions import many
from services_inventory.domain.reporting import Report
from services_inventory.kept_files import local_path
from services_inventory.models import Batch, Neighborhood, ServiceLine
from services_inventory.refused import Refused

KIND = "CENSUS"


def census_run(*, batch: Batch, report: Report) -> None:
    """Read a batch's file, lay its areas over today's neighborhoods, and keep what they say.

    Raises
    ------
    Refused: the file can't be used, is in force already, or no neighborhood lies in its areas.
    """
    report(0, 2)
    refuse_same_file(batch)
    asked = batch.parameters
    areas = read_census(local_path(batch.file), asked["columns"])
    report(1, 2)
    laid = _over_ground(areas) if asked["by"] == "GROUND" else _over_lines(areas)
    if not any(one.figures for one in laid.values()):
        raise Refused(
            f"No figure of its {many(len(areas), 'area', 'areas')} covers half of a neighborhood: "
            "look whether the file is that of another town, whether figures are missing, and "
            "whether the neighborhoods have boundaries."
        )
    hoods = {name: asdict(one) for name, one in laid.items()}
    batch.result = {"census": hoods, "as_of": asked["as_of"]}
    batch.counts = {"areas": len(areas)}
    told = sum(bool(one.figures) for one in laid.values())
    batch.message = (
        f"{many(len(areas), 'area is', 'areas are')} laid over "
        f"{many(told, 'neighborhood', 'neighborhoods')}."
    )
    batch.state = Batch.State.APPLIED
    report(2, 2)


def _over_lines(areas: list[CensusArea]) -> dict[str, Laid]:
    lines = ServiceLine.objects.filter(
        neighborhood__isnull=False, premise__latitude__isnull=False,
        premise__longitude__isnull=False,
    )  # fmt: skip
    rows = lines.order_by("pk").values_list(
        "premise__longitude", "premise__latitude", "neighborhood__name"
    )
    found = list(rows.iterator(5_000))
    if not found:
        raise Refused("No line has a position and a neighborhood yet: choose by ground.")
    lons, lats, hoods = zip(*found, strict=True)
    return laid_by_lines(areas, lons, lats, hoods)


def _over_ground(areas: list[CensusArea]) -> dict[str, Laid]:
    import shapely

    rows = Neighborhood.objects.filter(boundary_wkb__isnull=False).values_list(
        "name", "boundary_wkb"
    )
    boundaries = {name: shapely.from_wkb(bytes(wkb)) for name, wkb in rows if wkb}
    if not boundaries:
        raise Refused("No neighborhood has a boundary yet: choose by lines.")
    return laid_by_ground(areas, boundaries)
