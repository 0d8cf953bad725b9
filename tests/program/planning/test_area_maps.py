"""Small maps of neighborhoods: what a file calls one stands in the picture as text."""

from xml.etree import ElementTree

from program.planning.area_maps import Area, shaded_map_svg

SQUARE = [[(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (0.0, 0.0)]]


def test_a_name_from_a_file_is_text_and_nothing_else():
    name = "Smith & Sons <script>alert(1)</script>"
    areas = [Area(name, 3, "/lines/?a=1&b=2", SQUARE, (0.5, 0.6))]
    drawn = shaded_map_svg(areas, "Unknown", "Jan 15, 2031")
    assert "<script" not in drawn
    titles = [each.text for each in ElementTree.fromstring(drawn).iter() if "title" in each.tag]
    assert f"{name}: 3" in titles
