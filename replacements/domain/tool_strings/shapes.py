"""The outlines that the schematic of a tool string is drawn with: plain black, white and gray."""

from dataclasses import dataclass

from replacements.domain.tool_strings.components import Kind
from services_inventory.domain.drawing import path, ring, shape, text

NOSE = 0.3  # share of a blade that is pilot
BLACK, _STEEL, _LEAD, _NEW = "#000", "#ddd", "#999", "#fff"


@dataclass(frozen=True)
class Box:
    """Where a part lies: left end, axis, length and half its width in px; dashed if guessed."""

    x: float
    y: float
    length: float
    half: float
    dashed: bool = False

    @property
    def end(self) -> float:
        return self.x + self.length


def blade(box: Box, pilot: float, flat_leads: bool) -> str:
    """A pilot in the old bore, then the sharp flat edge and its trailing taper."""
    nose = box.x + NOSE * box.length
    if flat_leads:
        body = [(nose, -box.half), (box.end, -pilot), (box.end, pilot), (nose, box.half)]
    else:
        body = [(nose, -pilot), (box.end, -box.half), (box.end, box.half), (nose, pilot)]
    return _outline(box, [(box.x, -pilot), (nose, -pilot)] + body + [(nose, pilot), (box.x, pilot)])


def _cone(box: Box) -> str:
    start, full = 0.5 * box.half, box.x + 0.6 * box.length
    points = [(box.x, -start), (full, -box.half), (box.end, -box.half)]
    return _outline(box, points + [(x, -dy) for x, dy in reversed(points)])


def _bar(box: Box) -> str:
    return _outline(box, _corners(box.x, box.end, box.half))


def _jaws(box: Box) -> str:
    wedge = [(box.x, -0.5 * box.half), (box.end, -box.half), (box.end, -0.1 * box.half)]
    wedge.append((box.x, -0.1 * box.half))
    return _outline(box, wedge) + _outline(box, [(x, -dy) for x, dy in wedge])


def _nut(box: Box) -> str:
    flats = "".join(
        path(f"M{box.x:.1f} {box.y + dy:.1f}H{box.end:.1f}", BLACK)
        for dy in (-0.5 * box.half, 0.5 * box.half)
    )
    return _bar(box) + flats


def _swivel(box: Box) -> str:
    middle, ball = box.x + box.length / 2, min(box.half, box.length / 4)
    left = _outline(box, _corners(box.x, middle, 0.6 * box.half))
    right = _outline(box, _corners(middle, box.end, 0.6 * box.half))
    return left + right + ring(middle, box.y, ball, BLACK)


def _clevis(box: Box) -> str:
    pin = ring(box.x + 0.3 * box.length, box.y, 0.3 * box.half, BLACK)
    return _outline(box, _corners(box.x, box.end, 0.7 * box.half)) + pin


def _link(box: Box) -> str:
    a, b = box.x + 0.4 * box.length, box.x + 0.6 * box.length
    top = [(box.x, -0.6), (a, -0.6), (a, -0.2), (b, -0.2), (b, -0.6), (box.end, -0.6)]
    points = [(x, dy * box.half) for x, dy in top]
    return _outline(box, points + [(x, -dy) for x, dy in reversed(points)])


def _collar(box: Box) -> str:
    neck = box.x + 0.3 * box.length
    eye = _outline(box, _corners(box.x, neck, 0.5 * box.half))
    return eye + _outline(box, _corners(neck, box.end, box.half))


BY_KIND = {
    Kind.PRE_EXPANDER: _cone,
    Kind.SPACER: _bar,
    Kind.EXPANDER: _cone,
    Kind.JAW_SET: _jaws,
    Kind.RETAINING_NUT: _nut,
    Kind.SWIVEL: _swivel,
    Kind.CLEVIS: _clevis,
    Kind.BREAKAWAY_LINK: _link,
    Kind.PIPE_PULLER: _collar,
}


def cable(start: float, end: float, y: float, thickness: float, dashed: bool) -> str:
    """The cable from the left edge to just behind the jaw set."""
    way, dashes = f"M{start:.1f} {y:.1f}H{end:.1f}", "10 5" if dashed else None
    return path(way, "#444", stroke_width=float(max(thickness, 2)), stroke_dasharray=dashes)


def pipe(x: float, length: float, y: float, bore: float, wall: float) -> str:
    """The two walls of the old pipe, cut open along its axis."""
    return "".join(_rect(x, y + top, length, wall, _LEAD) for top in (-bore - wall, bore))


def opened_shell(
    start: float, end: float, y: float, bore: float, opened: float, wall: float
) -> str:
    """The old pipe's shell, slit and bent out of the way behind the blade."""
    away = start + 0.35 * (end - start)
    return "".join(
        path(
            f"M{start:.1f} {y + side * (bore + wall / 2):.1f}"
            f"L{away:.1f} {y + side * (opened + wall / 2):.1f}H{end:.1f}",
            _LEAD,
            stroke_width=float(max(wall, 1)),
            stroke_opacity=0.6,
        )
        for side in (-1, 1)
    )


def new_pipe(x: float, length: float, y: float, bore: float, wall: float) -> str:
    """The two walls of the new pipe, broken off at the right."""
    walls = "".join(_rect(x, y + top, length, wall, _NEW) for top in (-bore - wall, bore))
    end, third = x + length, (bore + wall) * 2 / 3
    broken = f"M{end:.1f} {y - bore - wall:.1f}l-6 {third:.1f}l12 {third:.1f}l-6 {third:.1f}"
    return walls + path(broken, BLACK)


def number(x: float, y: float, value: int) -> str:
    """A part's number in a ring."""
    said = text(x, y + 7, str(value), "middle", BLACK, font_size=20, stroke="none")
    return ring(x, y, 15, BLACK) + said


def bar(x: float, y: float, length: float) -> str:
    """The scale bar."""
    return path(f"M{x:.1f} {y - 6:.1f}v12m0 -6h{length:.1f}m0 -6v12", BLACK, stroke_width=2)


def _corners(start: float, end: float, half: float) -> list[tuple[float, float]]:
    return [(start, -half), (end, -half), (end, half), (start, half)]


def _outline(box: Box, points: list[tuple[float, float]]) -> str:
    return shape(
        "polygon",
        points=" ".join(f"{x:.1f},{box.y + dy:.1f}" for x, dy in points),
        fill=_STEEL,
        fill_opacity=0.9,
        stroke=BLACK,
        stroke_width=1.5,
        stroke_dasharray="6 4" if box.dashed else None,
    )


def _rect(x: float, y: float, width: float, height: float, fill: str) -> str:
    tall = float(max(height, 1))
    return shape("rect", x=x, y=y, width=width, height=tall, fill=fill, stroke=BLACK)
