"""Plain drawings of the plan: the fan of forecast rates and the crews' calendar, as SVG text."""

from __future__ import annotations

from datetime import date, timedelta
from html import escape

from program.planning.forecast import Forecast

_WIDTH, _HEIGHT, _LEFT, _TOP, _RIGHT, _BOTTOM = 640, 320, 56, 34, 16, 40


def fan_chart_svg(result: Forecast, title: str = "Cumulative average replacement rate") -> str:
    """The fan of rates by program year against the required rate, as one SVG picture.

    Bands are told apart by shade, the middle by a solid and the requirement by a dashed line, and
    every figure is also in the picture's description.
    """
    high = max(max(max(row) for row in result.fan), result.required_rate) * 1.1 or 1.0
    steps = max(1, len(result.years) - 1)

    def spot(k: int, rate: float) -> tuple[float, float]:
        x = _LEFT + (_WIDTH - _LEFT - _RIGHT) * k / steps
        return x, _TOP + (_HEIGHT - _TOP - _BOTTOM) * (1 - rate / high)

    def at(k: int, rate: float) -> str:
        x, y = spot(k, rate)
        return f"{x:.1f},{y:.1f}"

    columns = list(zip(*result.fan, strict=True))
    bands = "".join(
        f'<polygon points="{" ".join(at(k, v) for k, v in enumerate(columns[lower]))} '
        f'{" ".join(at(k, v) for k, v in reversed(list(enumerate(columns[upper]))))}" '
        f'fill="#1f5673" fill-opacity="{shade}"/>'
        for lower, upper, shade in ((0, 4, 0.2), (1, 3, 0.35))
    )
    middle = " ".join(at(k, v) for k, v in enumerate(columns[2]))
    need = f"{at(0, result.required_rate)} {at(steps, result.required_rate)}"
    labels = "".join(
        f'<text x="{spot(k, 0)[0]:.1f}" y="{_HEIGHT - 20}" text-anchor="middle">{year}</text>'
        for k, year in enumerate(result.years)
    )
    ticks = "".join(
        f'<text x="{_LEFT - 6}" y="{spot(0, high * s / 4)[1] + 4:.1f}" '
        f'text-anchor="end">{high * s / 4:.1%}</text>'
        for s in range(5)
    )
    told = " ".join(
        f"Year {year}: middle {row[2]:.2%}, nine in ten runs between {row[0]:.2%} and {row[4]:.2%}."
        for year, row in zip(result.years, result.fan, strict=True)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'font-family="sans-serif" font-size="12"><title>{escape(title)}</title>'
        f"<desc>{escape(told)} Required: {result.required_rate:.2%}.</desc>"
        f'<text x="{_LEFT}" y="18" font-weight="bold">{escape(title)}</text>{bands}'
        f'<polyline points="{middle}" fill="none" stroke="#12323f" stroke-width="2"/>'
        f'<polyline points="{need}" fill="none" stroke="#8a1c1c" stroke-width="2" '
        f'stroke-dasharray="6 4"/>{labels}{ticks}'
        f'<text x="{_WIDTH - _RIGHT}" y="{spot(0, result.required_rate)[1] - 5:.1f}" '
        f'text-anchor="end">required {result.required_rate:.2%}</text>'
        f'<text x="{_WIDTH / 2:.0f}" y="{_HEIGHT - 4}" text-anchor="middle">'
        "program year</text></svg>"
    )


def gantt_svg(rows, title: str = "Crew calendar") -> str:
    """The crews' year as bars, one line per crew and area, with months along the top.

    Parameters
    ----------
    rows : CalendarRow, in the order to be shown.

    Each bar carries its area, dates and jobs as text; nothing is told by color alone.
    """
    rows = list(rows)
    if not rows:
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} 40" role="img">'
            f'<title>{escape(title)}</title><text x="8" y="24">No work is planned.</text></svg>'
        )
    first = min(row.start for row in rows).replace(day=1)
    days = max(1, (max(row.finish for row in rows) - first).days + 1)
    left, width, line = 150, 900, 22

    def x_of(day: date) -> float:
        return left + (width - left - 8) * (day - first).days / days

    height = 44 + line * len(rows)
    months = "".join(
        f'<line x1="{x_of(m):.1f}" x2="{x_of(m):.1f}" y1="26" y2="{height}" stroke="#bbb"/>'
        f'<text x="{x_of(m) + 2:.1f}" y="38">{m:%b}</text>'
        for m in _months(first, first + timedelta(days))
    )
    bars = "".join(_bar(row, 44 + line * k, x_of) for k, row in enumerate(rows))
    told = f"{len(rows)} areas from {min(r.start for r in rows)} to {max(r.finish for r in rows)}."
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'font-family="sans-serif" font-size="11"><title>{escape(title)}</title>'
        f"<desc>{escape(told)}</desc>"
        f'<text x="4" y="16" font-weight="bold">{escape(title)}</text>{months}{bars}</svg>'
    )


def _bar(row, y: float, x_of) -> str:
    start, end = x_of(row.start), x_of(row.finish + timedelta(1))
    label = f"Crew {row.crew}: {row.area_id}"
    told = f"{label}, {row.jobs} jobs, {row.start} to {row.finish}"
    return (
        f'<g><title>{escape(told)}</title><text x="4" y="{y + 14:.0f}">{escape(label)}</text>'
        f'<rect x="{start:.1f}" y="{y + 3:.0f}" width="{max(2.0, end - start):.1f}" height="15" '
        f'fill="#cfdde4" stroke="#12323f"/>'
        f'<text x="{start + 3:.1f}" y="{y + 14:.0f}">{row.jobs}</text></g>'
    )


def _months(first: date, last: date):
    month = first
    while month < last:
        yield month
        month = (month + timedelta(32)).replace(day=1)
