"""Figures of census areas laid over neighborhoods: by their share of the lines, or of the ground.

An area's figure counts in a neighborhood with the part of the neighborhood that lies in the area.
A mean of medians is not the median of the neighborhood: it ranks, and is said to be a mean.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from program.planning.shapes_reading import Shape, shapes_of
from services_inventory.apart import apart
from services_inventory.intake.reading.table import UnreadableFile

MOST_AREAS = 20_000
LEAST_COVERED = 0.5  # of a neighborhood, below which it gets no figure
NAME_FIELDS = ("name", "geoid", "tract", "block_group", "id", "label")
HEADINGS = {
    "median_income": ("median_income", "med_income", "income", "median household income"),
    "old_housing": ("old_housing", "old_homes", "pre_1950", "built_before", "old homes, percent"),
    "children": ("children", "under_6", "under_five", "children, percent"),
}
PERCENT = ("old_housing", "children")


@dataclass(frozen=True)
class CensusArea:
    """One area with its figures by name; None where the file has none. `wkt` is in degrees."""

    name: str
    figures: dict[str, float | None]
    wkt: str


@dataclass(frozen=True)
class Laid:
    """What areas say of one neighborhood.

    `parts` holds each area's share of it, the largest first; `covered` is their sum, and `figures`
    leaves out what less than half of the neighborhood has.
    """

    figures: dict[str, float]
    covered: float
    parts: tuple[tuple[str, float], ...]


def read_census(path: Path, columns: Mapping[str, str]) -> list[CensusArea]:
    """Read the areas of a file, in a process of its own.

    Parameters
    ----------
    columns : the heading of each figure; what is left out is looked for under usual ones

    Raises
    ------
    UnreadableFile: the file can't be read or has none of the figures; the message says what to do.
    """
    return apart(UnreadableFile, _areas, Path(path).resolve(), dict(columns))


def _areas(path: Path, columns: dict[str, str]) -> list[CensusArea]:
    rows = shapes_of(path, word="area", names=NAME_FIELDS, most=MOST_AREAS)
    there = rows[0].cells
    headings = {}
    for key, usual in HEADINGS.items():
        given = columns.get(key, "").strip().lower()
        if given and given not in there:
            raise UnreadableFile(f"The file has no column {given!r}. It has: {', '.join(there)}.")
        headings[key] = given or next((name for name in usual if name in there), "")
    if not any(headings.values()):
        raise UnreadableFile(
            "The file has no column for income, old homes or children: say which columns they are. "
            f"It has: {', '.join(there)}."
        )
    return [CensusArea(row.name, _figures(row, headings), _polygon(row)) for row in rows]


def _polygon(row: Shape) -> str:
    if row.shape.geom_type not in ("Polygon", "MultiPolygon"):
        raise UnreadableFile(f"{row.said} is no area but a {row.shape.geom_type}: give polygons.")
    return row.wkt


def _figures(row: Shape, headings: Mapping[str, str]) -> dict[str, float | None]:
    return {key: _figure(row, key, name) for key, name in headings.items() if name}


def _figure(row: Shape, key: str, heading: str) -> float | None:
    """A figure, None where it is missing: published tables write that as a large negative."""
    value: Any = row.cells[heading]
    if value is None or str(value).strip() in ("", "-", "N", "**", "null"):
        return None
    try:
        found = float(str(value).replace(",", "").lstrip("$").rstrip("%+-"))
    except ValueError:
        raise UnreadableFile(f"{row.said}: {heading} {str(value)[:40]!r} is no number.") from None
    if not isfinite(found) or found < 0:
        return None
    if key in PERCENT and found > 100:
        raise UnreadableFile(f"{row.said}: {heading} {found:g} is no percent: give 0 to 100.")
    return found


def laid_by_lines(areas: Sequence[CensusArea], lons, lats, hoods: Sequence[str]) -> dict[str, Laid]:
    """Lay areas over neighborhoods by the lines in both.

    Parameters
    ----------
    lons, lats, hoods : position and neighborhood of each line
    """
    import numpy as np
    import shapely

    tree = shapely.STRtree([shapely.from_wkt(area.wkt) for area in areas])
    spots = shapely.points(np.asarray(lons, dtype=float), np.asarray(lats, dtype=float))
    line, area = tree.query(spots, predicate="intersects")
    # A line on a border counts in the first of its areas only.
    line, first = np.unique(line, return_index=True)
    area = area[first]
    names, number = np.unique(np.asarray(hoods), return_inverse=True)
    lines = np.bincount(number, minlength=len(names))
    shares: dict[str, dict[int, float]] = {str(name): {} for name in names}
    pairs, counts = np.unique(np.stack([number[line], area]), axis=1, return_counts=True)
    for (hood, place), count in zip(pairs.T, counts, strict=True):
        shares[str(names[hood])][int(place)] = count / lines[hood]
    return {hood: _laid(areas, own) for hood, own in shares.items()}


def laid_by_ground(areas: Sequence[CensusArea], boundaries: Mapping[str, Any]) -> dict[str, Laid]:
    """Lay areas over neighborhoods by the ground in both.

    Parameters
    ----------
    boundaries : a neighborhood's polygon in longitude and latitude, by its name
    """
    import geopandas
    import shapely

    shapes = [shapely.make_valid(shapely.from_wkt(area.wkt)) for area in areas]
    places = geopandas.GeoDataFrame({"place": range(len(areas))}, geometry=shapes, crs=4326)
    hoods = geopandas.GeoDataFrame(
        {"hood": list(boundaries)}, geometry=list(boundaries.values()), crs=4326
    )
    flat = hoods.estimate_utm_crs()
    hoods, places = hoods.to_crs(flat), places.to_crs(flat)
    ground = dict(zip(hoods["hood"], hoods.area, strict=True))
    both = geopandas.overlay(hoods, places, how="intersection", keep_geom_type=True)
    shares: dict[str, dict[int, float]] = {hood: {} for hood in boundaries}
    for hood, place, part in zip(both["hood"], both["place"], both.area, strict=True):
        shares[hood][place] = shares[hood].get(place, 0.0) + part / ground[hood]
    return {hood: _laid(areas, own) for hood, own in shares.items()}


def _laid(areas: Sequence[CensusArea], shares: Mapping[int, float]) -> Laid:
    figures = {}
    for key in HEADINGS:
        known = [
            (share, figure)
            for place, share in shares.items()
            if (figure := areas[place].figures.get(key)) is not None
        ]
        part = sum(share for share, _ in known)
        if part >= LEAST_COVERED:
            figures[key] = round(float(sum(share * figure for share, figure in known) / part), 2)
    parts = sorted(shares.items(), key=lambda one: (-one[1], one[0]))
    told = tuple((areas[place].name, round(float(share), 4)) for place, share in parts)
    return Laid(figures, min(1.0, round(float(sum(shares.values())), 4)), told)
