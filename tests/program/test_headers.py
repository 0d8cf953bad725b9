"""What every answer tells the browser, and what holds when the program stands behind HTTPS."""

import os
import subprocess
import sys

import pytest
from django.contrib.auth.models import User
from django.test import RequestFactory
from django.urls import reverse

from program.domain.utility_facts import utility_facts
from program.models import Utility
from program.waits import FREE
from services_inventory.asked_often import client_address
from services_inventory.domain.allowed import NotAllowed
from tests.source_files import ROOT

EXPECTED = {
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@pytest.fixture
def signed_in(client):
    """Return a client signed in as somebody without a role."""
    client.force_login(User.objects.create_user("somebody"))
    return client


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/sign-in/", "/healthy/", "/no-such-page/", "/"])
def test_every_answer_carries_the_headers(client, path):
    answer = client.get(path)
    for header, value in EXPECTED.items():
        assert answer.headers[header] == value, header
    assert "geolocation=()" in answer.headers["Permissions-Policy"]
    policy = answer.headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "object-src 'none'" in policy
    assert "unsafe-eval" not in policy


@pytest.mark.django_db
@pytest.mark.parametrize("what", ["script-src", "style-src"])
def test_scripts_and_styles_come_from_this_host_only(client, what):
    policy = client.get("/sign-in/").headers["Content-Security-Policy"]
    allowed = next(part for part in policy.split(";") if part.strip().startswith(what))
    assert allowed.split() == [what, "'self'"]


@pytest.mark.django_db
def test_the_session_ends_after_a_working_day_and_scripts_can_not_read_it(client):
    User.objects.create_user("clerk", password="a long enough phrase")
    client.post(reverse("login"), {"username": "clerk", "password": "a long enough phrase"})
    cookie = client.cookies["sessionid"]
    assert cookie["max-age"] == 12 * 60 * 60
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"


@pytest.mark.django_db
def test_signing_in_does_not_send_people_to_other_sites(client):
    User.objects.create_user("clerk", password="a long enough phrase")
    answer = client.post(
        reverse("login") + "?next=https://elsewhere.example/",
        {"username": "clerk", "password": "a long enough phrase"},
    )
    assert answer.headers["Location"] == "/"


@pytest.mark.django_db
def test_a_form_without_its_token_is_refused(signed_in):
    from django.test import Client

    strict = Client(enforce_csrf_checks=True)
    strict.cookies = signed_in.cookies
    assert strict.post(reverse("logout")).status_code == 403


@pytest.mark.django_db
def test_guessing_a_password_locks_that_name_from_that_address_only(client, settings):
    settings.BEHIND_HTTPS = True
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    User.objects.create_user("clerk", password="a long enough phrase")
    User.objects.create_user("crew", password="another long phrase")

    def sign_in(name, password, address):
        return client.post(
            reverse("login"),
            {"username": name, "password": password},
            headers={"X-Forwarded-For": f"198.51.100.9, {address}"},
        ).status_code

    for _ in range(FREE["pair"]):
        sign_in("clerk", "wrong", "203.0.113.1")
    assert sign_in("clerk", "a long enough phrase", "203.0.113.1") == 429
    assert sign_in("crew", "another long phrase", "203.0.113.1") == 302
    assert sign_in("clerk", "a long enough phrase", "203.0.113.2") == 302


@pytest.mark.parametrize(
    ("behind", "forwarded", "expected"),
    [
        (True, "198.51.100.9, 203.0.113.1", "203.0.113.1"),
        (True, "", "10.0.0.1"),
        (False, "203.0.113.1", "10.0.0.1"),
    ],
)
def test_whoever_asks_can_not_choose_the_address_it_is_counted_by(
    settings, behind, forwarded, expected
):
    settings.BEHIND_HTTPS = behind
    headers = {"HTTP_X_FORWARDED_FOR": forwarded} if forwarded else {}
    request = RequestFactory().get("/", REMOTE_ADDR="10.0.0.1", **headers)
    assert client_address(request) == expected


def started(tmp_path, *arguments, **environment):
    """Run `manage.py` as on a machine in use: behind HTTPS, with a real key."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env={
            **os.environ,
            "DATA_DIR": str(tmp_path),
            "SECRET_KEY": "k9-" + "aB3xY7mQ" * 8,
            "ALLOWED_HOSTS": "lines.example.org",
            "BEHIND_HTTPS": "1",
            "DEBUG": "",
            **environment,
        },
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_the_deployment_checks_pass_behind_https(tmp_path):
    ran = started(tmp_path, "check", "--deploy", "--fail-level", "WARNING")
    assert ran.returncode == 0, ran.stderr


def test_without_https_the_deployment_checks_say_so(tmp_path):
    """The check above can fail."""
    ran = started(tmp_path, "check", "--deploy", "--fail-level", "WARNING", BEHIND_HTTPS="0")
    assert ran.returncode == 1
    assert "SESSION_COOKIE_SECURE" in ran.stderr


def test_behind_https_plain_requests_are_sent_there_but_for_the_monitor(tmp_path):
    script = (
        "from django.test import Client; c = Client(headers={'host': 'lines.example.org'});"
        "page = c.get('/sign-in/'); print(page.status_code, page.headers['Location']);"
        "print(c.get('/healthy/').status_code);"
        "safe = c.get('/healthy/', headers={'x-forwarded-proto': 'https'});"
        "print(safe.headers['Strict-Transport-Security'])"
    )
    ran = started(tmp_path, "shell", "--no-imports", "-c", script)
    assert ran.stdout.split("\n")[:3] == [
        "301 https://lines.example.org/sign-in/",
        "200",
        "max-age=31536000",
    ], ran.stderr


@pytest.mark.django_db
def test_pictures_come_from_a_base_map_only_where_the_utility_names_one(client):
    def sources():
        policy = client.get("/sign-in/").headers["Content-Security-Policy"]
        return next(part for part in policy.split("; ") if part.startswith("img-src")).split()[1:]

    utility = Utility.objects.create(name="Town")
    assert sources() == ["'self'", "data:", "blob:"]
    utility.tile_address = "https://tiles.utility.example:8443/{z}/{x}/{y}.png"
    utility.save()
    assert sources() == ["'self'", "data:", "blob:", "https://tiles.utility.example:8443"]


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("", True),
        ("https://tiles.utility.example/{z}/{x}/{y}.png", True),
        ("http://tiles.utility.example/{z}/{x}/{y}.png", False),
        ("https://tiles.utility.example/{z}/{x}.png", False),
        ("https://a.example; script-src *;/{z}/{x}/{y}", False),
        ("https://*/{z}/{x}/{y}", False),
    ],
)
def test_the_base_map_is_the_address_of_one_server(text, good):
    allowed = utility_facts()["tile_address"].allowed
    if good:
        assert allowed.read(text) == text
    else:
        with pytest.raises(NotAllowed):
            allowed.read(text)
