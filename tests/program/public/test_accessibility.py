"""WCAG 2.2 A and AA on the public pages, by axe-core in Chromium; the look-up by keyboard."""

from pathlib import Path

import pytest
from django.core.cache import cache

from program.models import Utility
from services_inventory.domain.addresses import normalize
from services_inventory.models import Premise
from tests.services_inventory.factories import line_of

CHROMIUM = Path("/usr/bin/chromium")
QUIET = (
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(not CHROMIUM.exists(), reason="Chromium is not installed"),
]


@pytest.fixture(scope="module")
def browser():
    import os

    from playwright.sync_api import sync_playwright

    # The browser's own loop runs in this thread; the tests' database calls are still ours alone.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=str(CHROMIUM), args=list(QUIET))
        yield opened
        opened.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def line(db):
    cache.clear()
    Utility.objects.create(name="Quillwater Water", phone="555-0100")
    made = line_of("LEAD", "COPPER", address="12 Mill Street")
    read = normalize("12 Mill Street")
    Premise.objects.update(
        address_key=read.key, street_key=read.street_key, house_number=int(read.number)
    )
    return made


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_breaks_a_rule_of_wcag(browser, live_server, line, width):
    from axe_playwright_python.sync_playwright import Axe

    page = browser.new_page(viewport={"width": width, "height": 900})
    paths = [f"line/{line.location_id}/", "", "?q=nowhere", "map/", "categories/", "download/"]
    found = []
    for path in (*(f"en/{p}" for p in (*paths, "tell-us/")), "es/", "es/tell-us/", "es/thanks/"):
        page.goto(f"{live_server.url}/public/{path}")
        answer = Axe().run(page, options={"runOnly": RULES}).response
        found += [(path, one["id"]) for one in answer["violations"]]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            found.append((path, "wider than the window"))
    page.close()
    assert not found


def test_a_line_is_found_by_keyboard_alone(browser, live_server, line):
    page = browser.new_page()
    page.goto(f"{live_server.url}/public/en/")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "q":
            break
    page.keyboard.type("12 mil")
    page.wait_for_selector("#places option", state="attached")
    page.keyboard.type("l street")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/line/{line.location_id}/")
    assert "made of lead" in page.text_content("main")
    page.close()
