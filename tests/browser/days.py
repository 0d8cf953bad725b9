"""A day of each of the five people who use the program, in a browser, as they click it.

    python manage.py demo --no-serve && python manage.py serve     # in another window
    python -m tests.browser.days http://127.0.0.1:8000 OUT [--accepted EARLIER_OUT]

The days change the record that they work on. Each step is pictured at desk and phone width in
OUT; against pictures that were looked at earlier, each that differs is named. Printed are, by
day: steps, clicks and seconds; by page: what came over the wire without map data, when the first
content stood, and how far it moved after.
"""

import argparse
import gzip
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image, ImageChops, ImageStat
from playwright.sync_api import sync_playwright

PASSWORD = "quill-and-water-2031"
DESK, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
ALIKE = 3.0  # mean difference of 256 tones, of pictures made small: letters and days may differ
MAP_DATA = ("map.json", ".geojson", "/tiles/")
TIMES = """() => new Promise(done => {
  let moved = 0;
  new PerformanceObserver(list => list.getEntries().forEach(
    one => { if (!one.hadRecentInput) moved += one.value; }
  )).observe({type: 'layout-shift', buffered: true});
  setTimeout(() => {
    const first = performance.getEntriesByName('first-contentful-paint')[0];
    done([first ? first.startTime : 0, moved]);
  }, 200);
})"""


@dataclass
class Day:
    """One person's day: what was clicked, how long it took, what its pages weigh."""

    page: object
    site: str
    name: str
    out: Path
    clicks: int = 0
    began: float = field(default_factory=time.perf_counter)
    steps: list[str] = field(default_factory=list)
    pages: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    came: dict[str, int] = field(default_factory=dict)

    def __post_init__(self):
        self.page.on("requestfinished", self._weigh)

    def _weigh(self, request) -> None:
        """Add up a page's bytes, as the proxy of `docs/deploy` sends them: texts are packed."""
        if request.is_navigation_request():
            self.came.clear()
        answer = request.response()
        if answer.ok and not any(part in request.url for part in MAP_DATA):
            body = answer.body()
            text = answer.headers.get("content-type", "").startswith(("text", "application/j"))
            self.came[request.url] = len(gzip.compress(body)) if text else len(body)

    def sign_in(self, who: str) -> None:
        """Sign in, as the demo's accounts do."""
        self.page.goto(f"{self.site}/sign-in/")
        self.page.fill("[name=username]", who)
        self.page.fill("[name=password]", PASSWORD)
        self.page.press("[name=password]", "Enter")
        self.page.wait_for_url(lambda url: "/sign-in/" not in url)

    def click(self, words: str, role: str = "link", within: str = "body") -> None:
        """Click what a person reads, the first of that name."""
        self._follow(self.page.locator(within).get_by_role(role, name=words).first.click)

    def open(self, selector: str) -> None:
        """Click the first that a selector finds."""
        self._follow(self.page.locator(selector).first.click)

    def unfold(self, selector: str) -> None:
        """Open what is folded away; the page stays."""
        self.page.locator(selector).first.click()
        self.clicks += 1

    def enter(self) -> None:
        """Press Enter."""
        self._follow(lambda: self.page.keyboard.press("Enter"))

    def _follow(self, act) -> None:
        with self.page.expect_navigation(wait_until="networkidle"):
            act()
        self.clicks += 1

    def fill(self, label: str, value: str) -> None:
        """Fill the field of a label."""
        self.page.get_by_label(label, exact=True).first.fill(value)

    def step(self, what: str) -> None:
        """Note a step: its page's weight and times, and its pictures."""
        self.steps.append(what)
        first, moved = self.page.evaluate(TIMES)
        self.pages[what] = sum(self.came.values()) / 1000, first, moved
        for size, where in ((PHONE, "phone"), (DESK, "desk")):
            self.page.set_viewport_size(size)
            self.page.screenshot(path=self.out / f"{self.name}-{len(self.steps):02}-{where}.png")


def managers_monday(day: Day) -> None:
    """Where do we stand, what waits, which line, what next."""
    day.sign_in("manager")
    day.step("the board")
    day.click("Rate and pool, year by year")
    day.step("the rate, year by year")
    day.page.keyboard.press("/")
    day.page.keyboard.type("mill")
    day.page.locator(".finder [role=option]").first.wait_for()
    day.enter()
    day.step("found by part of a street")
    day.click("Inventory", within=".places")
    day.click("lead", within=".facets")
    day.unfold(".kept-views summary")
    day.fill("Name", "Lead lines")
    day.click("Keep it", "button")
    day.step("lead lines, kept by name")
    day.open("main table a")
    day.step("one line")
    day.click("Plan", within=".places")
    day.step("the plans")
    day.open("main table a")
    day.step("the adopted plan")
    day.click("Work", within=".places")
    day.click("Review", within=".tabs")
    day.step("what waits for review")
    day.open("main table a")
    day.step("a record beside its order")
    day.click("Inventory", within=".places")
    day.fill("Address", "Nowhere Street")
    day.click("Show", "button")
    day.step("nothing found, and what to do")


