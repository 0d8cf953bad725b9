"""The guides are searched within the policy that allows no foreign script."""


def test_a_search_finds_the_guide_that_has_the_words(signed_in, town):
    page = signed_in("manager", 1280)
    page.goto(f"{town.address}/help/")
    page.fill("#mkdocs-search-query", "retaining nut")
    page.press("#mkdocs-search-query", "Enter")
    page.locator("#mkdocs-search-results a", has_text="The pull").first.click()
    assert page.url.endswith("/help/glossary/#the-pull")
    assert page.locator("h1").inner_text() == "Glossary"


def test_what_no_guide_has_is_said(signed_in, town):
    page = signed_in("manager", 390)
    page.goto(f"{town.address}/help/tutorials/contractor/?q=zeppelinshed")
    page.get_by_text("Nothing in the guides has these words.").wait_for()
