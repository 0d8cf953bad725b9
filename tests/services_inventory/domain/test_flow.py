"""The picture of lines that move between categories: bands as high as their share."""

import re

from services_inventory.domain.flow import HIGH, LEAST, flow

WORDS = {"": "new lines", "LEAD": "lead", "UNKNOWN": "unknown"}


def _heights(svg: str) -> list[float]:
    bars = re.findall(r'<rect x="[\d.]+" y="[\d.]+" width="10" height="([\d.]+)"', svg)
    return sorted(map(float, bars))


def test_a_bar_is_as_high_as_its_lines_and_one_of_a_million_is_seen():
    svg = flow([("", "LEAD", 1), ("", "UNKNOWN", 999_999)], WORDS, "Moves")
    assert _heights(svg) == [LEAST, round(HIGH * 0.999999, 2), round(HIGH * 0.999999 + LEAST, 2)]
    assert "1,000,000" in svg and "new lines to lead: 1" in svg


def test_words_are_escaped_and_a_side_has_only_what_is_there():
    svg = flow([("LEAD", "UNKNOWN", 3)], WORDS | {"LEAD": "<b>"}, "A & B")
    assert "<b>" not in svg and "A &amp; B" in svg and "new lines" not in svg
