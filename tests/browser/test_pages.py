"""Every kind of page, as each role meets it by following links, at desk and at phone width.

Nothing here lists the pages: whoever adds one and links to it has it walked, looked at for
errors, for text beyond the edge, and for barriers that axe finds (WCAG 2.2, level AA).

Before a release also by night, on the smallest phone, and at 400 % of a desk (1280 px / 4):

    PAGE_THEME=dark PAGE_WIDTHS=360,320 python -m pytest tests/browser/test_pages.py
"""

import json
import os
import re
from dataclasses import dataclass, field
from urllib.parse import urlsplit

import pytest
from django.urls import Resolver404, resolve

ROLES = ("manager", "compliance", "admin", "heron", None)
WIDTHS = tuple(map(int, os.environ.get("PAGE_WIDTHS", "1280,390").split(",")))
THEME = os.environ.get("PAGE_THEME", "light")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# Files, data for maps and devices, and Django's own account pages.
NO_PAGE = re.compile(
    r"\.(csv|gpkg|geojson|gpx|json|parquet|pdf|xlsx|zip|ics|txt|toml|png|svg|jpg)$|/files/|/documents?/|/photo/|/held/|/paper/"
    r"|^/accounts/|^/api/|^/ogc/|^/static/|^/sign-out/|/progress/"
)
OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
# What sticks out, for the message: the innermost elements beyond the right edge.
WHAT_STICKS_OUT = """() => [...document.querySelectorAll('main *')]
  .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1
    && !e.closest('.table-box') && !e.children.length)
  .slice(0, 3).map(e => e.tagName.toLowerCase() + '.' + e.className + ' ' +
    (e.textContent || '').trim().slice(0, 30))"""
# By its attribute, as a link within a drawing has no text for its href.
AXE_TELLS = "options => axe.run(options).then(all => JSON.stringify(all.violations))"
LINKS = """() => [...document.querySelectorAll('a[href]:not([download])')]
  .map(a => new URL(a.getAttribute('href'), document.baseURI).href)"""


@dataclass
class Walk:
    """What was seen on the way."""

    visited: dict[str, str] = field(default_factory=dict)
    breaches: list[str] = field(default_factory=list)


def kind_of(path: str) -> str | None:
    """Return what kind of page an address leads to: the route, as its views know it."""
    if NO_PAGE.search(path):
        return None
    try:
        return resolve(path).route or "board"
    except Resolver404:
        return None


@pytest.fixture(scope="module")
def looked_for_barriers() -> set[str]:
    """Return the kinds of page that axe has seen: once is enough, whoever looks."""
    return set()


@pytest.mark.parametrize("account", ROLES, ids=lambda name: name or "nobody")
def test_pages_are_sound_at_desk_and_phone_width(account, town, signed_in, looked_for_barriers):
    page = signed_in(account)
    page.context.add_cookies([{"name": "theme", "value": THEME, "url": town.address}])
    page.emulate_media(color_scheme=THEME)  # of pages that nobody signs in to
    walk = Walk()
    page.on("console", lambda said: heard(walk, page, said))
    page.on("pageerror", lambda error: walk.breaches.append(f"{page.url}: {error}"))
    start = "/" if account else "/public/"
    waiting, known = [start], set()
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path.split("?")[0])
        if kind is None or kind in walk.visited:
            continue
        walk.visited[kind] = path
        look_at(page, town.address + path, walk, thoroughly=kind not in looked_for_barriers)
        looked_for_barriers.update({kind} - {"board"})
        for link in page.evaluate(LINKS):
            parts = urlsplit(link)
            if link.startswith(town.address) and link not in known:
                known.add(link)
                waiting.append(parts.path + (f"?{parts.query}" if parts.query else ""))
    assert len(walk.visited) >= (8 if account else 4), walk.visited
    assert not walk.breaches, "\n  ".join(["", *walk.breaches])


def heard(walk: Walk, page, said) -> None:
    """Note what the browser complains of; an answer that is no page is noted where it is opened."""
    missing = "status of" in said.text and said.location.get("url") == page.url
    if said.type in ("error", "warning") and not missing:
        walk.breaches.append(f"{page.url}: console: {said.text}")


