"""Our own schematics, which are plain SVG, set into a sheet of paper.

Only what those drawings use is read: rect, circle, polygon, text, and paths of straight lines.
"""

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from reportlab.graphics.shapes import Circle, Drawing, Group, Path, Polygon, Rect, String
from reportlab.lib.colors import HexColor

from ..words import said

_SVG = "{http://www.w3.org/2000/svg}"
_STEP = re.compile(r"([MLHVmlhv])|(-?\d+\.?\d*)")


def figure_of(svg: str, width: float) -> Drawing:
    """Return a schematic as a drawing of a width, in points."""
    root = ElementTree.fromstring(svg)
    _, _, wide, high = (float(part) for part in root.get("viewBox").split())
    scale = width / wide
    drawing, group = Drawing(width, high * scale), Group()
    # SVG counts downwards from the top, paper upwards from the foot.
    group.transform = (scale, 0, 0, -scale, 0, high * scale)
    for element in root:
        shape = _SHAPES.get(element.tag.removeprefix(_SVG), lambda element: None)(element)
        if shape is not None:
            group.add(shape)
    drawing.add(group)
    return drawing


def _number(element, name: str, default: float = 0.0) -> float:
    return float(element.get(name, default))


def _paint(element) -> dict:
    fill, stroke = element.get("fill", "#000"), element.get("stroke")
    dash = element.get("stroke-dasharray")
    return {
        "fillColor": _color(fill),
        "strokeColor": _color(stroke or "none"),
        "strokeWidth": _number(element, "stroke-width", 1.0),
        "strokeDashArray": [float(part) for part in dash.split()] if dash else None,
    }


def _color(text: str):
    if text == "none":
        return None
    digits = text.removeprefix("#")
    return HexColor("#" + ("".join(2 * d for d in digits) if len(digits) == 3 else digits))


def _rect(element) -> Rect:
    sides = (_number(element, name) for name in ("x", "y", "width", "height"))
    return Rect(*sides, **_paint(element))


def _circle(element) -> Circle:
    return Circle(*(_number(element, name) for name in ("cx", "cy", "r")), **_paint(element))


def _polygon(element) -> Polygon:
    points = [float(part) for part in re.split(r"[ ,]+", element.get("points").strip())]
    return Polygon(points, **_paint(element))


def _path(element) -> Path:
    path = Path(**{**_paint(element), "fillColor": None})
    for first, x, y in _corners(element.get("d")):
        (path.moveTo if first else path.lineTo)(x, y)
    return path


def _corners(text: str) -> Iterator[tuple[bool, float, float]]:
    """Yield (whether a new line begins, x, y) of each corner of a path of straight lines."""
    x = y = 0.0
    steps = [letter or float(figure) for letter, figure in _STEP.findall(text)]
    command = "M"
    while steps:
        if isinstance(steps[0], str):
            command = steps.pop(0)
        moves = command.islower()
        if command in "MmLl":
            dx, dy = steps.pop(0), steps.pop(0)
            x, y = (x + dx, y + dy) if moves else (dx, dy)
        elif command in "Hh":
            x = steps.pop(0) + (x if moves else 0.0)
        else:
            y = steps.pop(0) + (y if moves else 0.0)
        yield command in "Mm", x, y


def _text(element) -> Group:
    """Text stands upright though the drawing is turned over."""
    size = _number(element, "font-size", 20)
    words = String(
        0,
        0,
        said("".join(element.itertext())).replace("\u2190", "<"),
        fontSize=size,
        fontName="Helvetica-Bold" if element.get("font-weight") else "Helvetica",
        textAnchor=element.get("text-anchor", "start"),
    )
    return Group(words, transform=(1, 0, 0, -1, _number(element, "x"), _number(element, "y")))


_SHAPES = {
    "rect": _rect,
    "circle": _circle,
    "polygon": _polygon,
    "path": _path,
    "text": _text,
}
