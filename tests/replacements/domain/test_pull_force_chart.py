"""The chart as a reader, a screen reader and a strict content policy meet it."""

import re
from dataclasses import dataclass
from xml.etree import ElementTree

import pytest

from replacements.domain.pull_force import Bore, Limit, PullCase, estimate, force_chart_svg
from services_inventory.domain.drawing import ticks

SVG = "{http://www.w3.org/2000/svg}"


def made(**changes):
    given = {
        "old_pipe": Bore(0.75, 1.212),
        "new_pipe": Bore(0.875, 1.125),
        "expander_in": 1.5,
        "length_ft": 60.0,
        "cover_ft": 5.0,
        "soil": "MEDIUM_SAND",
        "bends": [(20, 45)],
        "joints": [(12, 0.45, 5000)],
        "limits_lbf": dict.fromkeys(Limit, 3840.0),
        "pipe_weight_lb_ft": 0.17,
        "pipe_allowable_lbf": 550.0,
        "grip_efficiency": 1.0,
    }
    return estimate(PullCase(**(given | changes)))


def tree(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def words(svg: str) -> list[str]:
    return [text.text for text in tree(svg).iter(f"{SVG}text")]


def test_names_itself_to_a_screen_reader():
    root = tree(force_chart_svg(made()))
    assert root.get("role") == "img"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("aria-label") == f"{title.text}. {desc.text}"
    assert "No-go" in title.text
    for needed in ("2,446", "550", "3,840", "45 degrees at 20 ft", "joint at 12 ft"):
        assert needed in desc.text


def test_lines_are_named_where_they_run():
    text = words(force_chart_svg(made()))
    assert "limit of drag: new pipe 550" in text
    assert any(label.startswith("limit of total: cable 3,840") for label in text)
    assert any(label.startswith("total ") for label in text)
    assert any(label.startswith("drag on new pipe ") for label in text)
    assert "bend 45\N{DEGREE SIGN}" in text
    assert "wiped joint 2,446" in text


def test_a_limit_far_above_is_told_not_drawn():
    svg = force_chart_svg(made(limits_lbf=dict.fromkeys(Limit, 90_000.0)))
    assert any("90,000 (above the chart)" in label for label in words(svg))


def test_no_rating_draws_no_limit():
    svg = force_chart_svg(made(limits_lbf={}, pipe_allowable_lbf=None))
    assert not any("limit" in label for label in words(svg))


def test_everything_stays_on_the_drawing():
    svg = force_chart_svg(made(), log=[(0, 10), (12, 9000), (60, 800)])
    root = tree(svg)
    width, height = map(float, root.get("viewBox").split()[2:])
    for line in root.iter(f"{SVG}polyline"):
        for pair in line.get("points").split():
            x, y = map(float, pair.split(","))
            assert 0 <= x <= width
            assert 0 <= y <= height
    for text in root.iter(f"{SVG}text"):
        assert 0 <= float(text.get("y")) <= height


def test_right_hand_labels_do_not_touch():
    svg = force_chart_svg(made(), log=[(0, 10), (60, 1000)])
    ends = [t for t in tree(svg).iter(f"{SVG}text") if t.get("text-anchor") == "end"]
    heights = sorted(float(t.get("y")) for t in ends if float(t.get("x")) > 400)
    assert len(heights) == 5
    assert all(b - a >= 16 for a, b in zip(heights, heights[1:], strict=False))


@dataclass
class Log:
    distance_ft: list
    force_lbf: list


def test_a_long_log_keeps_its_peak():
    log = Log([i * 60 / 50_000 for i in range(50_000)], [500.0] * 50_000)
    log.force_lbf[33_333] = 4_321.0
    svg = force_chart_svg(made(), log)
    assert "peaked at 4,321 lb" in svg
    assert len(svg) < 40_000
    assert "measured 500" in words(svg)


def test_the_measured_total_is_named_where_the_puller_still_pulls():
    log = [(at, 900.0 + at) for at in range(60)] + [(60, 3.0)]
    assert "measured 959" in words(force_chart_svg(made(), log))


def test_gaps_in_a_log_are_passed_over():
    svg = force_chart_svg(made(), [(0, 100), (1, float("nan")), (2, 200)])
    assert "nan" not in svg


def test_needs_no_style_script_or_outside_file():
    svg = force_chart_svg(made())
    assert not re.search(r"<style|style=|<script|href=|url\(|on\w+=", svg)


def test_text_is_readable_at_phone_width():
    """At 360 px the drawing is scaled by 360 over its width; 10 px is our floor."""
    root = tree(force_chart_svg(made()))
    width = float(root.get("viewBox").split()[2])
    assert float(root.get("font-size")) * 360 / width >= 10


@pytest.mark.parametrize(
    "top, expected",
    [(6, [0, 1, 2, 3, 4, 5, 6]), (35, [0, 10, 20, 30]), (0.5, [0, 0.1, 0.2, 0.3, 0.4, 0.5])],
)
def test_ticks_are_round(top, expected):
    assert ticks(0, top) == pytest.approx(expected)
