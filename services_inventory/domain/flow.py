"""A picture of how lines move between categories: before on the left, after on the right."""

from collections.abc import Mapping, Sequence

from services_inventory.domain.drawing import PAPER, path, picture, shape, text

WIDTH, BAR, TOP, HIGH, GAP = 420.0, 10.0, 30.0, 150.0, 26.0
SIDE = 116.0
LEAST = 2.0  # px, so that one line of a million is still seen
TONES = ("#333333", "#777777", "#bbbbbb", "#999999", "#555555")


def flow(moves: Sequence[tuple[str, str, int]], words: Mapping[str, str], title: str) -> str:
    """Return the picture of (before, after, lines); `words` has every category in its order.

    A band is as high as its share of the lines; its figures stand in a table besides.
    """
    total = sum(lines for *_, lines in moves) or 1
    high = {move[:2]: max(LEAST, HIGH * move[2] / total) for move in moves}
    order = list(words)
    sides = [[one for one in order if any(pair[at] == one for pair in high)] for at in (0, 1)]
    free = [_places(high, sides[at], at) for at in (0, 1)]
    parts, lowest = [], max(max(place.values(), default=TOP) for place in free)
    for at, x, anchor in ((0, SIDE, "end"), (1, WIDTH - SIDE - BAR, "start")):
        for one in sides[at]:
            tall = sum(h for pair, h in high.items() if pair[at] == one)
            lines = sum(n for *pair, n in moves if pair[at] == one)
            y = free[at][one]
            lowest = max(lowest, y + tall)
            fill = TONES[order.index(one) % len(TONES)]
            parts.append(shape("rect", x=x, y=y, width=BAR, height=tall, fill=fill))
            along = x - 6 if at == 0 else x + BAR + 6
            parts += _label(along, y, words[one], lines, anchor)
    bands = []
    starts = [dict(place) for place in free]
    for one in order:
        for other in order:
            if (one, other) in high:
                bands.append(_band(starts, one, other, high[one, other]))
    told = "; ".join(f"{words[a]} to {words[b]}: {n:,}" for a, b, n in moves)
    return picture(WIDTH, lowest + 24, [*bands, *parts], title, told)


def _places(high: Mapping[tuple, float], side: Sequence[str], at: int) -> dict[str, float]:
    """Where each bar of a side begins; far enough apart for two lines of words."""
    places, y = {}, TOP
    for one in side:
        places[one] = y
        y += max(sum(h for pair, h in high.items() if pair[at] == one) + 8, GAP + 8)
    return places


def _label(x: float, y: float, words: str, lines: int, anchor: str) -> list[str]:
    return [text(x, y + 10, words, anchor), text(x, y + 24, f"{lines:,}", anchor, fill="#555555")]


def _band(starts: list[dict[str, float]], one: str, other: str, tall: float) -> str:
    left, right = SIDE + BAR, WIDTH - SIDE - BAR
    middle = (left + right) / 2
    y, to = starts[0][one], starts[1][other]
    starts[0][one], starts[1][other] = y + tall, to + tall
    way = (
        f"M{left:.1f} {y:.1f}C{middle:.1f} {y:.1f} {middle:.1f} {to:.1f} {right:.1f} {to:.1f}"
        f"v{tall:.1f}C{middle:.1f} {to + tall:.1f} {middle:.1f} {y + tall:.1f} {left:.1f} "
        f"{y + tall:.1f}Z"
    )
    return path(way, PAPER, "#dddddd" if one != other else "#eeeeee", stroke_width=0.5)
