"""The card at the pit: without a network, the next check only, few answers, no stop passed over."""

import time
from datetime import date

from replacements.models import AssemblyAnswer, CompletionRecord
from replacements.operations.access import consent_record
from replacements.operations.completions import completion_return
from tests.browser.phone import MARKS, signed_in
from tests.replacements.factories import AT, LATER, good_quality, handed_in, order, ready, user

pytestmark = MARKS

TYPED = {
    "main_depth_ft": "5.5", "house_depth_ft": "5", "main_inspected_by": "Rowan Fell",
    "ticket_number": "28-0411", "ticket_from": "2028-04-01", "ticket_to": "2028-04-28",
    "gauge_calibrated_on": "2028-02-01", "free_cable_ft": "12", "RETAINING_NUT_TORQUE": "70",
    "static_psi": "60", "test_psi": "100", "depth_main_ft": "5", "depth_house_ft": "5",
    "leading_outside_in": "1.125", "lead_out_ft": "0", "lead_left_ft": "35",
    "note": "Nobody opened; a card was left at the door.",
}  # fmt: skip
TAPPED = {
    "Cable behind the jaws": "1/4 in.",
    "Trial pull": "1/32 in.",
    "What keeps the pits from caving in?": "trench box",
    "How will the lead be cut?": "shears or pipe cutter, wet",
    "Traffic": "work is clear of any road or footway",
    "What became of the work?": "replaced",
    "Found and replaced": "2",
    "Leading end of the new pipe": "2",
    "Disinfection": "pipe ends and fittings swabbed",
}
KEY_SECONDS, TAP_SECONDS, READ_SECONDS = 0.28, 1.2, 3.0  # a person with gloves; own assumption


class Crew:
    """Somebody who goes through the card, whose taps and answers are counted."""

    def __init__(self, page, tapped=(), typed=()):
        self.page, self.tapped, self.typed = page, TAPPED | dict(tapped), TYPED | dict(typed)
        self.taps = self.answers = self.screens = self.keys = 0

    @property
    def title(self) -> str:
        return self.page.locator("main h1").inner_text()

    @property
    def seconds(self) -> float:
        """How long a person takes: reading a screen, tapping, typing."""
        return (self.screens * READ_SECONDS + self.taps * TAP_SECONDS
                + self.keys * KEY_SECONDS)  # fmt: skip

    def tap(self, selector: str, twice: bool = False) -> None:
        """Tap, or tap twice as a hurried thumb does, which counts once and must do it once."""
        button = self.page.locator(selector).first
        button.evaluate("(b) => { b.click(); b.click(); }") if twice else button.click()
        self.taps += 1

    def step(self) -> bool:
        """Answer one step; return whether the card went on."""
        title = self.title
        self.screens += 1
        for box in self.page.locator(".card-body input, .card-body textarea").all():
            name = box.get_attribute("name")
            if not box.input_value() and name in self.typed:
                box.fill(self.typed[name])
                self.answers += 1
                self.keys += len(self.typed[name])
        if title in self.tapped:
            self.tap(f".card-choices button:has-text('{self.tapped[title]}')")
            self.answers += 1
            if self.went_on(title):
                return True
        if self.page.locator(".card-so").count():
            self.answers += 1
        self.tap("button.card-go")
        return self.went_on(title)

    def went_on(self, title: str) -> bool:
        """Return whether another step came; wait until it did or something was said."""
        for _ in range(40):
            if self.title != title:
                return True
            if self.page.locator(".note").count():
                return False
            time.sleep(0.05)
        return False

    def walk(self) -> None:
        """Go on to the last screen."""
        for _ in range(40):
            if not self.page.locator(".card-body").count():
                return
            assert self.step(), (self.title, self.page.locator(".note").all_inner_texts())


def at_the_pit(browser, live_server, company, job, answered=False):
    """Return the phone of a crew without a network, its order ready but for its own answers."""
    consent_record(line=job.line, answer="GIVEN", answered_on=date(2028, 3, 1), by="clerk",
                   given_by="The owner", recorded_at=AT)  # fmt: skip
    if job.method != "OPEN_CUT":
        ready(job)
        if not answered:
            AssemblyAnswer.objects.all().delete()
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    context.set_offline(True)
    return context, page


def note(record_property, kind: str, *parts: Crew) -> None:
    """Note what a kind of job takes, for `python -m tests.browser.taps`."""
    answers, taps = (sum(getattr(part, name) for part in parts) for name in ("answers", "taps"))
    record_property("job", (kind, answers, taps, sum(part.seconds for part in parts) / 60))


def opened(page, job, place):
    route = f"#/order/{job.pk}/{place}"
    page.evaluate("(route) => { location.hash = route; }", route)
    page.wait_for_selector(f"#screen[data-route='{route}'] :is(.card-body, .photos, .card-go)")


def test_a_plain_job_is_started_and_recorded_with_few_answers(
    browser, live_server, company, record_property
):
    job = order(company)
    context, page = at_the_pit(browser, live_server, company, job)
    opened(page, job, "card")
    start = Crew(page)
    start.walk()
    assert "Everything is answered" in start.title
    assert "Stop at" in page.locator("main").inner_text()
    start.tap("button:has-text('Start the work')")
    page.wait_for_selector("#waiting:has-text('2 not sent')")
    page.wait_for_selector("a.card-go")
    opened(page, job, "done")
    record = Crew(page)
    record.walk()
    record.tap("button:has-text('Hand in')")
    assert start.answers <= 25 and record.answers <= 20, (start.answers, record.answers)
    note(record_property, "slit", start, record)
    assert start.taps + record.taps <= 45
    assert start.seconds + record.seconds < 240, (start.seconds, record.seconds)
    context.set_offline(False)
    page.wait_for_selector("#waiting.bad")  # the record without its photos waits for a person
    job.refresh_from_db()
    answers = job.safety["answers"]
    assert answers["ticket"]["number"] == "28-0411"
    assert answers["pull"]["exclusion_zone_ft"] == 18
    assert [pit["depth_ft"] for pit in answers["excavations"]] == [5.5, 5]
    tail = AssemblyAnswer.objects.get(check_key="CABLE_TAIL")
    assert (tail.measured, tail.answered_by) == (0.25, "crew")
    context.close()


