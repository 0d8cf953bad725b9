"""What is sent is taken whole or refused with its place: no name, level or year slips by."""

import json

import pytest

from replacements.api.bodies import DEPTH, VALUES
from replacements.models import Appointment, ToolStringRecord
from tests.replacements.api.test_api import DONE, bearer, post
from tests.replacements.factories import LATER, contractor, order, started

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW = "tests.replacements.api.test_api.moment"
    settings.TODAY = ""


@pytest.fixture
def company():
    return contractor()


def pointers(answer) -> list[str]:
    return [error["pointer"] for error in answer.json()["errors"]]


def raw(client, company, body: bytes):
    """Post bytes as an attempt of an order."""
    path = f"work-orders/{order(company).pk}/attempts/"
    return post(client, path, body, bearer(company))


def test_a_name_that_no_field_takes_is_refused_with_its_place_and_what_there_is(client, company):
    sent = {"parts": [{"component": 1, "facing": "TO_OLD_PIPE"}], "pulled_ends": "THREADED"}
    path = f"work-orders/{order(company).pk}/tool-strings/"
    answer = post(client, path, sent, bearer(company))
    assert answer.status_code == 400
    assert pointers(answer) == ["/parts/0/facing", "/pulled_ends"]
    said = [error["detail"] for error in answer.json()["errors"]]
    assert "component, orientation" in said[0]
    assert said[1].endswith("Is it pulled_end?")
    assert not ToolStringRecord.objects.exists()


def test_it_is_refused_beside_other_faults_and_deep_inside(client, company):
    sent = DONE | {"finished_on": "x", "quality": {"tracer": {"seen~on/at": 1}}}
    path = f"work-orders/{started(order(company)).pk}/completions/"
    found = pointers(post(client, path, sent, bearer(company)))
    assert {"/finished_on", "/quality/tracer/seen~0on~1at"} <= set(found)


def test_a_parameter_of_no_meaning_is_refused(client, company):
    headers = bearer(company)
    for asked in ("stat=RELEASED", "page_size=900", "page_size=-1", "page_size=x"):
        answer = client.get(f"/api/v1/work-orders/?{asked}", headers=headers)
        assert answer.status_code == 400, asked
    assert "state" in client.get("/api/v1/work-orders/?stat=x", headers=headers).json()["detail"]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"[" * 50_000 + b"]" * 50_000, f"{DEPTH} levels"),
        (b'{"a":' * 50_000 + b"1" + b"}" * 50_000, f"{DEPTH} levels"),
        (b"[" + b"0," * VALUES + b"0]", f"{VALUES:,} values"),
        (b'{"at": NaN}', "NaN"),
        (b'{"at": -Infinity}', "Infinity"),
        (b'{"at": 1e999}', "1e999"),
        (b'{"at": ' + b"9" * 5_000 + b"}", "too long"),
        (b'{"method": "\\ud800"}', "surrogate"),
        (b'{"\\udc00": 1}', "surrogate"),
        (b'{"outcome": "\\u0000"}', "NUL"),
        (b'{"at": 1, "at": 2}', "twice"),
        (b"\xff\xfe", "UTF-8"),
        (b'{"at": ', "line 1, column"),
        (b'"' + b"\\" * 1000, "not JSON"),
    ],
)
def test_what_no_record_can_hold_is_refused_by_a_sentence(client, company, body, said):
    answer = raw(client, company, body)
    assert answer.status_code == 400
    assert said in answer.json()["detail"]


def test_brackets_inside_of_words_are_words(client, company):
    note = '[{"' * 50 + "," * 30 + "\\"
    sent = {"at": LATER.isoformat(), "method": "PHONE", "outcome": note[:200]}
    answer = raw(client, company, json.dumps(sent).encode())
    assert answer.status_code == 201, answer.content


def test_a_number_of_a_record_beyond_the_databases_is_refused(client, company):
    path = f"work-orders/{order(company).pk}/tool-strings/"
    answer = post(client, path, {"parts": [{"component": 2**70}]}, bearer(company))
    assert pointers(answer) == ["/parts/0/component"]


@pytest.mark.parametrize(
    ("begins", "ends", "status"),
    [
        ("0003-02-01T09:00:00Z", "2028-05-01T10:00:00Z", 400),
        ("2028-05-01T09:00:00Z", "9999-12-31T23:59:59-14:00", 400),
        ("2027-05-01T09:00:00Z", "2028-05-01T10:00:00Z", 422),
        ("2028-05-01T09:00:00Z", "2028-05-01T10:00:00Z", 201),
    ],
)
def test_a_time_in_another_age_is_refused(client, company, begins, ends, status):
    path = f"work-orders/{order(company).pk}/appointments/"
    sent = {"purpose": "WORK", "starts_at": begins, "ends_at": ends}
    assert post(client, path, sent, bearer(company)).status_code == status
    assert Appointment.objects.count() == (status == 201)
