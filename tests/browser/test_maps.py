"""The maps by mouse and by keyboard: a shape drawn is a filter of the list; areas are drawn."""

import re
from urllib.parse import unquote

import pytest

from tests.browser.conftest import manage

KEYS = ("Enter", "ArrowRight", "ArrowRight", "Enter", "ArrowDown", "ArrowDown", "Enter")
CLASSES = "([values, share]) => window.houseMap.classesOf(values, share)"


@pytest.fixture
def record_map(signed_in, town):
    """Return the map of the record, drawn."""
    page = signed_in("manager")
    page.goto(f"{town.address}/inventory/map/")
    page.wait_for_function("() => document.getElementById('map')?.dataset.shown")
    return page


def shown(page) -> int:
    """The number of lines told in the sentence beside the map."""
    return int(re.search(r"[\d,]+", page.inner_text("#shown b, #shown strong"))[0].replace(",", ""))


def by_mouse(page, box="#map", shape=((0.3, 0.3), (0.7, 0.3), (0.7, 0.7), (0.3, 0.7))):
    """Draw around the middle of a map; the last corner is a double click."""
    page.click("[data-draw=start]")
    at = page.locator(box).bounding_box()
    for number, (x, y) in enumerate(shape, start=1):
        place = at["x"] + x * at["width"], at["y"] + y * at["height"]
        (page.mouse.dblclick if number == len(shape) else page.mouse.click)(*place)
        page.wait_for_timeout(300)  # two quick clicks at one place would be a double click


def by_keyboard(page, box="#map"):
    """Draw with the arrow keys, Enter, and Shift+Enter."""
    page.focus("[data-draw=start]")
    page.keyboard.press("Enter")
    assert page.evaluate("box => document.activeElement === document.querySelector(box)", box)
    for key in KEYS:
        page.keyboard.press(key)
        page.wait_for_timeout(350)  # the map glides under the cross
    page.keyboard.press("Shift+Enter")


@pytest.mark.parametrize("draw", [by_mouse, by_keyboard])
def test_a_shape_drawn_on_the_map_narrows_the_list(draw, record_map):
    every = shown(record_map)
    draw(record_map)
    record_map.wait_for_url("**within=*")
    inside = shown(record_map)
    assert 0 < inside < every
    corners = unquote(record_map.url).split("within=")[1].split(";")
    assert len(corners) == (4 if draw is by_mouse else 3)
    record_map.wait_for_function("() => document.getElementById('map')?.dataset.shown")
    assert int(record_map.get_attribute("#map", "data-shown")) >= inside
    record_map.click("text=List these lines")
    assert shown(record_map) == inside
    record_map.click("text=Show these lines on the map")
    assert shown(record_map) == inside


def test_corners_are_taken_back_and_drawing_is_left(record_map):
    by = record_map
    by.click("[data-draw=start]")
    for key in ("Enter", "ArrowRight", "Enter", "Backspace"):
        by.keyboard.press(key)
        by.wait_for_timeout(300)
    assert by.inner_text("#map-says") == "1 corner."
    assert by.is_disabled("[data-draw=close]")
    by.keyboard.press("Escape")
    assert by.inner_text("#map-says") == "Nothing is drawn."
    assert by.get_attribute("[data-draw=start]", "aria-pressed") == "false"


def test_the_classes_of_a_scale(record_map):
    def starts(values, share=False):
        return [one["from"] for one in record_map.evaluate(CLASSES, [values, share])]

    def labels(values, share=False):
        return [one["label"] for one in record_map.evaluate(CLASSES, [values, share])]

    assert starts([0.1, 0.9], share=True) == [0, 0.05, 0.2, 0.5, 0.8]
    assert labels([0.1], share=True)[1] == "5 to under 20 %"
    assert starts(list(range(1, 101))) == [0, 20, 50]
    assert labels([1, 1, 2, 2, 3])[0] == "0" and starts([]) == [0]
    assert labels(list(range(1, 10_001)))[-1] == "5,000 or more"


@pytest.fixture(scope="module")
def drawn_plan(town) -> str:
    """Draw a plan that may be changed; return the address of its areas."""
    manage(town.folder, "draw_plan")
    return f"{town.address}/program/plan/2/edit/"


@pytest.mark.parametrize("draw", [by_mouse, by_keyboard])
def test_a_new_area_is_drawn_seen_kept_and_taken_back(draw, signed_in, drawn_plan):
    page = signed_in("manager")
    page.goto(drawn_plan)
    page.select_option("#hood", label="Lower Locks (1 area)")
    page.click("main form.filters button")
    page.wait_for_function(
        "() => document.getElementById('edit-says')?.textContent.startsWith('Choose areas here')"
    )
    if draw is by_mouse:
        by_mouse(page, "#edit-map", ((0.2, 0.2), (0.6, 0.2), (0.6, 0.7), (0.2, 0.7)))
    else:
        by_keyboard(page, "#edit-map")
    page.wait_for_function(
        "() => /[1-9] lines? inside/.test(document.getElementById('edit-says')?.textContent)"
    )
    page.click("text=Make a new area of them")
    assert "Not kept yet" in page.inner_text("#effect")
    page.click("text=Keep this change")
    assert "is a new area with" in page.inner_text("main")
    page.click("text=Take the last one back")
    assert "Taken back" in page.inner_text("main")
