"""Work areas: the replacement pool grouped street by street into parcels a crew can be sent to.

The smallest piece is a block of a street (house numbers of one hundred, both sides of the street).
A neighbourhood's blocks are halved again and again, each time along the cut that keeps streets
whole and both halves compact, until every part has the size wanted. Nothing is drawn at random:
the same lines give the same areas.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, cos, pi, sin

from program.planning.defaults import default
from program.planning.geometry import middle_of, on_plane

_DIRECTIONS = tuple((cos(k * pi / 4), sin(k * pi / 4)) for k in range(4))


@dataclass(frozen=True)
class PoolLine:
    """One service line of the replacement pool; `street` is its normalised street."""

    id: str
    street: str
    number: int | None
    neighbourhood: str | None
    lat: float | None
    lon: float | None


@dataclass(frozen=True)
class AreaSize:
    """Least, wanted and most jobs of one work area."""

    least: int
    target: int
    most: int

    def __post_init__(self):
        if not 1 <= self.least <= self.target <= self.most:
            raise BadArea(
                f"The sizes of a work area must rise from least to target to most; {self.least}, "
                f"{self.target}, {self.most} don't."
            )
        if self.most < 2 * self.least - 1:
            raise BadArea(
                f"Areas of {self.least} to {self.most} jobs can't divide every neighbourhood: let "
                f"the most be at least {2 * self.least - 1}."
            )


@dataclass(frozen=True)
class WorkArea:
    """A parcel of work in one neighbourhood; `small` marks a remainder under the least size."""

    id: str
    name: str
    neighbourhood: str
    line_ids: tuple[str, ...]
    lat: float
    lon: float
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
    without_neighbourhood: tuple[str, ...]

    def sentences(self) -> list[str]:
        """What the planner should know of: remainders, and lines that could not be placed."""
        told = [
            f"{area.name} in {area.neighbourhood} is a small remainder of {_jobs(area.jobs)}."
            for area in self.areas
            if area.small
        ]
        if self.without_coordinates:
            told.append(
                f"{len(self.without_coordinates)} lines have no coordinates and are in no work "
                "area: place them on the map or give their addresses coordinates."
            )
        if self.without_neighbourhood:
            told.append(
                f"{len(self.without_neighbourhood)} lines lie in no neighbourhood and are in no "
                "work area: extend a boundary or assign them by hand."
            )
        return told


class BadArea(ValueError):
    """A size or a change by hand that can't be carried out; the message says why."""


