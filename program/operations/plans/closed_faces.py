"""Closed block faces in a plan: their lines are areas of their own, closed on those days.

So the rest of an area is worked as before, and the planner sees for the face what it sees for any
area: the years left open, and the days on which no crew may be there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import count, islice

from program.planning.work_areas import Grouping, WorkArea, divided
from replacements.models import StreetClosure
from services_inventory.domain.days import day_told


@dataclass(frozen=True)
class ClosedFaces:
    """A grouping whose closed faces are areas of their own.

    closed : by area the closures that cover its lines
    parents : by area made here the one that it was cut out of
    """

    grouping: Grouping
    closed: dict[str, list[StreetClosure]] = field(default_factory=dict)
    parents: dict[str, str] = field(default_factory=dict)

    def note(self) -> str:
        """What a reader of the plan should know of it; empty where nothing is closed."""
        areas = [area for area in self.grouping.areas if area.id in self.closed]
        lines = sum(area.jobs for area in areas)
        if not areas:
            return ""
        last = max(row.last_day for rows in self.closed.values() for row in rows)
        return (
            f"{lines:,} open line{'s lie' if lines != 1 else ' lies'} on block faces closed to "
            f"digging, the last until {day_told(last)}: in {len(areas):,} "
            f"area{'s' if len(areas) != 1 else ''} of their own, so that the rest is not held up."
        )


def closed_faces(grouping: Grouping, lines, closures: Iterable[StreetClosure]) -> ClosedFaces:
    """Cut what is closed out of every area.

    Parameters
    ----------
    lines : open lines by location id
    """
    by_street: dict[str, list[StreetClosure]] = {}
    for closure in closures:
        by_street.setdefault(closure.street_key, []).append(closure)
    if not by_street:
        return ClosedFaces(grouping)
    areas: list[WorkArea] = []
    found, used = ClosedFaces(grouping), {area.id for area in grouping.areas}
    for area in grouping.areas:
        for part, covering in _parts(area, lines, by_street, used):
            areas.append(part)
            if covering:
                found.closed[part.id] = covering
            if part.id != area.id:
                found.parents[part.id] = area.id
    whole = replace(grouping, areas=tuple(sorted(areas, key=lambda area: area.id)))
    return replace(found, grouping=whole)


def _parts(area: WorkArea, lines, by_street, used: set[str]):
    """Each part of an area with the closures that cover it; what is open keeps the area's name."""
    alike: dict[tuple, tuple[list, list[str]]] = {}
    for line_id in area.line_ids:
        line = lines[line_id]
        covering = [c for c in by_street.get(line.street, ()) if c.as_face.covers(line.number)]
        key = tuple(closure.pk for closure in covering)
        alike.setdefault(key, (covering, []))[1].append(line_id)
    if len(alike) == 1:
        ((covering, _),) = alike.values()
        return [(area, covering)]
    ordered = sorted(alike.items())
    free = (name for number in count(1) if (name := f"{area.id} face {number}") not in used)
    names = [area.id, *islice(free, len(ordered) - 1)]
    parts = dict(zip(names, (ids for _, (_, ids) in ordered), strict=True))
    members = [lines[line_id].for_grouping() for line_id in area.line_ids]
    made = divided(area, members, parts)
    return list(zip(made, (covering for _, (covering, _) in ordered), strict=True))
