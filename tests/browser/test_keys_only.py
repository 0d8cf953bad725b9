"""Two days with the keyboard alone: a manager's Monday and the January of compliance staff.

Nothing is clicked. Each thing is reached as a person does it: by the program's own keys, by Tab,
which stands visibly somewhere and goes on to the next, and by typing.
"""

import pytest

# What has the focus: its words, where it stands, and whether it is seen to have it.
FOCUSED = """() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const look = getComputedStyle(one), box = one.getBoundingClientRect();
  const words = (one.labels && one.labels[0] ? one.labels[0].innerText : '')
    || one.getAttribute('aria-label') || one.innerText || one.value || '';
  return {
    words: words.trim(), name: one.name || '', tag: one.tagName,
    seen: look.outlineStyle !== 'none' || look.boxShadow !== 'none' || look.borderStyle !== 'none',
    inside: box.width > 0 && box.bottom > 0 && box.top < innerHeight,
  };
}"""
MOST_TABS = 150


class Keys:
    """Somebody without a mouse."""

    def __init__(self, page):
        self.page = page

    def focused(self) -> dict:
        """Return what has the focus, which must be seen and within the window."""
        found = self.page.evaluate(FOCUSED) or {"words": "", "name": "", "seen": True}
        if found["words"]:
            assert found["seen"], f"{self.page.url}: no focus is seen on {found['words'][:40]}"
            assert found["inside"], f"{self.page.url}: {found['words'][:40]} is out of sight"
        return found

    def tab_to(self, words: str = "", name: str = "", back: bool = False) -> None:
        """Go on by Tab until what begins so, or the field of a name, has the focus."""
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Shift+Tab" if back else "Tab")
            found = self.focused()
            if name and found["name"] == name or words and found["words"].startswith(words):
                return
        pytest.fail(f"{self.page.url}: {words or name} was not reached by {MOST_TABS} tabs")

    def enter(self) -> None:
        """Press Enter, and see the page that comes."""
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def go(self, words: str = "", name: str = "") -> None:
        """Reach something and press Enter on it."""
        self.tab_to(words, name)
        self.enter()

    def type(self, name: str, words: str) -> None:
        """Reach a field and type over what it holds."""
        self.tab_to(name=name)
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.type(words)


@pytest.fixture
def at_home(signed_in, town):
    """Return a function that gives the keyboard of somebody who has just signed in."""

    def begin(name: str) -> Keys:
        page = signed_in(name)
        page.goto(town.address, wait_until="networkidle")
        return Keys(page)

    return begin


def test_a_managers_monday_without_a_mouse(at_home):
    keys = at_home("manager")
    page = keys.page
    keys.tab_to("Skip to the page")
    page.keyboard.press("Enter")
    keys.go("Handed in, wait for review")  # the first cause of the gap, with its list
    assert "waits=REVIEW" in page.url
    page.keyboard.press("/")
    page.keyboard.type("mill")
    page.locator(".finder [role=option]").first.wait_for()
    page.keyboard.press("ArrowDown")
    keys.enter()
    assert "Mill" in page.locator("main").inner_text()
    keys.go("Inventory")
    page.keyboard.press("j")  # into the list, row by row
    page.keyboard.press("j")
    assert keys.focused()["tag"] in ("TR", "A")
    keys.enter()
    assert "/inventory/lines/" in page.url and page.locator("main svg").count()
    keys.go("Plan")
    keys.go("Draw a plan")
    keys.type("name", "Drawn by hand")
    keys.type("crews", "3")
    keys.enter()  # as in any form
    assert "/plan/runs/" in page.url


def test_compliances_january_without_a_mouse(at_home):
    keys = at_home("compliance")
    page = keys.page
    keys.go("All deadlines")
    keys.go("Submissions")
    keys.go("Certify")
    page.keyboard.press("Tab")
    for box in ("lines", "work", "rate", "notices", "open", "values"):
        keys.tab_to(name=box)
        page.keyboard.press("Space")
    keys.type("title", "Compliance manager")
    keys.type("statement", "It is true to the best of my knowledge.")
    keys.go("Certify this submission")
    assert "The submission is certified" in page.locator("main").inner_text()
    keys.go("Notices")
    keys.tab_to(name="kind")
    page.keyboard.type("Reply")
    keys.type("due_by", "02142031")
    keys.go("Print")
    assert "/notices/runs/" in page.url


def test_a_table_is_sorted_by_its_headings(signed_in, town):
    page = signed_in("manager")
    page.goto(f"{town.address}/program/submissions/2030/r1/")
    heading = page.locator("th:has(.by-column)", has_text="Rows").first
    rows = page.locator("table:has(.by-column)").first.locator("tbody tr")
    came = rows.all_inner_texts()
    for way, sign in (("ascending", 1), ("descending", -1)):
        heading.locator("button").press("Enter")
        assert heading.get_attribute("aria-sort") == way
        figures = [row.locator("td").first.inner_text() for row in rows.all()]
        numbers = [sign * int(figure.replace(",", "")) for figure in figures if figure != "–"]
        assert numbers == sorted(numbers) and len(set(numbers)) > 2
    heading.locator("button").press("Enter")
    assert rows.all_inner_texts() == came and heading.get_attribute("aria-sort") is None
    page.goto(f"{town.address}/inventory/lines/?category=LEAD")
    page.get_by_role("link", name="Address", exact=True).click()
    assert "sort=address" in page.url and "category=LEAD" in page.url
    assert page.locator("th[aria-sort]").inner_text() == "Address"
