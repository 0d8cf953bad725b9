"""A service line drawn from the main to the building, each portion in its material's pattern.

Patterns are those of the categories, so that print and color-blind eyes read them: lead solid,
galvanized double, unknown dotted, neither of them dashed. Not to scale: the record knows
portions, not places.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from .drawing import INK, path, picture, ring, shape, text
from .evidence.records import Portion

WIDTH, HEIGHT, PIPE_Y, GROUND_Y = 720, 168, 92, 44
LEAD, GALVANIZED, UNKNOWN, NEITHER, NOTHING = "lead", "galvanized", "unknown", "neither", "nothing"
# Its way from left to right, and where its name stands: a connector's above the ground, as there
# is little room.
_WAYS = {
    Portion.CONNECTOR: (f"M72 {PIPE_Y}C84 46 116 46 130 {PIPE_Y}", 72, 130, 18),
    Portion.SYSTEM: (f"M130 {PIPE_Y}H322", 132, 320, PIPE_Y + 36),
    Portion.CUSTOMER: (f"M342 {PIPE_Y}H566", 344, 564, PIPE_Y + 36),
}
_LOOKS: dict[str, tuple[dict[str, Any], ...]] = {
    LEAD: ({"stroke": "#3d2c4f", "stroke_width": 9},),
    GALVANIZED: (
        {"stroke": "#7d4a12", "stroke_width": 10},
        {"stroke": "#ffffff", "stroke_width": 4},
    ),
    UNKNOWN: (
        {
            "stroke": "#56636b",
            "stroke_width": 7,
            "stroke_dasharray": "1 11",
            "stroke_linecap": "round",
        },
    ),
    NEITHER: ({"stroke": "#1f6b57", "stroke_width": 7, "stroke_dasharray": "16 6"},),
    NOTHING: (),
}


@dataclass(frozen=True)
class DrawnPortion:
    """One portion as it is drawn: how it looks, its words, and where a click on it leads."""

    portion: Portion
    look: str
    words: str
    address: str = ""


def look_of(code: str) -> str:
    """Return how a material's or connector's code is drawn.

    >>> look_of("LEAD_LINED_GALVANIZED"), look_of("COPPER"), look_of("UNKNOWN"), look_of("NONE")
    ('lead', 'neither', 'unknown', 'nothing')
    """
    if code in ("LEAD", "LEAD_LINED_GALVANIZED"):
        return LEAD
    return {"GALVANIZED": GALVANIZED, "UNKNOWN": UNKNOWN, "NONE": NOTHING}.get(code, NEITHER)


def line_drawing(portions: Iterable[DrawnPortion]) -> str:
    """Return the svg of a line; every portion that has an address is a link to it."""
    rows = sorted(portions, key=lambda row: _WAYS[row.portion][1])
    told = "; ".join(f"{row.portion.label}: {row.words}" for row in rows)
    parts = [_ground(), *map(_portion, rows), _fittings()]
    role = "group" if any(row.address for row in rows) else "img"
    return picture(
        WIDTH, HEIGHT, parts, f"From the main to the building. {told}", role=role, size=14
    )


def in_pattern(way: str, look: str, scale: float = 1.0) -> str:
    """Return a path in a pattern, its strokes as thick as in the drawing of a line times scale."""
    strokes = ({**style, "stroke_width": style["stroke_width"] * scale} for style in _LOOKS[look])
    return "".join(path(way, **style) for style in strokes)


def swatch(look: str) -> str:
    """Return a short piece of pipe in a pattern, for a heading beside the drawing."""
    return shape(
        "svg",
        in_pattern("M2 7H62", look),
        viewBox="0 0 64 14",
        width=64,
        height=14,
        aria_hidden="true",
    )


def _portion(row: DrawnPortion) -> str:
    way, left, right, low = _WAYS[row.portion]
    middle = (left + right) / 2
    pipe = in_pattern(way, row.look)
    name = text(middle, low, row.portion.label, "middle", font_weight=600)
    words = row.words.removesuffix(f" {row.portion.label}")
    drawn = pipe + name + text(middle, low + 18, words, "middle")
    if not row.address:
        return drawn
    top, bottom = min(low - 14, PIPE_Y - 24), max(low + 24, PIPE_Y + 16)
    reach = shape("rect", x=left, y=top, width=right - left, height=bottom - top, fill_opacity=0)
    label = f"Record what was seen of the {row.portion.label}: now {row.words}"
    return shape("a", drawn + reach, href=row.address, aria_label=label)


def _ground() -> str:
    return path(f"M0 {GROUND_Y}H606", "#a39d8b", stroke_width=2) + path(
        f"M332 {GROUND_Y - 6}V{HEIGHT - 40}", "#a39d8b", stroke_dasharray="3 5"
    )


def _fittings() -> str:
    house = path(f"M606 {PIPE_Y + 34}V40L655 10L704 40V{PIPE_Y + 34}Z", INK, stroke_width=2)
    stop = path(
        f"M322 {PIPE_Y - 9}L342 {PIPE_Y + 9}V{PIPE_Y - 9}L322 {PIPE_Y + 9}Z", INK, "#ffffff"
    )
    box = path(f"M332 {PIPE_Y - 9}V{GROUND_Y}", INK, stroke_width=2)
    into = path(f"M590 {PIPE_Y}H640", INK, stroke_width=3)
    return "".join([
        house, box, stop, into, ring(46, PIPE_Y, 26), ring(578, PIPE_Y, 12),
        text(46, PIPE_Y + 5, "main", "middle"),
        text(332, GROUND_Y - 12, "curb stop", "middle"),
        text(578, PIPE_Y + 5, "M", "middle"), text(578, PIPE_Y - 20, "meter", "middle"),
        text(655, 72, "building", "middle"),
    ])  # fmt: skip
