"""A number that cannot be read is refused where it stands, and never read as another answer."""

import base64
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.db import DataError, transaction
from django.urls import reverse

from services_inventory.bulk import on_postgresql
from services_inventory.given import (
    NotANumber,
    day_and_number_given,
    number_given,
    texts_are_texts,
)
from services_inventory.models import Evidence, MatchQuestion
from services_inventory.operations.batches import batch_open
from tests.program.operations.factories import NOW, utility
from tests.services_inventory.factories import bare_line, line_of
from tests.services_inventory.people import MANAGER, STAFF, browser_of

# As people write them, too long for any database, another script's digits, and plain slips.
NO_NUMBERS = ("1,000,001", "1.000.001", "1 000 001", "9" * 30, "²", "١٢", "-1", "1e6", "x")
ASKED = (
    ("work_order_list", "contractor"),
    ("work_order_list", "neighborhood"),
    ("work_order_list", "before"),
    ("work_order_new", "line"),
    ("plan_new", "from"),
    ("plan_compare", "before"),
    ("tier_list", "tier"),
)
ASKED_OF_STAFF = (
    ("inquiry_list", "after"),
    ("review_queue", "after"),
    ("notice_owed", "after"),
)


def test_a_number_is_read_whole_or_refused_and_nothing_is_no_number():
    assert number_given("1000001", "Line") == 1_000_001
    assert number_given(" 7 ", "Line") == 7
    assert number_given("", "Line") is None
    assert number_given(None, "Line") is None
    for text in NO_NUMBERS:
        with pytest.raises(NotANumber, match="Line: .* is no number of a record"):
            number_given(text, "Line")


def test_the_mark_of_a_page_is_a_day_and_a_number_or_refused():
    assert day_and_number_given("2031-01-15_1000001", "Page") is not None
    assert day_and_number_given("", "Page") is None
    for text in ("2031-01-15", "2031-13-01_5", "2031-01-15_1,000", "x_y", "_5"):
        with pytest.raises(NotANumber):
            day_and_number_given(text, "Page")


def test_no_number_is_written_for_people_unless_a_filter_says_so():
    assert settings.USE_THOUSAND_SEPARATOR is False


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("role", "name", "key"),
    [*((MANAGER, *one) for one in ASKED), *((STAFF, *one) for one in ASKED_OF_STAFF)],
)
def test_a_page_asked_with_no_number_says_so_instead_of_showing_everything(role, name, key):
    utility()
    extra = {"state": "answered"} if name == "inquiry_list" else {}
    browser = browser_of(role)
    for text in NO_NUMBERS:
        answer = browser.get(reverse(name), {**extra, key: text})
        assert answer.status_code == 400, f"{name}?{key}={text}: {answer.status_code}"
        assert b"No such number" in answer.content


@pytest.mark.django_db
def test_the_answer_this_line_is_never_read_as_a_line_of_its_own():
    """As with 1,000,001 in the value of the radio button."""
    line = bare_line()
    question = MatchQuestion.objects.create(
        batch=batch_open(kind="INTAKE", by="clerk", at=NOW), row_number=2, given_key="k",
        given={"location_id": "", "address": "14 Milll St", "reason": "Alike."},
        candidates=[{"line_id": line.pk, "address": "14 Mill St", "location_id": line.location_id,
                     "score": 95, "meters": None}],
    )  # fmt: skip
    staff = browser_of(STAFF)
    assert f'value="{line.pk}"' in staff.get(reverse("match_list")).content.decode()
    decide = reverse("match_decide", args=[question.pk])
    for sent in ({"line": f"{line.pk:,}"}, {}):
        assert b"Choose one of the lines" in staff.post(decide, sent, follow=True).content
        question.refresh_from_db()
        assert question.decision is None
    staff.post(decide, {"line": line.pk})
    question.refresh_from_db()
    assert list(question.decision.lines.all()) == [line]


@pytest.mark.django_db
@pytest.mark.parametrize("digits", [19, 40, 5000])
def test_an_address_with_a_number_larger_than_any_is_none(client, digits):
    for path in ("/inventory/evidence/{}/withdraw/", "/program/plan/1/areas/{}/"):
        assert client.get(path.format("9" * digits)).status_code == 404


@pytest.mark.django_db
def test_an_address_with_a_zero_byte_is_refused_in_a_sentence(client):
    answer = client.get("/public/en/", {"q": "12 Mill\0 St"})
    assert answer.status_code == 400
    assert "is no text" in answer.content.decode()
    assert client.get("/public/en/line/L%001/").status_code == 404
    key = base64.b64encode(b"pat\0:secret").decode()
    assert client.get("/ogc/staff/", headers={"authorization": f"Basic {key}"}).status_code == 401


@pytest.mark.django_db
@pytest.mark.parametrize("encoding", ["multipart", "urlencoded"])
def test_a_reason_with_a_zero_byte_is_refused_in_a_sentence(encoding):
    line = line_of("COPPER", "COPPER")
    found = Evidence.objects.filter(line=line).latest("id")
    said = {"reason": "Seen\0 wrongly"}
    form = {"data": said} if encoding == "multipart" else {
        "data": urlencode(said), "content_type": "application/x-www-form-urlencoded"
    }  # fmt: skip
    answer = browser_of(STAFF).post(reverse("evidence_withdraw", args=[found.pk]), **form)
    assert answer.status_code == 400
    assert "“reason” holds a character that is no text" in answer.content.decode()
    assert not Evidence.objects.filter(withdraws=found).exists()


@pytest.mark.django_db
def test_a_zero_byte_that_only_the_database_meets_is_a_sentence():
    said = texts_are_texts(lambda request: None).process_exception
    met = [DataError("unsupported Unicode escape sequence: \\u0000 cannot be converted to text.")]
    try:
        with transaction.atomic():
            Evidence.objects.filter(basis="a\0b").exists()
    except DataError as error:
        met.append(error)
    assert len(met) == 1 + on_postgresql()
    for error in met:
        with pytest.raises(NotANumber, match="zero byte"):
            said(None, error)
    said(None, DataError("value too long for type character varying(20)"))
