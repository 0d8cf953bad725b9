"""Getting in over the API: recorded once, a conflict shown, and no more seen than a crew needs."""

from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from replacements.models import Appointment, Consent, ContactAttempt
from replacements.operations.access import consent_record, contact_attempt_record
from replacements.operations.visits import appointment_book, person_record
from services_inventory.models import Document
from tests.replacements.api.test_api import bearer, post
from tests.replacements.factories import AT, contractor, order

pytestmark = pytest.mark.django_db
NOW = datetime(2028, 4, 14, 15, tzinfo=UTC)
ATTEMPT = {"at": "2028-04-14T10:00:00Z", "method": "PHONE", "outcome": "asked to call back"}


def moment():
    """Return the moment that the program stands at."""
    return NOW


def day():
    """Return its day."""
    return NOW.date()


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW = "tests.replacements.api.test_access.moment"
    settings.TODAY = "tests.replacements.api.test_access.day"


@pytest.fixture
def company(db):
    return contractor()


@pytest.fixture
def job(company):
    return order(company)


@pytest.fixture
def headers(company):
    return bearer(company)


def signed() -> SimpleUploadedFile:
    """Return a signature as a phone draws it."""
    out = BytesIO()
    Image.new("RGB", (60, 20), "white").save(out, "PNG")
    return SimpleUploadedFile("consent.png", out.getvalue())


def consent(client, job, headers, *, paper=True, **more):
    """Post an answer of the owner."""
    given = {"answer": "GIVEN", "answered_on": "2028-04-14", "given_by": "Orla Marsh"} | more
    if paper:
        given["paper"] = signed()
    return client.post(f"/api/v1/work-orders/{job.pk}/consents/", given, headers=headers)


def access(client, job, headers) -> dict:
    """Return what the crew may see."""
    return client.get(f"/api/v1/work-orders/{job.pk}/access/", headers=headers).json()


def test_an_attempt_is_recorded_once_and_counts(client, company, job, headers):
    path = f"work-orders/{job.pk}/attempts/"
    for replayed in (None, "true"):
        answer = post(client, path, ATTEMPT, headers, **{"Idempotency-Key": "a-1"})
        assert (answer.status_code, answer.get("Idempotency-Replayed")) == (201, replayed)
    made = ContactAttempt.objects.get()
    assert (made.contractor, made.method, made.at.hour) == (company, "PHONE", 10)
    assert access(client, job, headers)["attempts_counted"] == 1


def test_a_phone_whose_clock_is_a_little_ahead_is_believed_a_day_is_not(client, job, headers):
    path = f"work-orders/{job.pk}/attempts/"
    soon = ATTEMPT | {"at": (NOW + timedelta(minutes=9)).isoformat()}
    assert post(client, path, soon, headers).status_code == 201
    assert ContactAttempt.objects.get().at == NOW
    later = ATTEMPT | {"at": (NOW + timedelta(days=1)).isoformat()}
    answer = post(client, path, later, headers)
    assert answer.status_code == 422
    assert "has not come yet" in answer.json()["detail"]


def test_consent_needs_the_signed_form_and_opens_the_start(client, job, headers):
    bare = consent(client, job, headers, paper=False)
    assert (bare.status_code, bare.json()["type"]) == (422, "urn:problem:paper-missing")
    assert not access(client, job, headers)["may_start"]
    answer = consent(client, job, headers)
    assert answer.status_code == 201
    assert answer.json()["documented"] is True
    assert "Orla" not in answer.content.decode()
    assert access(client, job, headers)["may_start"]
    kept = Consent.objects.get()
    assert (kept.given_by, kept.document.kind) == ("Orla Marsh", "CONSENT")
    assert kept.document.content_type == "image/jpeg"


def test_a_refusal_needs_no_paper_and_no_paper_is_kept_of_a_refused_request(client, job, headers):
    unknown = consent(client, job, headers, answered_on="2028-05-01")
    assert unknown.status_code == 422
    assert not Document.objects.exists()
    refused = consent(client, job, headers, paper=False, answer="REFUSED", given_by="")
    assert refused.status_code == 201
    assert access(client, job, headers)["state"] == "REFUSED"


