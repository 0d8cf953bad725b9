"""The card in Spanish: a crew goes through a whole job and meets no English."""

import re

from replacements import words
from tests.browser.phone import MARKS
from tests.browser.test_phone_card import TAPPED, Crew, at_the_pit, opened
from tests.replacements.factories import order

pytestmark = MARKS
MISSED = (
    "async () => [...(await import(document.querySelector('script[type=module]')"
    ".src.replace('phone.js', 'words.js'))).missed]"
)
KEPT = (
    "async (key) => { const s = await import(document.querySelector('script[type=module]')"
    ".src.replace('phone.js', 'store.js')); const { fields } = await s.get('drafts', key);"
    " return [fields.main_depth_ft, fields.free_cable_ft]; }"
)
NO_WORDS = r"[A-Z]{1,3}-\d+|\d[\d,]* psi|PE,? CTS SDR 9|12 Mill St|crew|W-\d+.*|COMPANY.*"


def in_spanish(text: str) -> str:
    with words.speaking("es"):
        return words.said(text)


def test_a_whole_job_is_told_in_spanish_and_in_metric_too(browser, live_server, company):
    job = order(company)
    context, page = at_the_pit(browser, live_server, company, job)
    page.click("#tongue")
    page.wait_for_selector("h1:has-text('Hoy'), h1:has-text('Órdenes por hacer')")
    page.click("#units")
    page.wait_for_selector("#units:has-text('ft, lb')")
    opened(page, job, "card")
    crew = Crew(page)
    meters = {"main_depth_ft": "1.7", "house_depth_ft": "1.5", "free_cable_ft": "3.6",
              "static_psi": "4.1", "test_psi": "7", "depth_main_ft": "1.5", "depth_house_ft": "1.5",
              "leading_outside_in": "28.6", "lead_left_ft": "10.7"}  # fmt: skip
    crew.typed |= meters
    crew.tapped = {in_spanish(title): in_spanish(value) for title, value in TAPPED.items()}
    crew.tapped[in_spanish("Disinfection")] = "frotados"
    crew.walk()
    assert crew.page.evaluate(KEPT, f"{job.pk}-START") == ["5.5774", "11.811"]
    assert "Empezar el trabajo" in page.locator("main").inner_text()
    said = page.locator("main").inner_text()
    limit = re.search(r"Pare en [\d,]+ lb \(([\d.]+) kN\)", said)
    assert limit and len(limit[1].replace(".", "").lstrip("0")) <= 3  # as a gauge is read
    opened(page, job, "done")
    crew.walk()
    page.evaluate(f"location.hash = '#/order/{job.pk}'")
    page.wait_for_selector("a.card-go")
    missed = {text for text in page.evaluate(MISSED) if not re.fullmatch(NO_WORDS, text.strip())}
    assert missed == set()
    context.close()