def compliances_january(day: Day) -> None:
    """What is due, a letter that came back, the submission checked."""
    day.sign_in("compliance")
    day.step("the board")
    day.click("Proof", within=".places")
    day.step("deadlines, or the first of proof")
    day.click("Submissions", within=".tabs")
    day.step("submissions")
    day.open("main table a")
    day.step("a submission")
    day.click("Notices", within=".tabs")
    day.step("notices")
    day.click("Tap samples", within=".tabs")
    day.step("tap samples")


def a_crews_day(day: Day) -> None:
    """Today's orders on the phone, one of them opened."""
    day.page.set_viewport_size(PHONE)
    day.sign_in("heron")
    day.step("the board")
    day.page.goto(f"{day.site}/work/orders/?state=released")
    day.step("orders to do")
    day.open("main table a")
    day.step("an order")
    day.page.goto(f"{day.site}/work/phone/")
    day.page.wait_for_load_state("networkidle")
    day.step("in the truck")


def a_residents_visit(day: Day) -> None:
    """Looking up one's own address, and what to do now."""
    day.page.goto(f"{day.site}/public/")
    day.step("the first page")
    day.page.locator("main input").first.fill("101 Tinker")
    day.enter()
    day.step("addresses found")
    if day.page.locator("main li a, main table a").count():
        day.open("main li a, main table a")
    day.step("one's own line")
    day.click("Español")
    day.step("the same in Spanish")
    day.page.goto(f"{day.site}/public/en/map/")
    day.page.wait_for_load_state("networkidle")
    day.step("the map")
    day.click("Tell us")
    day.page.locator("main form").first.wait_for()
    day.step("telling what one knows")


def an_administrators_first_hour(day: Day) -> None:
    """Is the machine well, who is let in; somebody new is invited."""
    day.sign_in("admin")
    day.step("the board")
    day.click("People", within=".who")
    day.step("people")
    day.fill("Name to sign in with", "newcomer")
    day.step("somebody new, not yet let in")
    day.page.goto(f"{day.site}/own/")
    day.page.get_by_label("Colors").select_option("dark")
    day.click("Look so", "button")
    day.step("pages by night")


DAYS = {
    "manager": managers_monday,
    "compliance": compliances_january,
    "crew": a_crews_day,
    "resident": a_residents_visit,
    "administrator": an_administrators_first_hour,
}


@contextmanager
def browser():
    """A browser without a screen."""
    with sync_playwright() as playwright:
        yield playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-quic"]
        )


def differing(out: Path, accepted: Path) -> list[str]:
    """Return the pictures that differ from those of the same name, or are new or gone."""
    names = {path.name for folder in (out, accepted) for path in folder.glob("*.png")}
    found = []
    for name in sorted(names):
        if not ((out / name).exists() and (accepted / name).exists()):
            found.append(f"{name}: only in one of them")
            continue
        one, other = (
            Image.open(folder / name).convert("L").resize((160, 160)) for folder in (out, accepted)
        )
        apart = ImageStat.Stat(ImageChops.difference(one, other)).mean[0]
        if apart > ALIKE:
            found.append(f"{name}: differs by {apart:.1f}")
    return found


def main() -> None:
    """Live the days, and print what they took."""
    parser = argparse.ArgumentParser(prog="python -m tests.browser.days")
    parser.add_argument("site")
    parser.add_argument("out", type=Path)
    parser.add_argument("--accepted", type=Path)
    parser.add_argument("--only", choices=DAYS)
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    lived = []
    with browser() as chromium:
        for name, live in DAYS.items():
            if asked.only in (None, name):
                page = chromium.new_page(viewport=DESK)
                lived.append(day := Day(page, asked.site.rstrip("/"), name, asked.out))
                live(day)
                lived[-1].took = time.perf_counter() - day.began
                page.close()
    print("| day | steps | clicks | seconds |\n|---|---|---|---|")
    for day in lived:
        print(f"| {day.name} | {len(day.steps)} | {day.clicks} | {day.took:.0f} |")
    print("\n| page | kB | first content ms | moved |\n|---|---|---|---|")
    for day in lived:
        for what, (weight, first, moved) in day.pages.items():
            print(f"| {day.name}: {what} | {weight:.0f} | {first:.0f} | {moved:.3f} |")
    if asked.accepted:
        print("\n".join(differing(asked.out, asked.accepted) or ["No picture differs."]))


if __name__ == "__main__":
    main()
