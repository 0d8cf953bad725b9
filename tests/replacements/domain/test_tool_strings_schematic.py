"""The drawing of a string: well formed, to scale, in order, and told in words as well."""

import re
from xml.etree import ElementTree

import pytest

from replacements.domain.tool_strings import (
    Facing,
    Kind,
    ToolString,
    check,
    key_told,
    named,
    side_view,
)

from .tools import DAY, NEW, OLD, as_built, good_string, tools

SVG = "{http://www.w3.org/2000/svg}"


def drawn(string, findings=()):
    return ElementTree.fromstring(side_view(string, OLD, NEW, findings))


def outline(root, number):
    """The polygon drawn just before a part's number."""
    elements = list(root)
    at = next(i for i, e in enumerate(elements) if e.tag == f"{SVG}text" and e.text == str(number))
    polygon = next(e for e in reversed(elements[:at]) if e.tag == f"{SVG}polygon")
    return [tuple(map(float, point.split(","))) for point in polygon.get("points").split()]


def inches_per_px(root):
    """The scale, from the bar that stands for one inch."""
    bar = next(e.get("d") for e in root if "v12m0 -6h" in (e.get("d") or ""))
    return 1 / float(re.search(r"h([\d.]+)", bar).group(1))


def spread(points, axis):
    values = [point[axis] for point in points]
    return max(values) - min(values)


def test_it_has_a_role_a_title_and_a_description():
    root = drawn(good_string())
    assert root.get("role") == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("aria-label") == f"{title.text}. {description.text}"
    assert "Blade BL-1, Pre-expander PR-1, Spacer SP-1, Expander EX-1" in description.text


@pytest.mark.parametrize(
    ("kind", "length", "across"),
    [(Kind.BLADE, 3, 1.375), (Kind.EXPANDER, 4, 1.34), (Kind.SPACER, 3, 0.6)],
)
def test_lengths_and_widths_share_the_stated_scale(kind, length, across):
    root = drawn(good_string())
    number = next(i for i, c in enumerate(tools(), start=1) if c.kind is kind)
    points, scale = outline(root, number), inches_per_px(root)
    assert spread(points, 0) * scale == pytest.approx(length, abs=0.02)
    assert spread(points, 1) * scale == pytest.approx(across, abs=0.02)


def test_parts_stand_in_order_from_left_to_right():
    root = drawn(good_string())
    starts = [min(x for x, _ in outline(root, number)) for number in range(3, 8)]
    assert starts == sorted(starts)


@pytest.mark.parametrize("facing", Facing)
def test_the_blade_is_drawn_as_it_was_recorded(facing):
    """Flat to the old pipe: the tall edge is left of the taper's end."""
    points = outline(drawn(as_built(tools(), blade_facing=facing)), 3)
    tallest = max(abs(y - points[0][1]) for _, y in points)
    tall_at = [x for x, y in points if abs(y - points[0][1]) == tallest]
    rightmost = max(x for x, _ in points)
    assert (max(tall_at) < rightmost) == (facing is Facing.FLAT_TO_OLD_PIPE)


def test_how_much_is_wrong_is_told_to_those_who_hear_the_page():
    string = good_string(blade={"outside_in": 1.0})
    found = check(string, OLD, NEW, length_ft=60, as_of=DAY)
    told = drawn(string, found).find(f"{SVG}desc").text
    assert "1 stop" in told and "0 stop" in drawn(string).find(f"{SVG}desc").text


def test_rows_beside_it_name_each_part_with_its_sizes():
    string = good_string(blade={"outside_in": 1.0})
    told = [named(part, string).replace("\xa0", " ") for part in string.parts]
    assert any(row.startswith("Blade BL-1, 1 in. across, ") for row in told)
    assert any("pulled by the" in row for row in told if row.startswith("Cable"))
    key = key_told(string, OLD, NEW)
    assert "slit shell" in key and "Old pipe" in key and "New pipe" in key
    assert "slit shell" not in key_told(ToolString(), OLD, NEW)


def test_a_length_nobody_recorded_is_dashed():
    assert "stroke-dasharray" not in side_view(good_string(), OLD, NEW)
    assert "stroke-dasharray" in side_view(good_string(swivel={"length_in": None}), OLD, NEW)


def test_marks_of_the_contractor_cannot_break_out_of_the_drawing():
    root = drawn(good_string(blade={"mark": '<script>"&'}))
    assert root.find(f".//{SVG}script") is None
    assert '<script>"&' in root.find(f"{SVG}desc").text


def test_it_carries_no_style_that_a_strict_page_would_refuse():
    text = side_view(good_string(), OLD, NEW)
    assert "style=" not in text and "<style" not in text


def test_an_empty_string_is_drawn_too():
    assert "no parts" in drawn(ToolString()).find(f"{SVG}desc").text


def test_text_is_large_enough_for_a_phone():
    """720 units wide on a 360 px phone: half of the size, at least 10 px."""
    sizes = [float(e.get("font-size")) for e in drawn(good_string()).iter(f"{SVG}text")]
    assert min(sizes) / 2 >= 10
