"""The staff's collection: more columns, and only for those whose role sees the inventory."""

import base64

import pytest
from django.contrib.auth.models import Group, User
from django.core.cache import cache

from program.models import Utility
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


def basic(name, password):
    text = base64.b64encode(f"{name}:{password}".encode()).decode()
    return {"HTTP_AUTHORIZATION": f"Basic {text}"}


def test_nobody_is_asked_for_a_password(client):
    answer = client.get(ITEMS)
    assert answer.status_code == 401 and answer.headers["WWW-Authenticate"].startswith("Basic")
    assert "Access-Control-Allow-Origin" not in answer.headers
    assert client.get("/ogc/staff/").status_code == 401


def test_a_map_program_signs_in_and_sees_more_columns(client):
    user(COMPLIANCE)
    answer = client.get(ITEMS, **basic("pat", "a long pass phrase"))
    (feature,) = answer.json()["features"]
    assert feature["properties"]["address"] == "12 Mill St"
    assert "lead" in feature["properties"]["reason"].lower()
    assert answer.headers["Cache-Control"] == "private, no-store"


def test_a_wrong_password_and_a_wrong_role_see_nothing(client):
    user(CONTRACTOR)
    assert client.get(ITEMS, **basic("pat", "wrong")).status_code == 401
    assert client.get(ITEMS, **basic("pat", "a long pass phrase")).status_code == 403
    assert client.get(ITEMS, HTTP_AUTHORIZATION="Basic %%%").status_code == 401


def test_the_session_of_a_signed_in_browser_serves_too(client):
    client.force_login(user(COMPLIANCE))
    assert client.get(ITEMS).status_code == 200


def test_the_public_service_shows_no_staff_column(client):
    client.force_login(user(COMPLIANCE))
    (feature,) = client.get("/ogc/collections/service_lines/items").json()["features"]
    assert not {"address", "reason", "in_conflict"} & set(feature["properties"])
