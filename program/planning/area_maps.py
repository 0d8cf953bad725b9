"""Small maps of the neighborhoods, each shaded by one number; of a number, the darkest has most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import cos, radians
from typing import Any

from services_inventory.domain.drawing import INK, PAPER, path, picture, shape, text

_SIDE, _EDGE, _SCALE = 230.0, 6.0, 24.0
_SHADES = ("#ffffff", "#d7e3e8", "#a9c3cd", "#75a0b0", "#3f7688")
_DARK = _SHADES[-2:]
_WIDE = 24.0  # px, so that a number has room


@dataclass(frozen=True)
class Area:
    """One area: its name, its number, the list behind it, its rings and a point within, degrees."""

    name: str
    number: int
    address: str
    rings: Sequence[Sequence[tuple[float, float]]]
    point: tuple[float, float]


def shade_of(number: int, most: int) -> int:
    """Return 0 for none, else a step from 1 to 4 by the share of the highest number.

    >>> [shade_of(number, 8) for number in (0, 1, 2, 3, 6, 8)]
    [0, 1, 1, 2, 3, 4]
    """
    return 0 if number <= 0 else -(-4 * number // max(1, most))


def shaded_map_svg(areas: Sequence[Area], title: str, day: str) -> str:
    """Return the map of areas, north up, with its scale of shades; an area leads to its list.

    The links are for a pointer: the table beside the maps has them for the keyboard.
    """
    x, y, tall = _places(areas)
    most = max((area.number for area in areas), default=0)
    drawn, numbers = [], []
    for area in areas:
        way = "".join(
            "M" + "L".join(f"{x(lon):.1f} {y(lat):.1f}" for lon, lat in ring) + "Z"
            for ring in area.rings
        )
        step = shade_of(area.number, most)
        told = f"{area.name}: {area.number:,}"
        inner = path(way, INK, _SHADES[step], stroke_width=0.7, fill_rule="evenodd")
        longitudes = [x(lon) for ring in area.rings for lon, _ in ring]
        if area.number and max(longitudes) - min(longitudes) >= _WIDE:
            plain: dict[str, Any] = {"fill": PAPER, "stroke": None}
            fill = plain if _SHADES[step] in _DARK else {}
            at = x(area.point[0]), y(area.point[1]) + 5
            numbers.append(text(*at, f"{area.number:,}", "middle", pointer_events="none", **fill))
        inner = shape("title", escape(told)) + inner
        if area.number:
            inner = shape("a", inner, href=area.address, aria_label=told, tabindex=-1)
        drawn.append(inner)
    told = ", ".join(f"{area.name} {area.number:,}" for area in areas if area.number)
    told = f"On {day}: {told}." if told else f"On {day}: none anywhere."
    scale = _scale(most, tall)
    return picture(_SIDE, tall + _SCALE, [*drawn, *numbers, *scale], title, told, 15, "group")


def _places(areas: Sequence[Area]):
    """Return what puts a longitude and a latitude on the picture, and how high the map is."""
    points = [point for area in areas for ring in area.rings for point in ring]
    west, east = (edge(lon for lon, _ in points) for edge in (min, max))
    south, north = (edge(lat for _, lat in points) for edge in (min, max))
    narrow = cos(radians((south + north) / 2))  # a degree east is shorter than one north
    step = (_SIDE - 2 * _EDGE) / max((east - west) * narrow, north - south, 1e-9)
    left = (_SIDE - step * (east - west) * narrow) / 2
    tall = step * (north - south) + 2 * _EDGE
    return (
        lambda lon: left + step * (lon - west) * narrow,
        lambda lat: _EDGE + step * (north - lat),
        tall,
    )


def _scale(most: int, top: float) -> list[str]:
    """The steps of shade, from none to the highest number."""
    parts = [text(_EDGE, top + 16, "0")]
    for step, fill in enumerate(_SHADES):
        parts.append(
            shape("rect", x=22 + 22 * step, y=top + 6, width=22, height=11, fill=fill, stroke=INK)
        )
    return [*parts, text(28 + 22 * len(_SHADES), top + 16, f"{most:,}")]