@dataclass(frozen=True)
class _Block:
    street: str
    first: int
    lines: tuple[PoolLine, ...]
    x: float
    y: float


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
        if line.lat is not None and line.lon is not None and line.neighbourhood is not None:
            hoods.setdefault(line.neighbourhood, []).append(line)
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
            if line.lat is not None and line.lon is not None and line.neighbourhood is None
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
        first, second = _halved(_single_blocks(members), len(members) // 2, 1, len(members) - 1)
        parts = [[line for block in half for line in block.lines] for half in (first, second)]
    else:
        chosen = set(line_ids)
        parts = [
            [line for line in members if line.id in chosen],
            [line for line in members if line.id not in chosen],
        ]
    if not all(parts):
        raise BadArea(f"Splitting {area.name} needs some of its lines, not none and not all.")
    return tuple(
        _area(f"{area.id}{letter}", area.neighbourhood, part)
        for letter, part in zip("ab", parts, strict=True)
    )


def merge(first: WorkArea, second: WorkArea, lines) -> WorkArea:
    """One area from two of the same neighbourhood.

    Raises
    ------
    BadArea : the neighbourhoods differ, an area is locked, or the two are one.
    """
    if first.neighbourhood != second.neighbourhood:
        raise BadArea(
            f"{first.name} is in {first.neighbourhood} and {second.name} in "
            f"{second.neighbourhood}: an area never crosses a neighbourhood's boundary."
        )
    if first.locked or second.locked:
        raise BadArea("A locked area can't be merged: unlock it first.")
    if first.id == second.id:
        raise BadArea("An area can't be merged with itself.")
    ids = {*first.line_ids, *second.line_ids}
    members = [line for line in lines if line.id in ids]
    return _area(min(first.id, second.id), first.neighbourhood, members)


def lock(area: WorkArea, locked: bool = True) -> WorkArea:
    """The same area, to be kept (or no longer kept) when the pool is grouped again."""
    return replace(area, locked=locked)


def spread_m(area: WorkArea, lines) -> float:
    """Root mean square distance of the area's lines from their middle, in metres."""
    members = [(line.lat, line.lon) for line in lines if line.id in set(area.line_ids)]
    plane = on_plane(members)
    return (sum(x * x + y * y for x, y in plane) / len(plane)) ** 0.5


def _kept(keep, by_id) -> list[WorkArea]:
    kept, seen = [], set()
    for area in keep:
        ids = tuple(line_id for line_id in area.line_ids if line_id in by_id)
        if doubled := seen & set(ids):
            raise BadArea(f"Line {min(doubled)} is in two locked areas: take it out of one.")
        seen |= set(ids)
        if ids:
            kept.append(replace(area, line_ids=ids, locked=True))
    return kept


def _areas_of(hood: str, lines, size: AreaSize, used: set[str]):
    parts = _parted(_blocks(lines, size.most), size)
    # Numbered along the town from north-west to south-east, so that the list reads like the map.
    parts.sort(key=lambda part: (-round(_mean(part, "y") / 200), _mean(part, "x")))
    number, areas = 0, []
    for part in parts:
        number += 1
        while (area_id := f"{hood}-{number:03d}") in used:
            number += 1
        members = [line for block in part for line in block.lines]
        areas.append(_area(area_id, hood, members, small=len(members) < size.least))
    return areas


def _area(area_id: str, hood: str, members, *, small: bool = False) -> WorkArea:
    members = sorted(members, key=_address_order)
    placed = [(line.lat, line.lon) for line in members if line.lat is not None]
    lat, lon = middle_of(placed)
    ids = tuple(line.id for line in members)
    return WorkArea(area_id, _name(members), hood, ids, lat, lon, small)


def _address_order(line: PoolLine):
    return line.street, line.number if line.number is not None else -1, line.id


def _name(members) -> str:
    numbers: dict[str, list[int]] = {}
    for line in members:
        numbers.setdefault(line.street, []).extend([line.number] if line.number is not None else [])
    by_size = sorted(numbers, key=lambda street: (-len(numbers[street]), street))
    parts = [
        f"{street} {min(found)}-{max(found)}" if (found := numbers[street]) else street
        for street in by_size[:3]
    ]
    more = len(by_size) - 3
    tail = f" and {more} more street{'s' if more > 1 else ''}" if more > 0 else ""
    return ", ".join(parts) + tail


def _jobs(count: int) -> str:
    return "1 job" if count == 1 else f"{count} jobs"


def _blocks(lines, most: int) -> list[_Block]:
    plane = dict(
        zip((line.id for line in lines), on_plane((ln.lat, ln.lon) for ln in lines), strict=True)
    )
    faces: dict[tuple[str, int], list[PoolLine]] = {}
    for line in lines:
        hundred = line.number // 100 if line.number is not None else -1
        faces.setdefault((line.street, hundred), []).append(line)
    blocks = []
    for (street, hundred), members in sorted(faces.items()):
        members = sorted(members, key=_address_order)
        pieces = ceil(len(members) / most)
        cuts = [round(len(members) * k / pieces) for k in range(pieces + 1)]
        for start, end in zip(cuts, cuts[1:], strict=False):
            blocks.append(_block(street, hundred, members[start:end], plane))
    return blocks


def _block(street: str, hundred: int, members, plane) -> _Block:
    xs = [plane[line.id][0] for line in members]
    ys = [plane[line.id][1] for line in members]
    return _Block(street, hundred, tuple(members), sum(xs) / len(members), sum(ys) / len(members))


def _single_blocks(members) -> list[_Block]:
    plane = dict(
        zip((line.id for line in members), on_plane((m.lat, m.lon) for m in members), strict=True)
    )
    return [_block(line.street, line.number or 0, [line], plane) for line in members]


def _parted(blocks: list[_Block], size: AreaSize) -> list[list[_Block]]:
    jobs = _total(blocks)
    parts = max(1, round(jobs / size.target), ceil(jobs / size.most))
    if parts > 1 and jobs < parts * size.least:
        parts = max(1, jobs // size.least)
    if parts <= 1:
        return [blocks] if jobs <= size.most else _broken(blocks, size)
    left = parts // 2
    halves = _halved(
        blocks,
        jobs * left / parts,
        max(left * size.least, jobs - (parts - left) * size.most),
        min(left * size.most, jobs - (parts - left) * size.least),
    )
    if halves is None:
        return _broken(blocks, size)
    return [part for half in halves for part in _parted(half, size)]


def _broken(blocks: list[_Block], size: AreaSize) -> list[list[_Block]]:
    # Whole blocks don't fit the sizes here: cut between single houses instead.
    singles = _single_blocks([line for block in blocks for line in block.lines])
    return _parted(singles, size) if len(singles) > len(blocks) else [blocks]


def _halved(blocks: list[_Block], wanted: float, least: int, most: int):
    """The two halves of the best cut whose first half has `least` to `most` jobs; None if none."""
    best, halves = None, None
    for number, (dx, dy) in enumerate(_DIRECTIONS):
        ordered = sorted(
            blocks, key=lambda b, dx=dx, dy=dy: (round(b.x * dx + b.y * dy, 3), b.street, b.first)
        )
        for cut, score in _cuts(ordered, wanted, least, most):
            rank = (score, number, cut)
            if best is None or rank < best:
                best, halves = rank, (ordered[:cut], ordered[cut:])
    return halves


def _cuts(ordered: list[_Block], wanted: float, least: int, most: int):
    """(place, score) of every allowed cut: spread of both halves, streets cut, uneven sizes."""
    whole = _moments(ordered)
    spread_all = max(_spread(whole), 1.0)
    last = {block.street: place for place, block in enumerate(ordered)}
    run, open_streets = (0, 0.0, 0.0, 0.0), set()
    for place, block in enumerate(ordered[:-1]):
        run = _plus(run, block)
        open_streets.add(block.street)
        if last[block.street] == place:
            open_streets.discard(block.street)
        if not least <= run[0] <= most:
            continue
        rest = tuple(w - r for w, r in zip(whole, run, strict=True))
        spread = (_spread(run) + _spread(rest)) / spread_all
        uneven = abs(run[0] - wanted) / whole[0]
        yield place + 1, round(spread + 0.05 * len(open_streets) + uneven, 9)


def _moments(blocks):
    total = (0, 0.0, 0.0, 0.0)
    for block in blocks:
        total = _plus(total, block)
    return total


def _plus(total, block: _Block):
    jobs = len(block.lines)
    return (
        total[0] + jobs,
        total[1] + jobs * block.x,
        total[2] + jobs * block.y,
        total[3] + jobs * (block.x**2 + block.y**2),
    )


def _spread(moments) -> float:
    jobs, sx, sy, squares = moments
    return max(0.0, squares - (sx * sx + sy * sy) / jobs)


def _total(blocks) -> int:
    return sum(len(block.lines) for block in blocks)


def _mean(blocks, axis: str) -> float:
    return sum(len(b.lines) * getattr(b, axis) for b in blocks) / _total(blocks)
