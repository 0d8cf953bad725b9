"""Blocks of a street, and the cut that parts them best: the geometry under the work areas."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from math import ceil, cos, pi, sin

from program.planning.geometry import on_plane

_DIRECTIONS = tuple((cos(k * pi / 4), sin(k * pi / 4)) for k in range(4))
# What cutting one street in two weighs against the whole spread of the lines being parted.
_STREET_CUT = 0.05


class BadArea(ValueError):
    """A size or a change by hand that can't be carried out; the message says why."""


@dataclass(frozen=True)
class PoolLine:
    """One service line of the replacement pool; `street` is its normalized street."""

    id: str
    street: str
    number: int | None
    neighborhood: str | None
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
                f"Areas of {self.least} to {self.most} jobs can't divide every neighborhood: let "
                f"the most be at least {2 * self.least - 1}."
            )


@dataclass(frozen=True)
class Block:
    """One block of one street: its lines and their middle on the plane, in meters."""

    street: str
    first: int
    lines: tuple[PoolLine, ...]
    x: float
    y: float


def address_order(line: PoolLine):
    """Sort key: street, house number, id."""
    return line.street, line.number if line.number is not None else -1, line.id


def blocks_of(lines, size: AreaSize) -> list[Block]:
    """Lines by street and hundred of house numbers, cut up where longer than an area may be."""
    plane = dict(
        zip((line.id for line in lines), on_plane((ln.lat, ln.lon) for ln in lines), strict=True)
    )
    faces: dict[tuple[str, int], list[PoolLine]] = {}
    for line in lines:
        hundred = line.number // 100 if line.number is not None else -1
        faces.setdefault((line.street, hundred), []).append(line)
    blocks = []
    for (street, hundred), members in sorted(faces.items()):
        members = sorted(members, key=address_order)
        long = len(members) > size.most
        pieces = max(2, round(len(members) / size.target)) if long else 1
        cuts = [round(len(members) * k / pieces) for k in range(pieces + 1)]
        for start, end in zip(cuts, cuts[1:], strict=False):
            blocks.append(_block(street, hundred, members[start:end], plane))
    return blocks


def _block(street: str, hundred: int, members, plane) -> Block:
    xs = [plane[line.id][0] for line in members]
    ys = [plane[line.id][1] for line in members]
    return Block(street, hundred, tuple(members), sum(xs) / len(members), sum(ys) / len(members))


def single_blocks(members) -> list[Block]:
    """Every line as a block of its own."""
    plane = dict(
        zip((line.id for line in members), on_plane((m.lat, m.lon) for m in members), strict=True)
    )
    return [_block(line.street, line.number or 0, [line], plane) for line in members]


def parted(blocks: list[Block], size: AreaSize) -> list[list[Block]]:
    """The blocks halved again and again until every part has the size wanted."""
    jobs = _total(blocks)
    parts = max(1, round(jobs / size.target), ceil(jobs / size.most))
    if parts > 1 and jobs < parts * size.least:
        parts = max(1, jobs // size.least)
    if parts <= 1:
        return [blocks] if jobs <= size.most else _broken(blocks, size)
    left = parts // 2
    halves = halved(
        blocks,
        jobs * left / parts,
        max(left * size.least, jobs - (parts - left) * size.most),
        min(left * size.most, jobs - (parts - left) * size.least),
    )
    if halves is None:
        return _broken(blocks, size)
    return [part for half in halves for part in parted(half, size)]


def _broken(blocks: list[Block], size: AreaSize) -> list[list[Block]]:
    # Whole blocks don't fit the sizes here: cut between single houses instead.
    singles = single_blocks([line for block in blocks for line in block.lines])
    return parted(singles, size) if len(singles) > len(blocks) else [blocks]


def _along(dx: float, dy: float, block: Block) -> tuple:
    """The place of a block in one direction; of blocks side by side, by street and number."""
    return round(block.x * dx + block.y * dy, 3), block.street, block.first


def halved(blocks: list[Block], wanted: float, least: int, most: int):
    """The two halves of the best cut whose first half has `least` to `most` jobs; None if none."""
    best, halves = None, None
    for number, (dx, dy) in enumerate(_DIRECTIONS):
        ordered = sorted(blocks, key=partial(_along, dx, dy))
        for cut, score in _cuts(ordered, wanted, least, most):
            rank = (score, number, cut)
            if best is None or rank < best:
                best, halves = rank, (ordered[:cut], ordered[cut:])
    return halves


def _cuts(ordered: list[Block], wanted: float, least: int, most: int):
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
        yield place + 1, round(spread + _STREET_CUT * len(open_streets) + uneven, 9)


def _moments(blocks):
    total = (0, 0.0, 0.0, 0.0)
    for block in blocks:
        total = _plus(total, block)
    return total


def _plus(total, block: Block):
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


def mean_of(blocks, axis: str) -> float:
    """Mean coordinate of the lines of some blocks, in meters."""
    return sum(len(b.lines) * getattr(b, axis) for b in blocks) / _total(blocks)
