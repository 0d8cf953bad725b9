"""Drawings of the plan: the fan of forecast rates and the crews' calendar."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from html import escape
from math import cos, radians

from program.planning.forecast import Forecast
from services_inventory.domain.days import day_told
from services_inventory.domain.drawing import Axes, apart, path, picture, ring, shape, text

_INK, _NEED = "#12323f", "#8a1c1c"


def fan_chart_svg(
    result: Forecast,
    title: str = "Cumulative average replacement rate",
    scale: tuple[float, float] | None = None,
    width: int = 480,
) -> str:
    """The fan of rates by program year against the required rate, as one SVG picture.

    scale : lowest and highest rate, where several fans share one

    Bands are told apart by shade, the middle by a solid and the requirement by a dashed line, and
    every figure is also in the picture's description.
    """
    required = result.required_rate
    least = min(min(min(row) for row in result.fan), required)
    most = max(max(max(row) for row in result.fan), required)
    least, most = scale or (least, most)
    # The scale is that of the fan, not from 0, or the fan would be a hairline.
    air = (most - least or most or 1.0) / 8
    high, low = most + air, max(0.0, least - air)
    steps = max(1, len(result.years) - 1)
    axes = Axes(56, width - 16, 34, 278, steps, high, lowest=low)
    columns = [list(enumerate(column)) for column in zip(*result.fan, strict=True)]
    told = " ".join(
        f"Year {year}: middle {row[2]:.2%}, nine in ten runs between {row[0]:.2%} and {row[4]:.2%}."
        for year, row in zip(result.years, result.fan, strict=True)
    )
    parts = [
        axes.grid(
            title if low == 0 else f"{title} (the scale begins at {low:.1%})",
            "program year", "{:.1%}".format,
            places={at: f"{year}" for at, year in enumerate(result.years)},
        ),
        axes.band(columns[0], columns[4], "#1f5673", fill_opacity=0.2),
        axes.band(columns[1], columns[3], "#1f5673", fill_opacity=0.35),
        axes.line(columns[2], _INK, stroke_width=2),
        axes.level(required, _NEED, stroke_width=2, stroke_dasharray="6 4"),
        text(width - 16, axes.y(required) - 5, f"required {required:.2%}", "end"),
    ]  # fmt: skip
    return picture(width, 320, parts, title, f"{told} Required: {required:.2%}.", 13)


def pace_svg(pace) -> str:
    """Needed, planned and done by week of one program year, with the fan of the forecast.

    Needed is dashed, planned a thin and done a thick line; each says its figure at the right.

    Parameters
    ----------
    pace : Pace
    """
    weeks, first = pace.weeks, pace.row.first_day
    figures = [w for week in weeks for w in (week.needed, week.planned, week.high, week.done)]
    high = max((figure for figure in figures if figure), default=1) * 1.1
    days = (pace.row.last_day - first).days + 1
    axes = Axes(40, 336, 38, 218, days, high)

    def run(name: str) -> list[tuple[int, float]]:
        pairs = [((week.last_day - first).days + 1, getattr(week, name)) for week in weeks]
        return [(at, figure) for at, figure in pairs if figure is not None]

    months = {(month - first).days: f"{month:%b}" for month in _months(first, pace.row.last_day)}
    places = {at: name for at, name in months.items() if 0 <= at}
    places = dict(list(places.items())[::2])
    parts = [axes.grid("Lines replaced, from the year's first day", "", places=places)]
    if low := run("low"):
        parts.append(axes.band(low, run("high"), "#1f5673", fill_opacity=0.2))
    now = (pace.as_of - first).days + 1
    parts += [axes.upright(now, "#777777"), text(axes.x(now) + 3, 36, "today")]
    told = []
    for name, word, stroke, width, dashes in (
        ("needed", "needed", _NEED, 2, "6 4"),
        ("planned", "planned", _INK, 1.5, None),
        ("done", "replaced", _INK, 4, None),
    ):
        if pairs := run(name):
            start = [(0, 0)] if name != "planned" else []
            look = {"stroke_width": width, "stroke_dasharray": dashes}
            parts.append(axes.line([*start, *pairs], stroke, **look))
            told.append((axes.y(pairs[-1][1]), f"{pairs[-1][1]:,.0f} {word}", stroke, look))
    for y, words, stroke, look in apart(told, 16, 30):
        # Beside the box with a piece of its line, where it lies on no other.
        parts.append(path(f"M{axes.right + 5:g} {y:.1f}h16", stroke, **look))
        parts.append(text(axes.right + 26, y + 4, words))
    title = f"Pace of program year {pace.row.number}"
    return picture(476, 246, parts, title, pace.sentence(), 14)


def due_svg(duties, as_of: date, address: Callable[[str], str]) -> str:
    """What is due as a row a duty: a ring a day, on a track from past to coming days.

    Parameters
    ----------
    duties : each with what, number and days, the first due first
    address : the list of a duty
    """
    past, coming = 30, 30
    axes = Axes(10, 430, 40, 42 + 44 * len(duties), past + coming, 1)
    parts = [text(10, 18, "overdue"), text(axes.x(past), 18, "today", "middle")]
    parts.append(text(430, 18, f"in {coming} days", "end"))
    for row, duty in enumerate(duties):
        y = 74 + 44 * row
        first = duty.days[0][0]
        words = duty.what if len(duty.what) <= 46 else f"{duty.what[:45]}…"
        many = f"{duty.number:,} × " if duty.number > 1 else ""
        inner = [
            shape("title", escape(f"{many}{duty.what}, from {day_told(first)}")),
            text(10, y - 18, f"{many}{words}"),
            text(430, y - 18, f"{first:%b} {first.day}", "end"),
            path(f"M10 {y}H430M{axes.x(past):g} {y - 8}v16", "#999999"),
        ]
        for day, _ in duty.days:
            late = day < as_of
            at = min(max(0, past + (day - as_of).days), past + coming)
            inner.append(ring(axes.x(at), y, 6, _NEED if late else _INK, _NEED if late else "#fff"))
        parts.append(shape("a", "".join(inner), href=address(duty.what)))
    told = "; ".join(
        f"{duty.number:,} {duty.what}, first on {day_told(duty.days[0][0])}" for duty in duties
    )
    return picture(440, 54 + 44 * len(duties), parts, "What is due", told, 14, "group")


def year_map_svg(spots, box: tuple[float, float, float, float], title: str) -> str:
    """Work areas as circles with their program year, north up, larger for more jobs.

    Parameters
    ----------
    spots : (longitude, latitude, program year, jobs) of each area
    box : least and greatest longitude and latitude, west and south first
    """
    west, south, east, north = box
    # A degree east is shorter than one north.
    narrow = cos(radians((south + north) / 2))
    wide, high = (east - west) * narrow, north - south
    step = 270 / max(wide, high, 1e-9)
    parts = [text(4, 18, title)]
    most = max((jobs for *_, jobs in spots), default=1) or 1
    for lon, lat, year, jobs in sorted(spots, key=lambda spot: -spot[3]):
        x, y = 32 + step * (lon - west) * narrow, 56 + step * (north - lat)
        parts.append(ring(x, y, 9 + 11 * (jobs / most) ** 0.5, _INK, "#e4ecf0"))
        parts.append(text(x, y + 5, f"{year}", "middle"))
    counts = Counter(year for _, _, year, _ in spots)
    told = ", ".join(f"year {year} {number}" for year, number in sorted(counts.items()))
    told = f"Areas: {told}." if told else ""
    return picture(334, 88 + step * high, parts, title, told, 14)


def costs_svg(rows, years: list[int], most: float, title: str) -> str:
    """The cost of each program year as a bar, with its budget as a dash across and its crews below.

    Parameters
    ----------
    rows : the plan's years as they are kept
    years : all years of the scale, and `most` its highest cost
    """
    high = 1.15 * (most or 1.0)
    axes = Axes(80, 318, 34, 250, max(1, len(years)), high)
    by_year = {row["year"]: row for row in rows}
    places = {at + 0.5: f"{year}" for at, year in enumerate(years)}
    parts = [axes.grid(title, "program year, crews below", "${:,.0f}".format, places=places)]
    for at, year in enumerate(years):
        if not (row := by_year.get(year)):
            continue
        left, right, top = axes.x(at + 0.2), axes.x(at + 0.8), axes.y(row["cost"])
        parts.append(
            shape("rect", x=left, y=top, width=right - left, height=250 - top, fill="#cfdde4",
                  stroke=_INK)
        )  # fmt: skip
        if row["budget"] is not None and row["budget"] <= high:
            budget = axes.y(row["budget"])
            way = f"M{axes.x(at + 0.1):.1f} {budget:.1f}H{axes.x(at + 0.9):.1f}"
            parts.append(path(way, _NEED, stroke_width=2, stroke_dasharray="6 4"))
        crews = f"{row.get('crews') or '–'}"
        parts.append(text((left + right) / 2, 310, crews, "middle"))
    told = "; ".join(
        f"year {row['year']} ${row['cost']:,.0f} with {row.get('crews') or 'no'} crews"
        for row in rows
    )
    return picture(334, 318, parts, title, told, 12)


def waits_svg(rows, title: str) -> str:
    """Mean waits as bars, one a quarter, with the years written behind each.

    Parameters
    ----------
    rows : Quarter, in the order to be shown
    """
    told = [(row.label, row.years) for row in rows if row.years is not None]
    most = max((years for _, years in told), default=0) or 1
    parts = [text(4, 16, title)]
    for k, (label, years) in enumerate(told):
        y, width = 28 + 26 * k, 250 * years / most
        parts += [
            text(4, y + 14, label),
            shape("rect", x=92, y=y, width=max(1.0, width), height=18, fill="#cfdde4", stroke=_INK),
            text(98 + width, y + 14, f"{years:.1f} years"),
        ]
    said = "; ".join(f"{label} {years:.1f} years" for label, years in told)
    return picture(430, 36 + 26 * len(told), parts, title, said, 13)


def gantt_svg(rows, title: str = "Crew calendar") -> str:
    """The crews' year as bars, one line per crew and area, with months along the top.

    Parameters
    ----------
    rows : CalendarRow, in the order to be shown.

    Each bar carries its area, dates and jobs as text; nothing is told by color alone.
    """
    rows = list(rows)
    if not rows:
        return picture(640, 40, [text(8, 24, "No work is planned.")], title)
    start, finish = min(row.start for row in rows), max(row.finish for row in rows)
    first = start.replace(day=1)
    height = 44 + 22 * len(rows)
    axes = Axes(170, 892, 26, height, max(1, (finish - first).days + 1), 1)
    parts = [text(4, 16, title, font_weight="bold")]
    for month in _months(first, finish):
        at = (month - first).days
        parts += [axes.upright(at, "#bbb"), text(axes.x(at) + 2, 38, f"{month:%b}")]
    parts += [_bar(row, 44 + 22 * k, axes, first) for k, row in enumerate(rows)]
    areas = f"{len(rows)} area{'s' if len(rows) != 1 else ''}"
    told = f"{areas} from {day_told(start)} to {day_told(finish)}."
    return picture(900, height, parts, title, told, 12)


def _bar(row, y: float, axes: Axes, first: date) -> str:
    start, end = (axes.x((day - first).days) for day in (row.start, row.finish + timedelta(1)))
    label = f"Crew {row.crew}: {row.area_id}"
    days = f"{day_told(row.start)} to {day_told(row.finish)}"
    jobs = f"{row.jobs} job{'s' if row.jobs != 1 else ''}"
    # Where the bar is too narrow for its number, this stands behind it.
    at = start + 3 if end - start > 9 * len(f"{row.jobs}") else end + 4
    parts = (
        shape("title", escape(f"{label}, {jobs}, {days}")),
        text(4, y + 14, label if len(label) <= 25 else f"{label[:24]}…"),
        shape("rect", x=start, y=y + 3, width=max(2.0, end - start), height=15,
              fill="#cfdde4", stroke=_INK),
        text(at, y + 14, f"{row.jobs}", fill="#000", stroke=None, stroke_width=None),
    )  # fmt: skip
    return shape("g", "".join(parts))


def _months(first: date, last: date):
    month = first
    while month <= last:
        yield month
        month = (month + timedelta(32)).replace(day=1)
