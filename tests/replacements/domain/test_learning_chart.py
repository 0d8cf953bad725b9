"""The chart of a narrowing belief: what it draws, and that it needs no style or script."""

import math
import xml.etree.ElementTree as ElementTree

from replacements.domain.learning import Observation, narrowing, narrowing_chart_svg
from replacements.domain.pull_force import ParameterSet

SVG = "{http://www.w3.org/2000/svg}"


def drawn(ratios):
    """Return the chart of pulls with these ratios, as XML."""
    pulls = [Observation("STIFF_CLAY", 1000, 1000 * r, ParameterSet().id) for r in ratios]
    return ElementTree.fromstring(narrowing_chart_svg(narrowing(pulls, "STIFF_CLAY"), pulls))


def heights(points: str) -> list[float]:
    """Return the vertical places of a polyline."""
    return [float(pair.split(",")[1]) for pair in points.split()]


def test_a_dot_for_each_pull_and_a_band_that_narrows():
    chart = drawn([1.3, 1.35, 1.25] * 4)
    assert len(chart.findall(f"{SVG}circle")) == 12 + 1  # and one in the key
    ends = heights(chart.find(f"{SVG}polygon").get("points"))
    low, high = ends[:13], ends[:12:-1]
    widths = [a - b for a, b in zip(low, high, strict=True)]
    assert widths == sorted(widths, reverse=True) and widths[-1] < widths[0] / 2
    assert "After 12 it is 1.2" in chart.find(f"{SVG}desc").text


def test_higher_factors_are_drawn_higher_and_wild_ones_stay_on_the_page():
    chart = drawn([0.01, 40.0])
    low, high = (float(dot.get("cy")) for dot in chart.findall(f"{SVG}circle")[:2])
    assert 270 >= low > high >= 34


def test_before_any_pull_there_is_a_chart_too():
    chart = drawn([])
    assert "Before any pull the factor is taken as 1.00" in chart.find(f"{SVG}desc").text
    lines = chart.findall(f"{SVG}polyline")
    assert all(math.isfinite(y) for line in lines for y in heights(line.get("points")))


def test_attributes_only_for_a_strict_content_policy():
    for element in drawn([1.1]).iter():
        assert element.tag not in (f"{SVG}style", f"{SVG}script")
        assert "style" not in element.attrib
