"""Getting in on the phone: signed, tried and booked without a network, and it arrives once."""

from io import BytesIO

from PIL import Image

from replacements.models import Appointment, Consent, ContactAttempt
from replacements.operations.access import consent_record
from replacements.operations.visits import person_record
from tests.browser.phone import MARKS, signed_in
from tests.replacements.completion.drops import jpeg
from tests.replacements.factories import AT, LATER, order, user

pytestmark = MARKS


def sign(page) -> None:
    """Draw a signature with the pointer."""
    page.locator("canvas.signature").scroll_into_view_if_needed()
    box = page.locator("canvas.signature").bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 60)
    page.mouse.down()
    for step in range(12):
        page.mouse.move(box["x"] + 40 + 18 * step, box["y"] + 60 + (step % 3) * 14)
    page.mouse.up()


def fill_consent(page, job) -> None:
    """Go from the list to the owner's signed answer."""
    page.click(f"a[href='#/order/{job.pk}']")
    page.click("text=Getting in")
    page.click("text=Take the owner's answer")
    page.fill("input[name=given_by]", "Orla Marsh")
    sign(page)
    page.wait_for_selector("text=Kept on this phone at")


def test_an_owner_signs_without_a_network_and_the_paper_arrives_once(browser, live_server, company):
    job = order(company)
    person_record(line=job.line, capacity="OWNER", name="Orla Marsh", language="es",
                  by="clerk", at=AT)  # fmt: skip
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    context.set_offline(True)
    fill_consent(page, job)
    assert page.locator(".consent-words").inner_text().startswith("Soy propietario")
    assert page.locator("text=Orla Marsh").count() == 0
    page.reload()
    page.wait_for_selector("canvas.signature")
    assert page.input_value("input[name=given_by]") == "Orla Marsh"
    page.click("button:has-text('Record the answer')")
    page.wait_for_selector("#waiting:has-text('1 not sent')")
    assert not Consent.objects.exists()
    context.set_offline(False)
    page.wait_for_selector("#waiting:has-text('All sent')")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_selector("text=The owner has agreed")
    kept = Consent.objects.get()
    assert (kept.answer, kept.given_by, kept.language) == ("GIVEN", "Orla Marsh", "es")
    with kept.document.file.open("rb") as file, Image.open(BytesIO(file.read())) as paper:
        assert paper.format == "JPEG"
        dark = paper.convert("L").point(lambda tone: 255 * (tone < 90)).getbbox()
    assert dark is not None, "neither words nor ink are on the paper"
    context.close()


def test_consent_without_a_signature_is_not_taken_a_photo_of_the_form_is(
    browser, live_server, company, tmp_path
):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    page.goto(f"{live_server.url}/work/phone/#/order/{job.pk}/consent")
    page.fill("input[name=given_by]", "Orla Marsh")
    page.click("button:has-text('Record the answer')")
    page.wait_for_selector("text=Let the owner sign")
    (tmp_path / "form.jpg").write_bytes(jpeg(gps=(41.5, -100.3)))
    page.set_input_files("#consent-paper", str(tmp_path / "form.jpg"))
    page.wait_for_selector("text=Chosen: form.jpg")
    page.click("button:has-text('Record the answer')")
    page.wait_for_selector("text=The owner has agreed")
    assert Consent.objects.get().document.name == "form.jpg"
    context.close()


def test_an_answer_recorded_meanwhile_is_shown_to_a_person_who_decides(
    browser, live_server, company
):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    context.set_offline(True)
    fill_consent(page, job)
    page.click("button:has-text('Record the answer')")
    page.wait_for_selector("#waiting:has-text('1 not sent')")
    consent_record(
        line=job.line, answer="REFUSED", answered_on=LATER.date(), by="clerk", recorded_at=LATER
    )
    context.set_offline(False)
    page.wait_for_selector("#waiting.bad")
    page.click("#waiting")
    page.click("a:has-text('Look at it')")
    row = page.locator("tr", has_text="Where consent stands").inner_text().split()
    assert row[-2:] == ["OPEN", "REFUSED"]
    assert Consent.objects.count() == 1
    page.click("text=It still holds: send it")
    page.wait_for_selector("#waiting:has-text('All sent')")
    assert Consent.objects.latest("id").answer == "GIVEN"
    context.close()


def test_an_attempt_and_an_appointment_go_once_and_the_appointment_is_closed(
    browser, live_server, company
):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    context.set_offline(True)
    page.goto(f"{live_server.url}/work/phone/#/order/{job.pk}/attempt")
    page.fill("input[name=at]", "2028-04-10T09:30")
    page.select_option("select[name=method]", "DOOR_HANGER")
    page.fill("input[name=outcome]", "hung on the door")
    page.click("button:has-text('Record the attempt')")
    page.wait_for_selector("h1:has-text('Getting in')")
    page.click("text=Book an appointment")
    page.fill("input[name=starts_at]", "2028-04-11T01:00")
    page.fill("input[name=ends_at]", "2028-04-12T12:00")
    page.click("button:has-text('Book it')")
    page.wait_for_selector("#waiting:has-text('2 not sent')")
    context.set_offline(False)
    page.wait_for_selector("#waiting:has-text('All sent')")
    attempt = ContactAttempt.objects.get()
    assert (attempt.method, attempt.contractor) == ("DOOR_HANGER", company)
    page.click("button:has-text('Kept')")
    sent = page.locator("li[data-state=SENT]", has_text="What became of an appointment")
    sent.wait_for()
    assert Appointment.objects.get().state == "KEPT"
    context.close()


def test_controls_of_getting_in_are_large_and_nothing_runs_over_the_edge(
    browser, live_server, company
):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    for route in ("access", "attempt", "consent", "appointment"):
        page.goto(f"{live_server.url}/work/phone/#/order/{job.pk}/{route}")
        page.wait_for_timeout(200)
        small = page.evaluate(
            "[...document.querySelectorAll('main a.button, main button, main select, main textarea,"
            " main input')].filter(e => e.offsetParent && e.offsetHeight < 48)"
            ".map(e => `${e.tagName} ${e.textContent} ${e.offsetHeight}`)"
        )
        assert small == [], route
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, route
    context.close()