def look_at(page, address: str, walk: Walk, *, thoroughly: bool) -> None:
    """Open a page and look at it at each width."""
    answer = page.goto(address, wait_until="load")
    where = f"{address.split('/', 3)[3] or 'board'}"
    if answer.status != 200:
        walk.breaches.append(f"{where}: status {answer.status}")
        return
    if page.locator("h1").count() != 1:
        walk.breaches.append(f"{where}: {page.locator('h1').count()} main headings")
    if not page.title().strip():
        walk.breaches.append(f"{where}: no title")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        beyond = page.evaluate(OVERFLOW)
        if beyond > 0:
            walk.breaches.append(
                f"{where}: {beyond} px beyond the edge at {width}: {page.evaluate(WHAT_STICKS_OUT)}"
            )
        if thoroughly:
            walk.breaches += [f"{where}: at {width}: {barrier}" for barrier in barriers(page)]
    page.set_viewport_size({"width": WIDTHS[0], "height": 900})


def barriers(page) -> list[str]:
    """Return what axe finds on the page as it stands; handed over as text, much the quicker way."""
    from axe_playwright_python.base import AXE_SCRIPT

    options = {"resultTypes": ["violations"], "runOnly": {"type": "tag", "values": RULES}}
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(AXE_SCRIPT)
    found = json.loads(page.evaluate(AXE_TELLS, options))
    return [
        f"{each['id']} ({len(each['nodes'])}): {each['nodes'][0]['html'][:110]}" for each in found
    ]


SCREENS = pytest.mark.parametrize(("width", "tall", "most"), [(390, 844, 3), (1280, 900, 2)])


def height_of(page) -> int:
    """Return how tall the page is that stands open, pixels."""
    return page.evaluate("document.documentElement.scrollHeight")


def links_on(page, address: str, wanted: str, most: int = 3) -> list[str]:
    """Return the first links of a page whose path is of this form."""
    page.goto(address)
    paths = [urlsplit(link).path for link in page.evaluate(LINKS)]
    return list(dict.fromkeys(path for path in paths if re.search(wanted, path)))[:most]


@SCREENS
@pytest.mark.parametrize("account", ["manager", "compliance", "admin"])
def test_a_board_begins_with_a_picture_and_is_short(account, width, tall, most, signed_in, town):
    page = signed_in(account, width)
    page.goto(town.address, wait_until="networkidle")
    assert height_of(page) <= most * tall, f"{height_of(page)} px"
    if account != "admin":
        first = page.locator("main svg").first.bounding_box()
        assert first["y"] + first["height"] < tall
        stuck = page.locator(".small-maps a b").first
        listed = stuck.inner_text()
        with page.expect_navigation():
            stuck.click()
        assert listed in page.locator("main").inner_text()


@SCREENS
def test_deadlines_and_values_of_the_rule_are_a_few_screens_long(
    width, tall, most, signed_in, town
):
    page = signed_in("compliance", width)
    page.goto(f"{town.address}/program/deadlines/")
    assert height_of(page) <= (most + 1) * tall, f"{height_of(page)} px"
    page.goto(f"{town.address}/program/rule/")
    assert height_of(page) <= most * tall, f"{height_of(page)} px"
    groups = page.locator("main details")
    for number in (2, 5):
        groups.nth(number).locator("summary").click()
        assert groups.nth(number).locator("tbody tr").first.is_visible()
    assert page.locator("main details[open]").count() == 1
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")  # paper has no folds
    assert page.locator("main details:not([open])").count() == 0
    page.goto(f"{town.address}/program/rule/?q=inquiry")
    assert page.locator("main tbody tr").first.is_visible()


