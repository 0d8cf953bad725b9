"""The drawing of a line says of each portion what the record says, in pattern and in words."""

import re
from xml.etree import ElementTree

import pytest

from services_inventory.domain.evidence import Portion
from services_inventory.domain.line_drawing import DrawnPortion, line_drawing, look_of
from services_inventory.domain.materials import Connector, Material


def drawn(address="", **looks):
    return line_drawing(
        DrawnPortion(Portion[name], look, f"{look} pipe", address and f"{address}{name}")
        for name, look in looks.items()
    )


@pytest.mark.parametrize("code", [*Material, *Connector])
def test_a_look_never_hides_lead_galvanized_or_an_unknown(code):
    """Read by what the rule counts: only what is neither may look like neither."""
    look = look_of(code)
    if isinstance(code, Material):
        assert (look == "lead") == code.is_lead
        assert (look == "galvanized") == code.is_galvanized
        assert (look == "neither") == code.is_non_lead
    assert (look == "unknown") == (code == "UNKNOWN")


def test_each_portion_is_named_with_its_words_from_the_main_to_the_building():
    svg = drawn(CUSTOMER="unknown", CONNECTOR="lead", SYSTEM="neither")
    root = ElementTree.fromstring(svg)
    said = root.get("aria-label")
    order = [said.index(f"{name}:") for name in ("connector", "system side", "customer side")]
    assert order == sorted(order)
    words = [node.text for node in root.iter() if node.tag.endswith("text")]
    assert {"lead pipe", "neither pipe", "unknown pipe", "curb stop", "main"} <= set(words)
    assert root.get("role") == "img" and "<a " not in svg


def test_patterns_differ_without_color():
    """Line patterns alone tell the looks apart, on a copy in black and white."""
    plain = {
        look: re.sub(r'stroke="#[0-9a-f]{6}"', "", drawn(SYSTEM=look)).replace(look, "")
        for look in ("lead", "galvanized", "unknown", "neither", "nothing")
    }
    assert len(set(plain.values())) == len(plain)


def test_a_portion_with_an_address_is_a_link_that_says_what_it_does():
    svg = drawn(address="?portion=", SYSTEM="lead", CUSTOMER="unknown")
    root = ElementTree.fromstring(svg)
    links = [node for node in root.iter() if node.tag.endswith("}a")]
    assert [link.get("href") for link in links] == ["?portion=SYSTEM", "?portion=CUSTOMER"]
    assert all("Record what was seen" in link.get("aria-label") for link in links)
    assert root.get("role") == "group"
