"""The plan document's elements and its pages, without a database."""

from io import BytesIO

import pytest
from pypdf import PdfReader

from program.paper import unprintable
from program.plan_document.elements import OWN_WORDS, Known, element_of, elements
from program.plan_document.pdf import plan_document_pdf


def facts(**changes) -> dict:
    """Return the facts of a small constructed document in which nothing is missing."""
    section = {
        "number": 8, "heading": "Access", "summary": "Laws on access.",
        "citation": "40 CFR 141.84(c)", "mark_in_words": "from memory", "supplied_by": "Counsel",
        "asks": ["Which law?"], "applies": True, "missing": [], "values": [],
        "sentences": ["9 lines are left for now."],
        "tables": [{"caption": "Attempts", "headings": ["Method", "Attempts"],
                    "rows": [["phone", "9"], ["letter", "=9"]]}],
        "text": {"text": "First.\n\n<i>Second</i> & third.", "taken_from": "Ordinance 12",
                 "version": 3, "by": "counsel", "on": "2031-01-10"},
    }  # fmt: skip
    none = {"sentences": [], "tables": [], "missing": [], "values": []}
    return {
        "utility": {
            "name": "Town of Example", "pwsid": "ZZ0000001", "state": "ZZ", "population": 900,
            "connections": 40, "contact": "", "phone": "", "email": "", "website": "",
        },
        "as_of": "2031-01-15",
        "inventory": none,
        "sections": [section],
        "appendix": none,
        "values": [["REQUIRED_RATE", "1/10", "fraction", "141.84(d)(5)", "a sheet", "memory", ""]],
        "missing": [],
    } | changes  # fmt: skip


def text_of(content: bytes) -> str:
    return " ".join(" ".join(p.extract_text().split()) for p in PdfReader(BytesIO(content)).pages)


def gap(what="The utility's cost", blocks=True) -> dict:
    return {"part": "6. Money", "what": what, "who": "Program manager", "blocks": blocks}


def test_the_ten_elements_stand_in_order_each_with_citation_mark_and_who_supplies_it():
    # The list of the digest of 40 CFR 141.84(c): five of the 2021 revision, five of the LCRI.
    assert [one.number for one in elements()] == [*range(1, 11)]
    for one in elements():
        assert one.citation.startswith("40 CFR 141.84(c)")
        assert one.mark in ("seen", "memory") and one.source and one.supplied_by and one.asks
    assert [one.id for one in elements() if one.mark == "seen"] == [
        "UNKNOWN_LINES", "PROCEDURE", "BEFORE_WORK", "FLUSHING", "PRIORITY",
    ]  # fmt: skip
    assert element_of("NOTHING") is None


def test_the_words_stand_as_they_were_written_with_their_author():
    said = text_of(plan_document_pdf(facts(), 2, "ab" * 32))
    assert "<i>Second</i> & third." in said  # drawn, not interpreted
    assert "version 3, counsel, 2031-01-10, taken from Ordinance 12" in said
    assert "number 2, frozen" in said and "ab" * 32 in said
    assert "DRAFT" not in said and "MISSING" not in said
    assert "Nobody has yet read in the rule's own text: REQUIRED_RATE." in said


def test_what_is_missing_is_named_with_who_must_supply_it_and_marks_every_page():
    section = facts()["sections"][0] | {"text": None, "missing": [gap(OWN_WORDS)]}
    content = plan_document_pdf(facts(missing=[gap(OWN_WORDS), gap()], sections=[section] * 12), 1)
    pages = [page.extract_text() for page in PdfReader(BytesIO(content)).pages]
    assert len(pages) > 2
    assert all("DRAFT: 2 missing" in page for page in pages)
    said = text_of(content)
    assert "MISSING: the utility's own words. To be supplied by: Counsel." in said
    assert "The utility's cost Program manager waits for it" in said
    assert "Which law?" in said


def test_what_does_not_block_is_no_draft():
    said = text_of(plan_document_pdf(facts(missing=[gap(blocks=False)]), 1))
    assert "To be settled" in said and "is whole without it" in said and "DRAFT" not in said


def test_a_print_that_is_not_frozen_says_so_on_every_page():
    assert "NOT FROZEN" in text_of(plan_document_pdf(facts(), None))


def test_the_same_facts_give_the_same_bytes():
    assert plan_document_pdf(facts(), 1) == plan_document_pdf(facts(), 1)
    assert plan_document_pdf(facts(), 1) != plan_document_pdf(facts(), 2)


@pytest.mark.parametrize(
    "rows",
    [
        [["a" * 5_000, "b"]],
        [["a b " * 200, "b " * 200]] * 80,
        [["\u4e2d", "\U0001f600"]],
        [["", ""]],
    ],
)
def test_no_content_of_a_table_breaks_the_pages(rows):
    table = {"caption": "c" * 300, "headings": ["One", "Two"], "rows": rows}
    section = facts()["sections"][0] | {"tables": [table]}
    assert plan_document_pdf(facts(sections=[section]), 1).startswith(b"%PDF")


def test_characters_that_the_font_lacks_are_named():
    assert unprintable("Größe, niño, 12 ft²\n") == []
    assert unprintable("a\u4e2db") == ["\u4e2d"]


def test_an_empty_table_is_not_shown():
    known = Known()
    known.show("Nothing", ("A",), [])
    known.show("One", ("A", "B"), [(None, 3)])
    assert [table.rows for table in known.tables] == [[["", "3"]]]
