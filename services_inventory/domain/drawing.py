"""Plain SVG pictures for a page, a phone and a sheet of paper: boxes, lines, text and axes.

Drawn with attributes only, so that a strict content policy lets them through; every picture says
in words what it shows. Lengths are in px of the picture, upper left is 0, 0.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape

INK, GRID, PAPER = "#333333", "#dddddd", "#ffffff"


def picture(
    width: float,
    height: float,
    parts: Iterable[str],
    title: str,
    told: str = "",
    size: int = 12,
    role: str = "img",
) -> str:
    """Return one svg element that names and describes itself; `size` is that of its text, in px.

    It is as wide as it was drawn, so that its text has the size of the page's; a page may bound it.

    Without `told` the title is heard only, and no pointer that rests on the picture shows it.
    A picture with links in it is a `group`.
    """
    head = f"<title>{escape(title)}</title><desc>{escape(told)}</desc>" if told else ""
    return shape(
        "svg",
        head + shape("rect", width=width, height=height, fill=PAPER) + "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width:g} {height:.0f}",
        width=f"{width:g}",
        role=role,
        aria_label=f"{title}. {told}".removesuffix(". "),
        font_family="system-ui, sans-serif",
        font_size=size,
    )


def shape(tag: str, inner: str = "", **attributes) -> str:
    """Return an element: `stroke_width` writes stroke-width, None writes nothing.

    >>> shape("line", x1=0, x2=2.345, stroke_width=2, stroke_dasharray=None)
    '<line x1="0" x2="2.35" stroke-width="2"/>'
    """
    said = "".join(
        f' {name.replace("_", "-")}="{_written(value)}"'
        for name, value in attributes.items()
        if value is not None
    )
    return f"<{tag}{said}>{inner}</{tag}>" if inner else f"<{tag}{said}/>"


def _written(value) -> str:
    return f"{round(value, 2):.10g}" if isinstance(value, float) else escape(str(value))


def text(x: float, y: float, words: str, anchor: str = "start", fill: str = INK, **more) -> str:
    """Return words with a white edge, so that they read across lines."""
    edge = {"stroke": PAPER, "stroke_width": 3, "paint_order": "stroke"}
    at = {"x": float(x), "y": float(y), "text_anchor": anchor, "fill": fill}
    return shape("text", escape(words), **{**at, **edge, **more})


def path(way: str, stroke: str = INK, fill: str = "none", **more) -> str:
    """Return a path along SVG's own letters."""
    return shape("path", d=way, stroke=stroke, fill=fill, **more)


def ring(x: float, y: float, radius: float, stroke: str = INK, fill: str = PAPER) -> str:
    """Return a circle."""
    return shape("circle", cx=float(x), cy=float(y), r=float(radius), fill=fill, stroke=stroke)


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Return round values from low to high, at most so many steps apart.

    >>> ticks(0, 35), ticks(3, 9, 3)
    ([0, 10.0, 20.0, 30.0], [4.0, 6.0, 8.0])
    """
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    step = next(power * unit for unit in (1, 2, 5, 10) if (high - low) / (power * unit) <= most)
    first = math.ceil(low / step)
    return [step * tick for tick in range(first, math.floor(high / step + 1e-9) + 1)]


def apart(wanted: Iterable[tuple], gap: float, top: float) -> list[tuple]:
    """Return rows that begin with a y, from the top down, moved so that no two come closer."""
    moved, free = [], top - gap
    for y, *rest in sorted(wanted):
        free = max(y, free + gap)
        moved.append((free, *rest))
    return moved


@dataclass(frozen=True)
class Axes:
    """The box of a chart in px, and the figures at its edges: along it, and up."""

    left: float
    right: float
    top: float
    bottom: float
    longest: float
    highest: float
    first: float = 0.0
    lowest: float = 0.0

    def x(self, along):
        """Return where a figure along the box stands, or an array of figures."""
        span = self.longest - self.first
        return self.left + (self.right - self.left) * (along - self.first) / span

    def y(self, figure: float) -> float:
        """Return how low a figure stands; none above the box."""
        part = (min(figure, self.highest) - self.lowest) / (self.highest - self.lowest)
        return self.bottom - (self.bottom - self.top) * part

    def line(self, pairs: Iterable[tuple[float, float]], stroke: str, **more) -> str:
        """Return a line through (along, figure) pairs."""
        points = self._points(pairs)
        return shape("polyline", points=points, fill="none", stroke=stroke, **more)

    def band(self, low: Sequence, high: Sequence, fill: str, **more) -> str:
        """Return the area between two lines of (along, figure) pairs over the same places."""
        return shape("polygon", points=self._points([*low, *reversed(high)]), fill=fill, **more)

    def _points(self, pairs: Iterable[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(at):.1f},{self.y(figure):.1f}" for at, figure in pairs)

    def level(self, figure: float, stroke: str, **more) -> str:
        """Return a level line across the box."""
        return path(f"M{self.left:g} {self.y(figure):.1f}H{self.right:g}", stroke, **more)

    def upright(self, along: float, stroke: str = INK, **more) -> str:
        """Return an upright line through the box."""
        return path(f"M{self.x(along):.1f} {self.top:g}V{self.bottom:g}", stroke, **more)

    def grid(
        self,
        up: str,
        along: str,
        say_up: Callable[[float], str] = "{:,.0f}".format,
        say_along: Callable[[float], str] = "{:,.10g}".format,
        levels: dict[float, str] | None = None,
        places: dict[float, str] | None = None,
        name_below: float = 37,
    ) -> str:
        """Return the axes with their names and round figures, or with the words of given ones."""
        if levels is None:
            levels = {at: say_up(at) for at in ticks(self.lowest, self.highest)}
        if places is None:
            places = {at: say_along(at) for at in ticks(self.first, self.longest)}
        drawn = []
        for at, said in levels.items():
            drawn += [self.level(at, GRID), text(self.left - 6, self.y(at) + 5, said, "end")]
        for at, said in places.items():
            x = self.x(at)
            drawn.append(path(f"M{x:.1f} {self.bottom:g}v5"))
            drawn.append(text(x, self.bottom + 19, said, "middle"))
        drawn.append(path(f"M{self.left:g} {self.top:g}V{self.bottom:g}H{self.right:g}"))
        middle = (self.left + self.right) / 2
        named = text(4, 18, up), text(middle, self.bottom + name_below, along, "middle")
        return "".join([*drawn, *named])
