"""The API by hand: who gets in, whose work is seen, versions, once-only writes, errors."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from replacements.api.authentication import device_let_in, device_shut_out
from replacements.models import CompletionRecord, DeviceToken, PhotoFacts, PullRecord
from replacements.operations.work_orders import work_order_change
from services_inventory.today import now
from tests.replacements.factories import (
    AT,
    LATER,
    contractor,
    handed_in,
    order,
    pull,
    started,
    string,
    user,
)
from tests.replacements.logs_made import make_clean_log

pytestmark = pytest.mark.django_db
DONE = {
    "outcome": "REPLACED",
    "finished_on": "2028-04-10",
    "system_found": "LEAD",
    "customer_found": "LEAD",
    "system_replaced": True,
    "customer_replaced": True,
}


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW = "tests.replacements.api.test_api.moment"
    settings.TODAY = ""


def moment():
    """Return the moment the requests are made at."""
    return LATER


@pytest.fixture
def company(db):
    return contractor()


@pytest.fixture
def headers(company):
    return bearer(company)


def bearer(company, name="crew"):
    """Return the headers of a device of a company."""
    who = user(f"{name}-{company.pk}", "Contractor", company)
    _, secret = device_let_in(user=who, name="Truck 1", days=30, by="crew", at=now())
    return {"Authorization": f"Bearer {secret}"}


def jpeg(color="gray"):
    """Return the bytes of a small photo."""
    out = BytesIO()
    Image.new("RGB", (80, 60), color).save(out, "JPEG")
    return out.getvalue()


def post(client, path, data, headers, **more):
    """Post JSON to the API."""
    return client.post(
        f"/api/v1/{path}", data, content_type="application/json", headers=headers | more
    )


def test_nobody_gets_a_problem_document_and_a_challenge(client):
    answer = client.get("/api/v1/work-orders/")
    assert answer.status_code == 401
    assert answer["Content-Type"] == "application/problem+json"
    assert answer["WWW-Authenticate"].startswith("Bearer")
    assert answer.json()["status"] == 401


def test_a_token_is_not_kept_in_the_clear_and_stops_when_shut_out_or_over(client, company):
    who = user("crew", "Contractor", company)
    token, secret = device_let_in(user=who, name="Truck 1", days=30, by="crew", at=now())
    assert secret not in str(DeviceToken.objects.values().get(pk=token.pk))
    headers = {"Authorization": f"Bearer {secret}"}
    assert client.get("/api/v1/work-orders/", headers=headers).status_code == 200
    token.refresh_from_db()
    assert token.last_used_at == now()
    DeviceToken.objects.update(expires_at=now() - timedelta(seconds=1))
    assert client.get("/api/v1/work-orders/", headers=headers).status_code == 401
    DeviceToken.objects.update(expires_at=now() + timedelta(days=1))
    device_shut_out(token=token, by="crew", at=now())
    assert "shut out" in client.get("/api/v1/work-orders/", headers=headers).json()["detail"]


def test_staff_of_the_utility_and_users_without_the_right_are_refused(client):
    client.force_login(user("manager", "Program manager"))
    assert client.get("/api/v1/work-orders/").status_code == 403


def test_orders_come_by_cursor_with_an_etag(client, company, headers):
    numbers = [order(company).number for _ in range(3)]
    first = client.get("/api/v1/work-orders/?page_size=2", headers=headers)
    rest = client.get(first.json()["next"], headers=headers)
    seen = [row["number"] for row in (*first.json()["results"], *rest.json()["results"])]
    assert seen == numbers[::-1]
    again = client.get(
        "/api/v1/work-orders/?page_size=2", headers=headers | {"If-None-Match": first["ETag"]}
    )
    assert again.status_code == 304
    assert again.content == b""


def test_another_companys_things_answer_404_everywhere(client, company, headers):
    other = contractor()
    theirs = started(order(other))
    made = string(theirs)
    pulled, record, own = pull(theirs), handed_in(theirs), bearer(other, "theirs")
    for path in (
        f"work-orders/{theirs.pk}/",
        f"work-orders/{theirs.pk}/tool-strings/",
        f"work-orders/{theirs.pk}/pulls/",
        f"work-orders/{theirs.pk}/photos/",
        f"work-orders/{theirs.pk}/completions/",
        f"tool-strings/{made.pk}/",
        f"pulls/{pulled.pk}/",
        f"completions/{record.pk}/",
    ):
        assert client.get(f"/api/v1/{path}", headers=headers).status_code == 404, path
        assert client.get(f"/api/v1/{path}", headers=own).status_code == 200, path
    assert post(client, f"work-orders/{theirs.pk}/completions/", DONE, headers).status_code == 404
    assert client.get("/api/v1/work-orders/", headers=headers).json()["results"] == []


def test_planned_orders_are_not_seen(client, company, headers):
    planned = order(company, released=False)
    assert client.get(f"/api/v1/work-orders/{planned.pk}/", headers=headers).status_code == 404


def test_a_whole_job_is_sent_and_each_part_once(client, company, headers):
    job = started(order(company))
    base = f"/api/v1/work-orders/{job.pk}"
    log = make_clean_log(job.pk).encode()
    for _ in range(2):
        pulled = client.post(
            f"{base}/pulls/",
            {"log": SimpleUploadedFile("pull.csv", log), "pulled_on": "2028-04-10"},
            headers=headers,
        )
        photo = client.post(
            f"{base}/photos/",
            {"photo": SimpleUploadedFile("a.jpg", jpeg()), "kind": "OLD_PIPE"},
            headers=headers | {"Idempotency-Key": "photo-1"},
        )
        assert (pulled.status_code, photo.status_code) == (201, 201), photo.content
    record = DONE | {"pull": pulled.json()["id"], "photos": [photo.json()["id"]]}
    first = post(client, f"work-orders/{job.pk}/completions/", record, headers,
                 **{"Idempotency-Key": "rec-1"})  # fmt: skip
    again = post(client, f"work-orders/{job.pk}/completions/", record, headers,
                 **{"Idempotency-Key": "rec-1"})  # fmt: skip
    assert first.status_code == again.status_code == 201
    assert first.json() == again.json()
    assert again["Idempotency-Replayed"] == "true"
    counts = [m.objects.count() for m in (PullRecord, PhotoFacts, CompletionRecord)]
    assert counts == [1, 1, 1]
    changed = post(client, f"work-orders/{job.pk}/completions/", record | {"note": "x"}, headers,
                   **{"Idempotency-Key": "rec-1"})  # fmt: skip
    assert changed.status_code == 422
    assert changed.json()["type"] == "urn:problem:key-reused"


def test_a_write_that_looked_at_an_older_order_is_told_what_changed(client, company, headers):
    job = order(company)
    seen = client.get(f"/api/v1/work-orders/{job.pk}/", headers=headers)["ETag"]
    work_order_change(work_order=job, by="planner", at=AT, length_ft=48.0)
    answer = post(client, f"work-orders/{job.pk}/completions/", DONE, headers, **{"If-Match": seen})
    assert answer.status_code == 412
    assert answer.json()["order"]["length_ft"] == 48.0
    assert CompletionRecord.objects.count() == 0
    fresh = f'"{answer.json()["order"]["version"]}"'
    answer = post(client, f"work-orders/{job.pk}/completions/", DONE, headers,
                  **{"If-Match": fresh})  # fmt: skip
    assert answer.status_code == 201


def test_a_record_for_a_closed_order_and_a_log_of_another_pull_are_refused(
    client, company, headers
):
    job, other = started(order(company)), started(order(company))
    log = make_clean_log(job.pk).encode()
    sent = {"pulled_on": "2028-04-10"}
    for pk, status in ((job.pk, 201), (other.pk, 422)):
        answer = client.post(
            f"/api/v1/work-orders/{pk}/pulls/",
            sent | {"log": SimpleUploadedFile("pull.csv", log)},
            headers=headers,
        )
        assert answer.status_code == status, answer.content
    assert job.number in answer.json()["detail"]
    assert post(client, f"work-orders/{job.pk}/completions/", DONE, headers).status_code == 201
    again = post(client, f"work-orders/{job.pk}/completions/", DONE, headers)
    assert again.status_code == 422
    assert "handed in" in again.json()["detail"]


def test_a_start_without_its_answers_is_refused_with_findings(client, company, headers):
    job = order(company)
    answer = post(client, f"work-orders/{job.pk}/start/", {
        "excavations": [{"name": "Pit", "depth_ft": 6}], "ticket": None, "lead": None,
    }, headers)  # fmt: skip
    assert answer.status_code == 422
    rules = {finding["rule"] for finding in answer.json()["findings"]}
    assert {"NO_CONSENT", "ONE_CALL", "EXCAVATION_PROTECTION"} <= rules


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("drawing.jpg", b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>"),
        ("page.jpg", b"<!doctype html><script>alert(1)</script>"),
        ("half.jpg", jpeg()[:200]),
        ("empty.jpg", b""),
        ("notes.jpg", b"a,b\n1,2\n"),
    ],
)
def test_what_is_no_photo_is_refused_by_a_sentence(client, company, headers, name, content):
    job = order(company)
    answer = client.post(
        f"/api/v1/work-orders/{job.pk}/photos/",
        {"photo": SimpleUploadedFile(name, content), "kind": "OLD_PIPE"},
        headers=headers,
    )
    assert answer.status_code == 422
    assert name in answer.json()["detail"]
    assert PhotoFacts.objects.count() == 0


def test_a_request_of_80_megabytes_is_refused_before_it_is_read(client, company, headers):
    job = order(company)
    answer = client.post(
        f"/api/v1/work-orders/{job.pk}/photos/",
        b"x",
        content_type="multipart/form-data; boundary=x",
        headers=headers,
        CONTENT_LENGTH=str(80 * 1024**2),
    )
    assert answer.status_code == 413
    assert "55 MB" in answer.json()["detail"]


def test_errors_point_at_their_place(client, company, headers):
    job = order(company)
    bad = DONE | {"quality": {"pressure_test": {"pressure_psi": 1e30}}, "outcome": "DONE"}
    answer = post(client, f"work-orders/{job.pk}/completions/", bad, headers)
    assert answer.status_code == 400
    assert {error["pointer"] for error in answer.json()["errors"]} >= {
        "/outcome",
        "/quality/pressure_test/pressure_psi",
    }


def test_an_address_that_is_not_there_is_a_problem_document_too(client):
    answer = client.get("/api/v1/nonsense/")
    assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json")


def test_too_many_requests_are_told_when_to_come_back(client, company, headers, monkeypatch):
    monkeypatch.setattr("replacements.api.authentication.Throttle.of_user", 2)
    statuses = [client.get("/api/v1/device/", headers=headers) for _ in range(3)]
    assert [answer.status_code for answer in statuses] == [200, 200, 429]
    assert int(statuses[-1]["Retry-After"]) > 0
