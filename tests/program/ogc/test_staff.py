"""The staff's collection: more columns, and only for those whose role sees the inventory."""

import base64
from datetime import timedelta

import pytest
from django.contrib.auth.models import Group, User
from django.core.cache import cache

from program.clock import now
from program.models import Utility
from program.operations.people import map_key_end, map_key_make, user_of_key
from program.roles import COMPLIANCE, CONTRACTOR
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db
ITEMS = "/ogc/staff/collections/service_lines/items"


@pytest.fixture(autouse=True)
def _line():
    cache.clear()
    Utility.objects.create(name="Quillwater Water", publish_addresses=False)
    line_of("LEAD", "COPPER", address="12 Mill St")


def user(role, name="pat"):
    made = User.objects.create_user(name, password="a long pass phrase")
    made.groups.add(Group.objects.get(name=role))
    return made


def key_of(made):
    """Return a key for maps, as its page shows it once."""
    return map_key_make(user=made, name="Desk", at=now())[1]


def basic(name, password):
    text = base64.b64encode(f"{name}:{password}".encode()).decode()
    return {"HTTP_AUTHORIZATION": f"Basic {text}"}


def test_nobody_is_asked_for_a_password(client):
    answer = client.get(ITEMS)
    assert answer.status_code == 401 and answer.headers["WWW-Authenticate"].startswith("Basic")
    assert "Access-Control-Allow-Origin" not in answer.headers
    assert client.get("/ogc/staff/").status_code == 401


def test_a_map_program_shows_a_key_and_sees_more_columns(client):
    key = key_of(user(COMPLIANCE))
    answer = client.get(ITEMS, **basic("pat", key))
    (feature,) = answer.json()["features"]
    assert feature["properties"]["address"] == "12 Mill St"
    assert "lead" in feature["properties"]["reason"].lower()
    assert answer.headers["Cache-Control"] == "private, no-store"


def test_no_password_a_wrong_key_and_a_wrong_role_see_nothing(client):
    key = key_of(user(CONTRACTOR))
    for secret in ("wrong", "a long pass phrase", "\ud800", "x" * 5000):
        answer = client.get(ITEMS, **basic("pat", secret.encode("utf-8", "replace").decode()))
        assert answer.status_code == 401
    assert client.get(ITEMS, **basic("pat", key)).status_code == 403
    assert client.get(ITEMS, **basic("sam", key)).status_code == 401
    assert client.get(ITEMS, HTTP_AUTHORIZATION="Basic %%%").status_code == 401


def test_a_key_reads_only_here_ends_at_once_and_stale_ones_keep_nobody_waiting(client):
    made = user(COMPLIANCE)
    key = key_of(made)
    assert client.get("/", **basic("pat", key)).status_code == 302
    assert client.get("/api/v1/work-orders/", **basic("pat", key)).status_code in (401, 403)
    assert client.post(ITEMS, **basic("pat", key)).status_code == 405
    map_key_end(key=made.map_keys.get(), by="pat", at=now())
    for _ in range(60):
        assert client.get(ITEMS, **basic("pat", key)).status_code == 401
    said = {"username": "pat", "password": "a long pass phrase"}
    assert client.post("/sign-in/", said).status_code == 302


def test_a_key_lasts_a_year_and_no_longer_than_its_account(client):
    made = user(COMPLIANCE)
    key, at = key_of(made), now()
    assert user_of_key("pat", key, at + timedelta(days=364)) == made
    assert user_of_key("pat", key, at + timedelta(days=366)) is None
    User.objects.update(is_active=False)
    assert user_of_key("pat", key, at) is None


def test_the_session_of_a_signed_in_browser_serves_too(client):
    client.force_login(user(COMPLIANCE))
    assert client.get(ITEMS).status_code == 200


def test_the_public_service_shows_no_staff_column(client):
    client.force_login(user(COMPLIANCE))
    (feature,) = client.get("/ogc/collections/service_lines/items").json()["features"]
    assert not {"address", "reason", "in_conflict"} & set(feature["properties"])
