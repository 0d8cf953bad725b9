"""A real browser goes offline, files a record, is closed, comes back, and it arrives once."""

from replacements.models import CompletionRecord, PhotoFacts, PullRecord
from replacements.operations.completions import completion_return
from replacements.operations.work_orders import work_order_change
from tests.browser.phone import MARKS, signed_in
from tests.replacements.completion.drops import jpeg
from tests.replacements.factories import LATER, good_quality, handed_in, user
from tests.replacements.logs_made import make_clean_log

pytestmark = MARKS


def fill_record(page, job, tmp_path):
    """Fill the record of an order, with a photo and a log, and finish it."""
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    for box in ("system_replaced", "customer_replaced"):
        page.check(f"input[name={box}]")
    for name in ("system_found", "customer_found"):
        page.select_option(f"select[name={name}]", "LEAD")
    page.fill("input[name=test_psi]", "100")
    (tmp_path / "old.jpg").write_bytes(jpeg())
    (tmp_path / "pull.csv").write_text(make_clean_log(job.pk))
    page.set_input_files("input[data-kind=OLD_PIPE]", str(tmp_path / "old.jpg"))
    page.wait_for_selector(".photo.has img")
    page.set_input_files("#pull-log", str(tmp_path / "pull.csv"))
    page.wait_for_selector("text=Chosen: pull.csv")


def send_as_it_is(page):
    """Look at the stops that came back, and send the record nevertheless."""
    page.wait_for_selector("#waiting.bad")
    page.click("#waiting")
    page.click("a:has-text('Look at it')")
    page.wait_for_selector("text=Not handed in yet")
    page.wait_for_selector("text=No photo: new at main.")
    page.click("button:has-text('Send it as it is')")
    page.wait_for_selector("#waiting:has-text('All sent')")


def test_offline_closed_and_back_it_arrives_exactly_once(
    browser, live_server, company, job, tmp_path
):
    who = user("crew", "Contractor", company)
    context = browser()
    page = signed_in(context, live_server, who)
    context.set_offline(True)
    page.reload()
    page.wait_for_selector("text=No network: all is kept here")
    fill_record(page, job, tmp_path)
    page.click("button:has-text('Hand in')")
    page.wait_for_selector("#waiting:has-text('1 not sent')")
    assert CompletionRecord.objects.count() == 0
    context.close()

    context = browser()
    context.set_offline(True)
    page = context.pages[0]
    page.goto(f"{live_server.url}/work/phone/#/outbox")
    page.wait_for_selector("text=waits for the network")
    context.set_offline(False)
    send_as_it_is(page)
    page.reload()
    page.wait_for_selector("body[data-ready]")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_timeout(500)
    record = CompletionRecord.objects.get()
    assert (record.work_order_id, record.handed_in_by) == (job.pk, "crew")
    assert record.quality["pressure_test"]["pressure_psi"] == 100
    assert record.photos.count() == PhotoFacts.objects.count() == PullRecord.objects.count() == 1
    context.close()


def test_an_answer_that_was_lost_on_the_way_doubles_nothing(
    browser, live_server, company, job, tmp_path
):
    who = user("crew", "Contractor", company)
    context = browser()
    page = signed_in(context, live_server, who)
    lost = []

    def lose(route):
        answer = route.fetch()
        if answer.status == 201 and not lost:
            lost.append(answer.status)
            route.abort()
        else:
            route.fulfill(response=answer)

    context.route("**/work/phone/send/*/record/", lose)
    fill_record(page, job, tmp_path)
    page.click("button:has-text('Hand in')")
    page.wait_for_selector("#waiting.bad")
    page.click("#waiting")
    page.click("a:has-text('Look at it')")
    page.click("button:has-text('Send it as it is')")
    page.wait_for_selector("#waiting:has-text('1 not sent')")
    page.wait_for_timeout(300)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_selector("#waiting:has-text('All sent')")
    assert lost == [201]
    assert CompletionRecord.objects.count() == 1
    context.close()


def test_an_order_changed_meanwhile_is_shown_to_a_person_who_decides(
    browser, live_server, company, job, tmp_path
):
    who = user("crew", "Contractor", company)
    context = browser()
    page = signed_in(context, live_server, who)
    context.set_offline(True)
    fill_record(page, job, tmp_path)
    page.click("button:has-text('Hand in')")
    page.wait_for_selector("#waiting:has-text('1 not sent')")
    work_order_change(work_order=job, by="planner", at=LATER, length_ft=38.0)
    context.set_offline(False)
    page.wait_for_selector("#waiting.bad")
    page.click("#waiting")
    page.click("a:has-text('Look at it')")
    page.wait_for_selector("text=What changed in the meantime")
    assert page.locator("tr", has_text="Length, ft").inner_text().split() == [
        "Length,", "ft", "35", "38"
    ]  # fmt: skip
    assert CompletionRecord.objects.count() == 0
    page.click("text=It still holds: send it")
    send_as_it_is(page)
    assert CompletionRecord.objects.count() == 1
    context.close()


def test_a_returned_record_opens_on_the_phone_as_it_was_sent(browser, live_server, company, job):
    record = handed_in(job, note="Two taps.", quality=good_quality())
    mend = {"Ground put back": "Too dark.", "Test and depth": "Which gauge?"}
    completion_return(completion=record, by="reviewer", at=LATER, reasons="", mend=mend)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    page.wait_for_selector("textarea[name=note]")
    assert page.input_value("textarea[name=note]") == "Two taps."
    assert page.input_value("input[name=test_psi]") == "100"
    assert page.is_checked("input[name=system_replaced]")
    assert page.locator(".photo:has-text('sent before, kept')").count() == 5
    assert "Too dark." in page.locator(".photo:has-text('Ground put back')").inner_text()
    assert "Which gauge?" in page.locator("fieldset:has-text('Test and depth')").inner_text()
    page.fill("input[name=test_psi]", "120")
    page.click("button:has-text('Hand in')")
    page.wait_for_selector("li[data-state=SENT], main:has-text('Record sent')")
    again = job.completions.get(revision=2)
    assert again.quality == record.quality | {
        "pressure_test": record.quality["pressure_test"] | {"pressure_psi": 120}
    }  # fmt: skip
    assert set(again.photos.all()) == set(record.photos.all())
    context.close()


def test_controls_are_large_and_nothing_runs_over_the_edge(browser, live_server, company, job):
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    for route in ("", *(f"order/{job.pk}{step}" for step in ("", "/card", "/done", "/record"))):
        page.goto(f"{live_server.url}/work/phone/#/{route}")
        page.wait_for_timeout(200)
        small = page.evaluate(
            "[...document.querySelectorAll('main a.button, main button, main select, main textarea,"
            " main input:not([type=checkbox]):not([type=radio]):not([data-kind]), main .tick,"
            " .phone-list a, header a')].filter(e => e.offsetParent && e.offsetHeight < 48)"
            ".map(e => `${e.tagName} ${e.textContent} ${e.offsetHeight}`)"
        )
        assert small == [], route
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, route
    context.close()
