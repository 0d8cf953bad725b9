"""A day of each of the five people who use the program, in a browser, as they click it.

    python manage.py demo --no-serve && python manage.py serve     # in another window
    python -m tests.browser.days http://127.0.0.1:8000 OUT

The days change the record that they work on. Each step is pictured at desk and phone width in
OUT. Printed are, by day: steps, clicks and seconds; by page: what came over the wire without map
data, when the first content stood, and how far it moved after. `test_days.py` lives them on the
small town, and compares the tones of the pictures with those that were looked at last.
"""

import argparse
import gzip
import time
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image
from playwright.sync_api import Error, sync_playwright

PASSWORD = "quill-and-water-2031"
DESK, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
FIELDS = (8, 6)
# Tones of 256, of one field and in the mean: letters of another machine, a moment, a number.
ALIKE, ALIKE_IN_ALL = 6, 1.0
# Data that a page asks for, of maps and of a phone's days without a network, is not its weight.
DATA = (".json", ".geojson", "/tiles/")
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
    work: Callable[[], None] = lambda: None
    clicks: int = 0
    took: float = 0.0
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
        try:
            answer = request.response()
            if not answer.ok or any(part in request.url for part in DATA):
                return
            body = answer.body()
        except Error:  # the page was left before all of it came
            return
        text = answer.headers.get("content-type", "").startswith(("text", "application/j"))
        self.came[request.url] = len(gzip.compress(body)) if text else len(body)

    def sign_in(self, who: str) -> None:
        """Sign in, as the demo's accounts do."""
        self.page.goto(f"{self.site}/sign-in/")
        self.page.fill("[name=username]", who)
        self.page.fill("[name=password]", PASSWORD)
        self.page.press("[name=password]", "Enter")
        self.page.wait_for_url(lambda url: "/sign-in/" not in url)

    def click(
        self, words: str, role: str = "link", within: str = "body", *, exact: bool = False
    ) -> None:
        """Click what a person reads, the first of that name."""
        found = self.page.locator(within).get_by_role(role, name=words, exact=exact)
        self._follow(found.first.click)

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
        with self.page.expect_navigation(wait_until="load"):
            act()
        self.clicks += 1

    def fill(self, label: str, value: str) -> None:
        """Fill the field of a label."""
        self.page.get_by_label(label, exact=True).first.fill(value)

    def fill_first(self, label: str, value: str) -> None:
        """Fill the field whose label begins so."""
        self.page.get_by_label(label).first.fill(value)

    def set(self, selector: str, value: str) -> None:
        """Fill the field that a selector finds."""
        self.page.locator(selector).first.fill(value)

    def choose(self, selector: str, value: str) -> None:
        """Choose in the list that a selector finds."""
        self.page.locator(selector).first.select_option(value)

    def back(self) -> None:
        """Go back one page."""
        self._follow(self.page.go_back)

    def settle(self) -> None:
        """Wait until what was handed to the worker is done, and see its page."""
        self.work()
        running = self.page.locator("[data-refresh]")
        running.first.wait_for(state="detached", timeout=120_000)

    def step(self, what: str) -> None:
        """Note a step: its page's weight and times, and its pictures."""
        self.steps.append(what)
        self.page.wait_for_load_state("networkidle")
        first, moved = self.page.evaluate(TIMES)
        self.pages[what] = sum(self.came.values()) / 1000, first, moved
        for size, where in ((PHONE, "phone"), (DESK, "desk")):
            self.page.set_viewport_size(size)
            self.page.screenshot(path=self.out / f"{self.name}-{len(self.steps):02}-{where}.png")


