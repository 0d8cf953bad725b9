"""A phone for the tests: a browser that keeps its data, signed in, its worker ready."""

import os
from datetime import datetime
from pathlib import Path

import pytest
from django.conf import settings as django_settings

from tests.replacements.factories import LATER, contractor, order, started

CHROMIUM = "/usr/bin/chromium"
ARGS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

MARKS = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists() and not os.environ.get("CI"),
        reason="Chromium is not installed (apt-get install chromium)",
    ),
]


def moment() -> datetime:
    """Return the moment that the program stands at."""
    return LATER


def day():
    """Return its day."""
    return LATER.date()


@pytest.fixture
def phone_day(driver, settings):
    settings.NOW = "tests.browser.phone.moment"
    settings.TODAY = "tests.browser.phone.day"


@pytest.fixture
def company(transactional_db, phone_day):
    from program.roles import sync_roles

    sync_roles()
    return contractor()


@pytest.fixture
def job(company):
    return started(order(company))


@pytest.fixture(scope="module")
def driver():
    """Return what drives browsers; its event loop ends with the module, and disturbs no other."""
    from playwright.sync_api import sync_playwright

    with pytest.MonkeyPatch.context() as patch, sync_playwright() as play:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        yield play


@pytest.fixture
def browser(driver, tmp_path):
    """Return a function that opens a phone that keeps its data in a folder, as a phone does."""
    opened = []

    def open_phone():
        context = driver.chromium.launch_persistent_context(
            str(tmp_path / "phone"),
            executable_path=CHROMIUM,
            args=ARGS,
            viewport={"width": 390, "height": 844},
            service_workers="allow",
        )
        context.set_default_timeout(15_000)
        opened.append(context)
        return context

    yield open_phone
    for context in opened:
        context.close()


def signed_in(context, live_server, who):
    """Open the phone's page as a user, with its worker ready."""
    from django.test import Client

    client = Client()
    client.force_login(who)
    context.add_cookies(
        [
            {
                "name": django_settings.SESSION_COOKIE_NAME,
                "value": client.cookies["sessionid"].value,
                "url": live_server.url,
                "expires": 4_000_000_000,
            }
        ]
    )
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(f"{live_server.url}/work/phone/")
    page.wait_for_selector("body[data-ready]")
    page.evaluate(
        "new Promise((done) => navigator.serviceWorker.controller ? done() : navigator"
        ".serviceWorker.addEventListener('controllerchange', () => done(), { once: true }))"
    )
    return page
