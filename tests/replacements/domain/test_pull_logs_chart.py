"""The chart of a pull: no peak lost, limits and events labeled, readable without seeing it."""

import io
import re
from xml.etree import ElementTree

import pytest

from fixtures.pull_logs import (
    Bump,
    synthetic_log,
)
from replacements.domain.pull_logs import Cylinder, assess, log_chart_svg, read
from tests.replacements.logs_made import make_clean_log, make_trouble_log

SVG = "{http://www.w3.org/2000/svg}"


def chart_of(text, length_ft, limits, how=None, **facts):
    log = read(io.BytesIO(text.encode()), cylinder=Cylinder(3.25, 1.5, 0.92))
    return log_chart_svg(log, assess(log, length_ft, 3840), limits, **(how or {}), **facts)


def trace_points(svg):
    path = next(
        p for p in ElementTree.fromstring(svg).iter(f"{SVG}path") if p.get("stroke") == "#111"
    )
    return [tuple(map(float, pair.split())) for pair in path.get("d")[1:].split("L")]


def test_is_well_formed_and_speaks():
    svg = chart_of(make_clean_log(), 35, {"cable": 3840})
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    assert "spike at 12.0 ft" in root.get("aria-label")
    assert "cable 3,840 lbf" in root.find(f"{SVG}desc").text
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert "cable 3,840" in texts
    assert "spike, 12.0 ft" in texts
    assert "Distance, ft" in texts


def test_the_rests_between_strokes_are_ticks_and_no_drops():
    text = synthetic_log(35, stroke_ft=2.5)
    by_distance, by_time = (
        chart_of(text, 35, {"cable": 3840}, {"by": by}) for by in ("distance", "time")
    )
    foot = 292
    ticks = re.findall(rf'd="M([\d.]+) {foot}v-8"', by_distance)
    assert len(ticks) >= 10 and f"{len(ticks)} rests between strokes" in by_distance
    assert "Ticks at the foot: a stroke ends" in by_distance
    low = [y for x, y in trace_points(by_distance) if 120 < x < 560 and y > foot - 12]
    assert not low and "v-8" not in by_time
    assert any(y > foot - 12 for x, y in trace_points(by_time) if 120 < x < 560)


def test_labels_are_escaped():
    svg = chart_of(make_clean_log(), 35, {'<script>"&': 3840})
    assert "<script>" not in svg
    ElementTree.fromstring(svg)


def test_a_single_high_sample_among_many_is_drawn():
    text = synthetic_log(
        35, bumps=[Bump(20, 0.05, 3700)], stroke_ft=None, interval_s=0.01, rate_ft_per_min=6
    )
    points = trace_points(chart_of(text, 35, {"cable": 4000}))
    assert len(points) < 2000
    highest = min(y for _, y in points)
    x = next(x for x, y in points if y == highest)
    assert x == pytest.approx(70 + 20 / 35 * 540, abs=2)
    limit = re.search(r'M70 ([\d.]+)H610" stroke="#a00"', chart_of(text, 35, {"cable": 4000}))
    assert highest > float(limit[1])  # below the limit's line: larger y


def test_by_time_and_with_the_estimate():
    svg = chart_of(make_trouble_log(), 60, {"cable": 3840}, {"by": "time"})
    assert "Time, s" in svg
    assert "stall, 31.0 ft" in svg
    estimate = [(0, 400, 750, 1500), (60, 500, 900, 1900)]
    svg = chart_of(make_trouble_log(), 60, {"cable": 3840}, {"estimate": estimate})
    assert "estimate 900" in svg
    assert "<polygon" in svg
    with pytest.raises(ValueError, match="by distance or by time"):
        chart_of(make_clean_log(), 35, {}, {"by": "color"})