def test_another_answer_in_between_is_shown_before_anything_is_written(client, job, headers):
    seen = access(client, job, headers)
    consent_record(
        line=job.line, answer="REFUSED", answered_on=NOW.date(), by="clerk", recorded_at=NOW
    )
    stale = headers | {"If-Match": f'"{seen["version"]}"'}
    answer = consent(client, job, stale)
    assert answer.status_code == 412
    assert answer.json()["access"]["state"] == "REFUSED"
    assert Consent.objects.count() == 1
    fresh = headers | {"If-Match": f'"{answer.json()["access"]["version"]}"'}
    assert consent(client, job, fresh).status_code == 201


def test_appointments_are_booked_closed_once_and_never_two_at_a_time(client, job, headers):
    path = f"work-orders/{job.pk}/appointments/"
    booked = {"purpose": "WORK", "starts_at": "2028-04-14T14:30:00Z",
              "ends_at": "2028-04-14T17:00:00Z", "with_whom": "TENANT", "language": "vi",
              "note": "side door"}  # fmt: skip
    made = post(client, path, booked, headers)
    assert made.status_code == 201
    again = post(client, path, booked, headers)
    assert (again.status_code, "booked at this place" in again.json()["detail"]) == (422, True)
    over = booked | {"starts_at": "2028-04-13T08:00:00Z", "ends_at": "2028-04-13T09:00:00Z"}
    assert "record the attempt" in post(client, path, over, headers).json()["detail"]
    closing = f"appointments/{made.json()['id']}/closing/"
    assert post(client, closing, {"state": "KEPT"}, headers).json()["state"] == "KEPT"
    assert post(client, closing, {"state": "MISSED"}, headers).status_code == 422
    assert post(client, path, booked, headers).status_code == 201


def test_a_crew_sees_capacity_and_language_but_no_name_number_or_others_words(
    client, company, job, headers
):
    person_record(line=job.line, capacity="TENANT", name="Tomas Birk", phone="555-0142",
                  email="tomas@example.org", language="es", by="clerk", at=AT)  # fmt: skip
    contact_attempt_record(line=job.line, at=AT, method="LETTER", by="clerk", recorded_at=NOW,
                           outcome="Mr Birk was cross")  # fmt: skip
    consent_record(line=job.line, answer="GIVEN", answered_on=NOW.date(), given_by="Orla Marsh",
                   note="gate code 4411", by="clerk", recorded_at=NOW)  # fmt: skip
    shown = access(client, job, headers)
    assert shown["people"] == [
        {
            "capacity": "TENANT",
            "capacity_label": "tenant",
            "language": "es",
            "language_name": "Spanish",
        }
    ]
    assert (shown["attempts_counted"], shown["own_attempts"]) == (1, [])
    addresses = ("access/", "attempts/", "appointments/", "")
    for address in addresses:
        said = client.get(f"/api/v1/work-orders/{job.pk}/{address}", headers=headers)
        for secret in ("Birk", "555-0142", "example.org", "Orla", "4411", "cross"):
            assert secret not in said.content.decode(), (address, secret)


def test_another_company_finds_nothing_and_writes_nothing(client, job):
    booked = appointment_book(line=job.line, purpose="WORK", by="crew", at=NOW,
                              starts_at=NOW, ends_at=NOW + timedelta(hours=2),
                              contractor=job.contractor)  # fmt: skip
    strangers = bearer(contractor(), "rival")
    base = f"work-orders/{job.pk}"
    for address in ("access", "attempts", "appointments"):
        assert client.get(f"/api/v1/{base}/{address}/", headers=strangers).status_code == 404
    assert post(client, f"{base}/attempts/", ATTEMPT, strangers).status_code == 404
    assert consent(client, job, strangers).status_code == 404
    closing = f"appointments/{booked.pk}/closing/"
    assert post(client, closing, {"state": "KEPT"}, strangers).status_code == 404
    assert Appointment.objects.get().state == "BOOKED"
    assert not ContactAttempt.objects.exists()