def managers_monday(day: Day) -> None:
    """Where do we stand, what waits, which line; another plan drawn, compared, adopted, let go."""
    day.sign_in("manager")
    day.step("the board")
    day.click("waiting for review", within=".small-maps")
    day.step("where finished work waits")
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
    day.open("main tbody a")
    day.step("one line")
    day.click("Plan", within=".places")
    day.step("the plans")
    day.click("Draw a plan")
    day.fill("Name of the scenario (optional)", "One crew more")
    day.fill("Crews (optional)", "3")
    day.step("another plan, one crew more")
    day.click("Draw", "button", exact=True)
    day.settle()
    day.step("the plan drawn")
    day.click("Adopt", within="main")
    day.step("what adopting would change")
    day.click("Compare the two by neighborhood and year")
    day.step("the two compared")
    day.back()
    day.fill_first("Why it takes the place of", "The council paid for a third crew.")
    day.click("Adopt without orders", "button")
    day.step("adopted")
    day.set("#back-reason", "The third crew begins a year later.")
    day.click("Take the adoption back", "button")
    day.step("the adoption taken back")
    day.click("Work", within=".places")
    day.click("Review", within=".tabs")
    day.step("what waits for review")
    day.open("main tbody a")
    day.step("a record beside its order")
    day.click("Inventory", within=".places")
    day.fill("Address", "Nowhere Street")
    day.click("Show", "button")
    day.step("nothing found, and what to do")


def compliances_january(day: Day) -> None:
    """What is due; evidence recorded, letters printed, the year's submission checked and signed."""
    day.sign_in("compliance")
    day.step("the board")
    day.click("All deadlines")
    day.step("deadlines")
    day.click("Inventory", within=".places")
    day.click("unknown", within=".facets")
    day.open("main tbody a")
    day.unfold("#record summary")
    day.step("an unknown line, and its evidence to record")
    day.choose("#record [name=portion]", "SYSTEM")
    day.choose("#record [name=basis]", "EXCAVATION")
    day.set("#record [name=material]", "copper")
    day.set("#record [name=observed_on]", "2031-01-10")
    day.click("Record", "button", within="#record")
    day.step("the evidence recorded")
    day.click("Proof", within=".places")
    day.click("Notices", within=".tabs")
    day.step("notices")
    day.choose("[name=kind]", "SAMPLE_RESULT")
    day.set("[name=due_by]", "2031-02-14")
    day.click("Print", "button", exact=True)
    day.settle()
    day.step("letters refused, as a wording lacks")
    day.click("Notices", within=".tabs")
    day.choose("[name=kind]", "DISPUTE_REPLY")
    day.set("[name=due_by]", "2031-02-14")
    day.click("Print", "button", exact=True)
    day.settle()
    day.step("letters printed")
    day.click("Submissions", within=".tabs")
    day.step("submissions")
    day.open("main tbody a")
    day.click("Build again and compare", "button")
    day.settle()
    day.step("a submission, built again")
    for box in day.page.locator("main input[type=checkbox]").all():
        box.check()
    day.fill("Title", "Compliance manager")
    day.fill("Statement", "What this submission says is true to the best of my knowledge.")
    day.step("certifying it")
    day.click("Certify this submission", "button")
    day.step("certified")
    day.click("Tap samples", within=".tabs")
    day.step("tap samples")


def a_crews_day(day: Day) -> None:
    """Today's orders on the phone: string, checklist, start, and handed in."""
    day.page.set_viewport_size(PHONE)
    day.sign_in("heron")
    day.step("the board")
    day.page.goto(f"{day.site}/work/orders/?state=RELEASED")
    day.step("orders to do")
    day.open("main tbody a")
    day.step("an order")
    order = day.page.url
    day.click("Record the tool string")
    day.page.locator("[name=pulled_end]").select_option(index=1)
    day.click("Record and check the string", "button")
    day.step("the tool string, checked")
    day.page.goto(f"{order}checklist/")
    day.step("the checklist")
    for row in day.page.locator("main form details.field").all()[:3]:
        if not row.evaluate("row => row.open"):
            row.locator("summary").click()
        if (field := row.locator("select")).count():
            field.select_option(index=1)
        day.clicks += 1
    day.click("Record the answers", "button")
    day.step("three answers")
    day.page.goto(f"{order}start/")
    day.step("what the safe start still lacks")
    day.page.goto(f"{order}completion/")
    day.choose("[name=outcome]", "NO_ACCESS")
    day.set("[name=note]", "Nobody opened; a card was left at the door.")
    day.step("handing in")
    day.click("Hand in", "button")
    day.step("handed in")
    day.page.goto(f"{day.site}/work/phone/")
    day.step("in the truck")


