"""The schema holds: it is valid, and answers to made-up requests conform to it."""

from datetime import timedelta

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from drf_spectacular.drainage import GENERATOR_STATS, reset_generator_stats
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
    unsupported_method,
)

from program.wsgi import application
from replacements.api.authentication import device_let_in
from replacements.operations.visits import appointment_book
from services_inventory.today import now
from tests.examples import SHARE
from tests.replacements.factories import contractor, handed_in, order, pull, started, string, user

EXAMPLES = 8 if SHARE == 1 else 2
CHECKS = (
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    unsupported_method,
)


@pytest.fixture(autouse=True)
def _no_throttle(monkeypatch):
    monkeypatch.setattr("replacements.api.authentication.Throttle.of_user", 10**9)


@pytest.fixture
def _one_connection():
    """Keep the test's own connection open between requests, as Django's test client does."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


def test_the_schema_has_no_errors_and_no_warnings():
    reset_generator_stats()
    validate_schema(SchemaGenerator().get_schema(request=None, public=True))
    assert not GENERATOR_STATS, "see the warnings that were written"


@pytest.mark.django_db
def test_the_schema_is_served_to_anybody(client):
    answer = client.get("/api/v1/schema/")
    assert answer.json()["openapi"] == "3.1.0"
    validate_schema(answer.json())


def _ask(operation, secret: str, known: dict, asked: list, mode: GenerationMode) -> None:
    """Send made-up requests of one operation, every other one to something that is there."""

    @given(case=operation.as_strategy(mode))
    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def ask(case):
        if len(asked) % 2 and "id" in (case.path_parameters or {}):
            case.path_parameters["id"] = known[operation.path.split("/")[3]]
        answer = case.call(headers={"Authorization": f"Bearer {secret}"})
        asked.append(answer.status_code)
        case.validate_response(answer, checks=CHECKS)

    ask()


@pytest.mark.django_db
@pytest.mark.usefixtures("_one_connection")
def test_made_up_requests_never_break_it_and_answers_conform():
    company = contractor()
    done = started(order(company))
    made, pulled = string(done), pull(done)
    record, job = handed_in(done, pull=pulled), started(order(company))
    _, secret = device_let_in(
        user=user("crew", "Contractor", company), name="Truck", days=9, by="crew", at=now()
    )
    booked = appointment_book(
        line=job.line, purpose="WORK", starts_at=now(), ends_at=now() + timedelta(hours=2),
        contractor=company, by="crew", at=now(),
    )  # fmt: skip
    known = {
        "appointments": booked.pk,
        "tool-strings": made.pk,
        "pulls": pulled.pk,
        "completions": record.pk,
        "work-orders": job.pk,
    }
    schema = schemathesis.openapi.from_wsgi("/api/v1/schema/", application)
    asked: list = []
    for result in schema.get_all_operations():
        for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
            _ask(result.ok(), secret, known, asked, mode)
    assert len(asked) > 100
    # Both what is taken and what is refused was reached.
    assert {200, 400, 404} <= set(asked)