def test_a_pull_that_stopped_is_told_in_a_line(browser, live_server, company, record_property):
    job = order(company)
    context, page = at_the_pit(browser, live_server, company, job)
    opened(page, job, "card")
    start = Crew(page)
    start.walk()
    start.tap("button:has-text('Start the work')", twice=True)
    page.wait_for_selector("a.card-go")
    opened(page, job, "done")
    stopped = {"note": "Stood at the limit at 21 ft; dug up and capped."}
    record = Crew(page, {"What became of the work?": "stopped"}, stopped)
    record.walk()
    record.tap("button:has-text('Hand in')", twice=True)
    note(record_property, "stopped pull", start, record)
    assert record.answers <= 5
    page.wait_for_selector("#waiting:has-text('3 not sent')")
    page.wait_for_timeout(400)  # a second of one kind would have come by now
    assert page.inner_text("#waiting") == "3 not sent"
    context.close()


def test_what_stops_is_not_passed_over(browser, live_server, company):
    job = order(company)
    context, page = at_the_pit(browser, live_server, company, job)
    opened(page, job, "card")
    assert not page.locator(".note-error").count()  # nothing is red before it is answered
    page.locator(".stop-row button:has-text('Not so')").first.click()
    page.wait_for_selector(".note-error:has-text('Blade slits and does not plow: not so')")
    crew = Crew(page)
    assert not crew.step()
    opened(page, job, "card/traffic")  # no way round it by the address
    assert crew.title == "Blade, spacer and jaws"
    page.locator("button:has-text('It is so after all')").click()
    assert crew.step() and crew.title == "Cable behind the jaws"
    page.locator("button:has-text('3/8 in.')").click()
    page.wait_for_selector(".note-error:has-text('0.375 in is over 0.25 in')")
    assert crew.title == "Cable behind the jaws"
    crew.walk()
    page.wait_for_selector("button:has-text('Start the work')")
    context.close()


def test_answers_of_yesterday_are_asked_again_and_those_of_the_string_are_not(
    browser, live_server, company
):
    job = order(company)
    context, page = at_the_pit(browser, live_server, company, job, answered=True)
    opened(page, job, "card")
    crew = Crew(page)
    assert crew.title == "Depth and state of the pits"  # the string is on record
    crew.step()
    page.evaluate(
        "async (key) => { const s = await import(document.querySelector('script[type=module]')"
        ".src.replace('phone.js', 'store.js')); const d = await s.get('drafts', key);"
        " d.day = '2028-04-10'; await s.put('drafts', d); }",
        f"{job.pk}-CARD",
    )
    page.evaluate(f"location.hash = '#/order/{job.pk}'")
    page.wait_for_selector("a.card-go")
    opened(page, job, "card/protection")
    assert crew.title == "Depth and state of the pits"
    assert page.input_value("input[name=main_depth_ft]") == "5.5"
    context.close()


def test_an_open_cut_speaks_of_no_cable_and_no_access_is_told_in_a_line(
    browser, live_server, company, record_property
):
    job = order(company, method="OPEN_CUT")
    context, page = at_the_pit(browser, live_server, company, job)
    opened(page, job, "card")
    crew, said = Crew(page), []
    while page.locator(".card-body").count():
        said.append(page.locator("main").inner_text())
        assert crew.step(), crew.title
    said.append(page.locator("main").inner_text())
    assert not [text for text in said if "cable" in text.lower() or "puller" in text.lower()]
    crew.tap("button:has-text('Start the work')")
    page.wait_for_selector("a.card-go")
    opened(page, job, "done")
    done = Crew(page)
    done.walk()
    note(record_property, "open cut", crew, done)
    opened(page, job, "done/outcome")
    record = Crew(page, {"What became of the work?": "no access"})
    record.walk()
    record.tap("button:has-text('Hand in')")
    note(record_property, "no access", record)
    assert record.answers <= 3
    page.wait_for_selector("#waiting:has-text('2 not sent')")
    context.set_offline(False)
    page.wait_for_selector("#waiting:has-text('All sent')")
    assert CompletionRecord.objects.get().outcome == "NO_ACCESS"
    context.close()


def test_a_record_returned_for_a_photo_opens_at_its_photos(
    browser, live_server, company, record_property
):
    job = order(company)
    record = handed_in(job, quality=good_quality())
    mend = {"Ground put back": "Too dark."}
    completion_return(completion=record, by="reviewer", at=LATER, reasons="", mend=mend)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    crew = Crew(page)
    crew.tap(f"a[href='#/order/{job.pk}']")
    crew.tap("a.card-go")
    page.wait_for_selector(".photo:has-text('Too dark.')")
    crew.tap("button:has-text('Hand in')")
    crew.screens = 3
    note(record_property, "returned for a photo", crew)
    # By its row among what is sent, or on the order's page where that is drawn after the sending.
    page.wait_for_selector("li[data-state=SENT], main:has-text('Record sent')")
    assert job.completions.get(revision=2).quality == record.quality
    context.close()
