"""A record beside its order: what differs is marked by a word, and words stand at the part."""

import re

import pytest
from django.urls import reverse

from replacements.domain.findings import Level
from replacements.forms.completions import PHOTO_KINDS
from replacements.queries.review_page import compared, photos_beside
from services_inventory.models import Document
from tests.replacements.factories import contractor, handed_in, order, pull, started, user

pytestmark = pytest.mark.django_db


@pytest.fixture
def company():
    return contractor("Quarry Lane Underground")


@pytest.fixture
def reviewer(client):
    client.force_login(user("reviewer", "Compliance staff"))
    return client


def rows(record) -> dict:
    parts = compared(record)["parts"]
    return {(part, row.name): row for part, found, *_ in parts for row in found}


def test_what_agrees_is_told_as_asked_and_what_differs_by_the_word(company):
    work = started(order(company))
    record = handed_in(work, pull=pull(work), length_ft=work.length_ft + 9, system_found="COPPER",
                       method_used="OPEN_CUT")  # fmt: skip
    found = rows(record)
    assert found["What was replaced", "Customer side"].mark == ("GOOD", "as asked")
    assert found["What was replaced", "Length"].mark == (Level.CAUTION, "differs")
    system = found["What was found", "System side"]
    assert system.mark[1] == "differs" and "copper" in system.findings[0].message
    assert not found["What was found", "Customer side"].findings
    assert found["Outcome and note", "Method"].mark[1] == "differs"


def test_a_bare_record_shows_each_stop_at_its_head_and_in_its_row_as_missing(company):
    record = handed_in(started(order(company)), quality={}, photos=[])
    found = rows(record)
    assert found["Household", "Household"].mark == ("NOTE", "not said")
    for part, name in (("Test and depth", "Pressure test"),
                       ("Disinfection and flushing", "Flushed in the house")):  # fmt: skip
        assert found[part, name].mark == (Level.STOP, "missing"), name
    shown = compared(record)
    head = [finding.message for finding in shown["left"]]
    told = [f for row in found.values() for f in row.findings]
    others = {f.message for row in found.values() if row.is_other for f in row.findings}
    assert others <= set(head) and len(head) >= shown["differ"] > 10
    assert not any(opens for *_, opens in shown["parts"])  # all is told at the head
    rules = [f.rule for f in shown["left"] if f not in told and f.rule != "DIFFERS"]
    photos = [p["missing"] for p in photos_beside(record, [], PHOTO_KINDS) if p["missing"]]
    assert len(told) + len(rules) + len(photos) == len(record.findings)  # nothing is left out
    assert len(photos) == 5


def test_each_photo_of_a_kind_is_shown_and_the_one_taken_last_stands_first(company):
    kinds = ("PHOTO_OLD_PIPE", "PHOTO_OTHER", "PHOTO_OLD_PIPE", "PHOTO_RESTORED")
    shown = [{"document": Document(pk=pk, kind=kind), "facts": None, "name": "other"}
             for pk, kind in enumerate(kinds, start=1)]  # fmt: skip
    record = handed_in(started(order(company)))
    beside = photos_beside(record, shown, PHOTO_KINDS)
    told = [(row["label"], row["photo"]["document"].pk) for row in beside if row["photo"]]
    first, back = PHOTO_KINDS["OLD_PIPE"], PHOTO_KINDS["RESTORED"]
    assert told == [(first, 3), (f"{first}, another", 1), (back, 4), ("other", 2)]


def test_no_access_has_no_rows_of_pipe(company):
    record = handed_in(order(company), outcome="NO_ACCESS", note="nobody home")
    found = rows(record)
    assert found["Outcome and note", "Outcome"].mark[1] == "differs"
    assert not [part for part, _ in found if part in ("What was replaced", "Household")]


def test_the_page_takes_words_at_a_part_and_keeps_them_when_refused(reviewer, company):
    record = handed_in(started(order(company)), quality={})
    where = reverse("review", args=[record.pk])
    page = reviewer.get(where).content.decode()
    name = re.search(r'name="(mend_\d+)"[^>]*aria-label="To be mended: Test and depth"', page)[1]
    refused = reviewer.post(where, {"accept": "1", name: "Which gauge?"}).content.decode()
    assert 'value="Which gauge?"' in refused
    reviewer.post(where, {"return": "1", name: "Which gauge?"})
    record.refresh_from_db()
    assert record.review.mend == {"Test and depth": "Which gauge?"}
    assert "Which gauge?" in record.review.reasons