def a_residents_visit(day: Day) -> None:
    """Looking up one's own address; agreeing to the work, or planning one's own."""
    day.page.goto(f"{day.site}/public/")
    day.step("the first page")
    day.page.locator("main input").first.fill("101 Tinker")
    day.enter()
    day.step("addresses found")
    day.open("main li a, main tbody a")
    day.step("one's own line")
    line = day.page.url
    day.click("Español")
    day.step("the same in Spanish")
    place = line.rstrip("/").rsplit("/", 1)[1]
    for kind, words in (("OWNER_AGREES", "We agree."), ("OWNER_PLANS", "In May, by a plumber.")):
        day.page.goto(f"{day.site}/public/en/tell-us/?kind={kind}&line={place}")
        day.set("[name=message]", words)
        day.set("[name=name]", "R. Quill")
        day.set("[name=contact]", "555-0100")
        day.step(f"telling: {kind.lower().replace('_', ' ')}")
        day.click("Send", "button")
        day.step(f"thanks: {kind.lower().replace('_', ' ')}")
    day.page.goto(f"{day.site}/public/en/map/")
    day.step("the map")


def an_administrators_first_hour(day: Day) -> None:
    """Is the machine well; somebody new let in, a session ended, how back-ups are proved."""
    day.sign_in("admin")
    day.step("the board")
    day.click("People", within=".who")
    day.step("people")
    day.fill("Name to sign in with", "newcomer")
    day.fill("Full name", "Nora Newcomer")
    day.choose("[name=role]", "Program manager")
    day.step("somebody new, not yet let in")
    day.click("Make the account", "button")
    day.step("let in, with a link")
    day.click("People", within=".who")
    day.click("manager", within="main table")
    day.step("an account")
    day.click("End all of these", "button")
    day.step("its sessions ended")
    day.page.goto(f"{day.site}/help/deploy/")
    day.step("back-ups, in the guide")
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


def tones(picture: Path) -> str:
    """Return a picture as the gray of each of its 8 by 6 fields, two letters each."""
    fields = Image.open(picture).convert("L").resize(FIELDS, Image.Resampling.BOX)
    return fields.tobytes().hex()


def pictures(out: Path) -> dict[str, str]:
    """Return {picture: its tones} of all that lie in a folder."""
    return {path.stem: tones(path) for path in sorted(out.glob("*.png"))}


def differing(now: dict[str, str], accepted: dict[str, str]) -> list[str]:
    """Return the pictures that look otherwise than those accepted, or are new or gone."""
    found = []
    for name in sorted({*now, *accepted}):
        if not (name in now and name in accepted):
            found.append(f"{name}: {'new' if name in now else 'gone'}")
            continue
        one, other = bytes.fromhex(now[name]), bytes.fromhex(accepted[name])
        apart = [abs(a - b) for a, b in zip(one, other, strict=True)]
        if max(apart) > ALIKE or sum(apart) / len(apart) > ALIKE_IN_ALL:
            found.append(f"{name}: up to {max(apart)} tones of 256 apart")
    return found


def lived(chromium, site: str, out: Path, names=DAYS, work=lambda: None) -> list[Day]:
    """Return the days, lived one after the other.

    work : runs what waits for the worker, where none is at work
    """
    out.mkdir(parents=True, exist_ok=True)
    days = []
    for name in names:
        page = chromium.new_page(viewport=DESK)
        days.append(day := Day(page, site.rstrip("/"), name, out, work))
        DAYS[name](day)
        day.took = time.perf_counter() - day.began
        page.context.close()
    return days


def main() -> None:
    """Live the days, and print what they took."""
    parser = argparse.ArgumentParser(prog="python -m tests.browser.days")
    parser.add_argument("site")
    parser.add_argument("out", type=Path)
    parser.add_argument("--only", choices=DAYS)
    asked = parser.parse_args()
    with browser() as chromium:
        days = lived(chromium, asked.site, asked.out, [asked.only] if asked.only else DAYS)
    print("| day | steps | clicks | seconds |\n|---|---|---|---|")
    for day in days:
        print(f"| {day.name} | {len(day.steps)} | {day.clicks} | {day.took:.0f} |")
    print("\n| page | kB | first content ms | moved |\n|---|---|---|---|")
    for day in days:
        for what, (weight, first, moved) in day.pages.items():
            print(f"| {day.name}: {what} | {weight:.0f} | {first:.0f} | {moved:.3f} |")


if __name__ == "__main__":
    main()
