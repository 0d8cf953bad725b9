"""Work areas: the replacement pool grouped street by street into parcels a crew can be sent to.

The smallest piece is a block of a street (house numbers of one hundred, both sides of the street).
A neighborhood's blocks are halved again and again, each time along the cut that keeps streets
whole and both halves compact, until every part has the size wanted. Nothing is drawn at random:
the same lines give the same areas.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from program.planning.defaults import default
from program.planning.geometry import middle_of, on_plane
from program.planning.work_areas.cutting import (
    AreaSize,
    BadArea,
    PoolLine,
    address_order,
    blocks_of,
    halved,
    mean_of,
    parted,
    single_blocks,
)


@dataclass(frozen=True)
class WorkArea:
    """A parcel of work in one neighborhood; `small` marks a remainder under the least size."""

    id: str
    name: str
    neighborhood: str
    line_ids: tuple[str, ...]
    lat: float | None
    lon: float | None
    small: bool = False
    locked: bool = False

    @property
    def jobs(self) -> int:
        """Lines in the area."""
        return len(self.line_ids)


@dataclass(frozen=True)
class Grouping:
    """All areas, and by name the lines that belong to none yet."""

    areas: tuple[WorkArea, ...]
    without_coordinates: tuple[str, ...]
    without_neighborhood: tuple[str, ...]

    @property
    def unplaced(self) -> tuple[str, ...]:
        """Lines in no area."""
        return self.without_coordinates + self.without_neighborhood

    def sentences(self) -> list[str]:
        """What the planner should know of: remainders, several of them in one sentence."""
        small = [area for area in self.areas if area.small]
        if len(small) < 3:
            return [
                f"{area.name} in {area.neighborhood} is a small remainder of {_jobs(area.jobs)}."
                for area in small
            ]
        told = "; ".join(f"{area.neighborhood} {_jobs(area.jobs)}" for area in small)
        return [f"{len(small)} areas are small remainders of their neighborhoods: {told}."]


def default_size() -> AreaSize:
    """The shipped size of a work area."""
    return AreaSize(
        default("area_least_jobs"), default("area_target_jobs"), default("area_most_jobs")
    )


def group(lines, size: AreaSize | None = None, keep=()) -> Grouping:
    """Group the pool into work areas.

    Parameters
    ----------
    lines : iterable of PoolLine, one per service line.
    keep : areas locked by hand; they stay as they are, less lines that have left the pool.

    Returns
    -------
    Grouping : every line in exactly one area or in exactly one named list.

    Raises
    ------
    BadArea : two lines have one id, or two kept areas hold the same line.
    """
    size = size or default_size()
    lines = sorted(lines, key=lambda line: line.id)
    by_id = {line.id: line for line in lines}
    if len(by_id) != len(lines):
        raise BadArea("Two lines of the pool have the same id: each line counts once.")
    kept = _kept(keep, by_id)
    taken = {line_id for area in kept for line_id in area.line_ids}
    free = [line for line in lines if line.id not in taken]
    hoods: dict[str, list[PoolLine]] = {}
    for line in free:
        if line.lat is not None and line.lon is not None and line.neighborhood is not None:
            hoods.setdefault(line.neighborhood, []).append(line)
    used = {area.id for area in kept}
    areas = list(kept)
    for hood in sorted(hoods):
        areas += _areas_of(hood, hoods[hood], size, used)
    return Grouping(
        tuple(sorted(areas, key=lambda area: area.id)),
        tuple(line.id for line in free if line.lat is None or line.lon is None),
        tuple(
            line.id
            for line in free
            if line.lat is not None and line.lon is not None and line.neighborhood is None
        ),
    )


def split(area: WorkArea, lines, line_ids=None) -> tuple[WorkArea, WorkArea]:
    """Two areas from one: the lines named and the rest, or the best cut in the middle.

    Raises
    ------
    BadArea : the area is locked, has a single line, or the lines named are none or all of it.
    """
    if area.locked:
        raise BadArea(f"{area.name} is locked: unlock it before splitting it.")
    members = [line for line in lines if line.id in set(area.line_ids)]
    if line_ids is None:
        if len(members) < 2:
            raise BadArea(f"{area.name} has a single line and can't be split.")
        halves = halved(single_blocks(members), len(members) // 2, 1, len(members) - 1)
        parts = [[line for block in half for line in block.lines] for half in halves]
    else:
        chosen = set(line_ids)
        parts = [
            [line for line in members if line.id in chosen],
            [line for line in members if line.id not in chosen],
        ]
    if not all(parts):
        raise BadArea(f"Splitting {area.name} needs some of its lines, not none and not all.")
    one, other = (
        _area(f"{area.id}{letter}", area.neighborhood, part)
        for letter, part in zip("ab", parts, strict=True)
    )
    return one, other


def divided(area: WorkArea, lines, parts: dict[str, list[str]]) -> list[WorkArea]:
    """The areas that one becomes when its lines are parted; each part has its id."""
    by_id = {line.id: line for line in lines}
    return [
        _area(part, area.neighborhood, [by_id[line_id] for line_id in line_ids])
        for part, line_ids in parts.items()
    ]


def merge(first: WorkArea, second: WorkArea, lines) -> WorkArea:
    """One area from two of the same neighborhood.

    Raises
    ------
    BadArea : the neighborhoods differ, an area is locked, or the two are one.
    """
    if first.neighborhood != second.neighborhood:
        raise BadArea(
            f"{first.name} is in {first.neighborhood} and {second.name} in "
            f"{second.neighborhood}: an area never crosses a neighborhood's boundary."
        )
    if first.locked or second.locked:
        raise BadArea("A locked area can't be merged: unlock it first.")
    if first.id == second.id:
        raise BadArea("An area can't be merged with itself.")
    gap, most = apart_m(first, second, lines), default("area_merge_gap_m")
    if gap > most:
        raise BadArea(
            f"{first.id} and {second.id} lie {gap:,.0f} m apart at their nearest lines; areas no "
            f"more than {most:g} m apart can be merged, so that a crew stays in one place."
        )
    ids = {*first.line_ids, *second.line_ids}
    members = [line for line in lines if line.id in ids]
    return _area(min(first.id, second.id), first.neighborhood, members)


def regrouped(areas, lines, line_ids, to: WorkArea | None, new_id: str) -> list[WorkArea]:
    """The areas after some lines are taken into one of them, or into a new area of their own.

    Parameters
    ----------
    areas : the areas that hold the lines named, and `to`.
    lines : PoolLine of all these areas.
    to : the area that takes the lines in; None for a new area, which gets `new_id`.

    Returns
    -------
    list of WorkArea : the area that took the lines first, then what is left of the others.

    Raises
    ------
    BadArea : no line is named, areas are locked or of two neighborhoods, or nothing would change.
    """
    chosen, by_id = set(line_ids), {line.id: line for line in lines}
    areas = [area for area in areas if area == to or chosen & set(area.line_ids)]
    _refuse_regrouping(areas, chosen, to, by_id)
    taken = [*(to.line_ids if to else ()), *chosen]
    into = _area(
        to.id if to else new_id, areas[0].neighborhood, [by_id[i] for i in dict.fromkeys(taken)]
    )
    rest = []
    for area in areas:
        left = [by_id[i] for i in area.line_ids if i not in chosen]
        if area != to and left:
            rest.append(_area(area.id, area.neighborhood, left))
    return [into, *rest]


def _refuse_regrouping(areas, chosen: set[str], to: WorkArea | None, by_id) -> None:
    if not chosen:
        raise BadArea("Choose the lines first, on the map or in the list.")
    if strange := chosen - {line_id for area in areas for line_id in area.line_ids}:
        raise BadArea(f"Line {min(strange)} is in none of these areas: choose again.")
    if locked := [area.id for area in areas if area.locked]:
        raise BadArea(f"{locked[0]} is locked: unlock it before taking lines out of it or in.")
    hoods = sorted({area.neighborhood for area in areas})
    if len(hoods) > 1:
        raise BadArea(
            f"The lines lie in {' and '.join(hoods)}: an area never crosses a neighborhood's "
            "boundary. Choose lines of one."
        )
    if to is None and len(areas) == 1 and chosen >= set(areas[0].line_ids):
        raise BadArea(f"All lines of {areas[0].id} are chosen: leave some, or nothing is split.")
    if to is not None and chosen <= set(to.line_ids):
        raise BadArea(f"The lines are in {to.id} already.")


def apart_m(first: WorkArea, second: WorkArea, lines) -> float:
    """Meters between the nearest lines of two areas; none where a line has no coordinates."""
    spots = {line.id: (line.lat, line.lon) for line in lines if line.lat is not None}
    ids = [i for i in first.line_ids if i in spots], [i for i in second.line_ids if i in spots]
    if not all(ids):
        return 0.0
    plane = on_plane(spots[i] for i in (*ids[0], *ids[1]))
    here, there = plane[: len(ids[0])], plane[len(ids[0]) :]
    return min((a - c) ** 2 + (b - d) ** 2 for a, b in here for c, d in there) ** 0.5


def lock(area: WorkArea, locked: bool = True) -> WorkArea:
    """The same area, to be kept (or no longer kept) when the pool is grouped again."""
    return replace(area, locked=locked)


def _kept(keep, by_id) -> list[WorkArea]:
    kept: list[WorkArea] = []
    seen: set[str] = set()
    for area in keep:
        ids = tuple(line_id for line_id in area.line_ids if line_id in by_id)
        if doubled := seen & set(ids):
            raise BadArea(f"Line {min(doubled)} is in two locked areas: take it out of one.")
        seen |= set(ids)
        if ids:
            kept.append(replace(area, line_ids=ids, locked=True))
    return kept


def _areas_of(hood: str, lines, size: AreaSize, used: set[str]):
    parts = parted(blocks_of(lines, size), size)
    # Numbered along the town from north-west to south-east, so that the list reads like the map.
    parts.sort(key=lambda part: (-round(mean_of(part, "y") / 200), mean_of(part, "x")))
    number, areas = 0, []
    for part in parts:
        number += 1
        while (area_id := f"{hood}-{number:03d}") in used:
            number += 1
        members = [line for block in part for line in block.lines]
        areas.append(_area(area_id, hood, members, small=len(members) < size.least))
    return areas


def _area(area_id: str, hood: str, members, *, small: bool = False) -> WorkArea:
    members = sorted(members, key=address_order)
    placed = [(line.lat, line.lon) for line in members if line.lat is not None]
    lat, lon = middle_of(placed)
    ids = tuple(line.id for line in members)
    return WorkArea(area_id, _name(members), hood, ids, lat, lon, small)


def _name(members) -> str:
    numbers: dict[str, list[int]] = {}
    for line in members:
        numbers.setdefault(line.street, []).extend([line.number] if line.number is not None else [])
    by_size = sorted(numbers, key=lambda street: (-len(numbers[street]), street))
    parts = [
        f"{street} {_span(min(found), max(found))}" if (found := numbers[street]) else street
        for street in by_size[:3]
    ]
    more = len(by_size) - 3
    tail = f" and {more} more street{'s' if more > 1 else ''}" if more > 0 else ""
    return ", ".join(parts) + tail


def _span(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first}-{last}"


def _jobs(count: int) -> str:
    return "1 job" if count == 1 else f"{count} jobs"