# Lists of the crew and of its reviewer, and what of each is opened.
LISTS = {
    "heron": [
        ("/", r"^/$"),
        ("/work/orders/?state=RETURNED", r"orders/\d+/$"),
        ("/work/packages/", r"packages/\d+/$"),
    ],
    "manager": [
        ("/work/review/", r"review/\d*/?$"),
        ("/work/packages/", r"packages/\d+/$"),
        ("/work/payments/", r"payments/\d+/$"),
        ("/work/payments/1/", r"statements/\d+/$"),
        ("/work/learning/", r"learning/\w+/$"),
        ("/work/orders/?state=RELEASED", r"orders/\d+/$"),
    ],
}


@SCREENS
@pytest.mark.parametrize("account", LISTS)
def test_what_a_crew_and_its_reviewer_meet_is_a_few_screens_long(
    account, width, tall, most, signed_in, town
):
    page, long = signed_in(account, width), []
    for address, wanted in LISTS[account]:
        found = links_on(page, town.address + address, wanted)
        assert found, address
        for path in [address, *found]:
            page.goto(town.address + path)
            if height_of(page) > most * tall:
                long.append(f"{path}: {height_of(page)} px")
    assert not long


@SCREENS
def test_a_bare_record_is_short_with_all_its_stops_in_sight(width, tall, most, signed_in, town):
    page = signed_in("heron", width)
    job = links_on(page, f"{town.address}/work/orders/?state=RELEASED", r"orders/\d+/$", 1)[0]
    page.goto(f"{town.address}{job}start/")
    assert page.locator(".note-stop").is_visible() and height_of(page) <= most * tall
    page.goto(f"{town.address}{job}completion/")
    page.select_option("[name=outcome]", "REPLACED")
    page.locator("details:has([name=system_replaced]) > summary").click()
    page.check("[name=system_replaced]")
    page.get_by_role("button", name="Hand in").click()
    told = page.locator("#stops li")
    told.first.wait_for()
    assert told.count() > 10 and all(one.is_visible() for one in told.all())
    assert page.locator("summary:has-text('Test and depth') .level-STOP").is_visible()
    assert height_of(page) <= most * tall
    with page.expect_navigation():
        page.get_by_role("button", name="Hand in as it is").click()
    number = re.search(r"W-\d+", page.locator("h1").inner_text())[0]
    reviewer = signed_in("manager", width)
    waiting = f"{town.address}/work/review/"
    reviewer.goto(waiting)
    while not reviewer.get_by_role("link", name=re.compile(number)).count():
        with reviewer.expect_navigation():
            reviewer.get_by_role("link", name="Next records").click()
    with reviewer.expect_navigation():
        reviewer.get_by_role("link", name=re.compile(number)).click()
    assert reviewer.locator(".checks .level-STOP").count() > 8
    assert height_of(reviewer) <= most * tall


@SCREENS
def test_an_orders_pages_are_a_few_screens_long(width, tall, most, signed_in, town):
    page = signed_in("heron", width)
    orders = links_on(page, f"{town.address}/work/orders/", r"orders/\d+/$", 40)
    assert len(orders) > 10
    released = "/work/orders/?state=RELEASED"
    page.goto(town.address + released)
    job = page.locator("main th a").first.get_attribute("href")
    forms = [f"{job}{name}/" for name in ("string", "pull", "completion")]
    for address in [*orders, released, "/work/tools/", *forms]:
        page.goto(town.address + address)
        assert height_of(page) <= most * tall, f"{address}: {height_of(page)} px"
    # Rows of a checklist are answered by Tab and arrows alone.
    rows = links_on(page, f"{town.address}/work/orders/?state=RETURNED", r"orders/\d+/$", 1)
    page.goto(f"{town.address}{rows[0]}checklist/")
    first = page.locator("details[name=row]").first
    first.locator("summary").focus()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Tab")
    assert first.evaluate("row => row.open")
    page.keyboard.press("Tab")
    assert first.evaluate("row => row.contains(document.activeElement) && row.open")
    page.goto(town.address + forms[-1])
    # What the browser refuses is seen, though its part was folded.
    part = page.locator("details.card:has([name=test_psi])")
    part.locator("summary").click()
    page.fill("[name=test_psi]", "-5")
    part.locator("summary").click()
    page.click("button:has-text('Hand in')")
    assert page.locator("[name=test_psi]").is_visible()
