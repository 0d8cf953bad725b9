"""A small town, built once a run, served as in use, and a browser to walk through it."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.browser.phone import browser, company, driver, job, phone_day
from tests.conftest import made_once
from tests.source_files import ROOT

__all__ = ["browser", "company", "driver", "job", "phone_day"]

HOUSES = 400
BUILD = (
    "from fixtures.demo import build_demo; "
    f"build_demo(say=lambda text: None, report=lambda done, total: None, lines={HOUSES})"
)
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIETLY = (
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def pytest_collection_modifyitems(items):
    """Mark what lies in this folder, and leave it out where there is no browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None and "CI" not in os.environ:
                item.add_marker(pytest.mark.skip(reason="needs Chromium"))


@dataclass(frozen=True)
class Served:
    """Where the town is served, and the folder with its data."""

    address: str
    folder: Path


def _environment(folder: Path) -> dict[str, str]:
    return {**os.environ, "DATA_DIR": str(folder), "DATABASE_URL": "", "DEBUG": ""}


def manage(folder: Path, *arguments: str) -> None:
    """Run a command on the town's data."""
    subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=_environment(folder),
        check=True,
        timeout=300,
        stdout=subprocess.DEVNULL,
    )


@pytest.fixture(scope="session")
def built_town(tmp_path_factory, migrated) -> Path:
    """Return the folder of a town that is built; processes of one run share it."""

    def build(folder: Path) -> None:
        shutil.copy(migrated, folder)
        manage(folder, "shell", "--no-imports", "-c", BUILD)
        manage(folder, "build_help")

    return made_once(tmp_path_factory, "town", build)


@pytest.fixture(scope="session")
def server(built_town, tmp_path_factory) -> Iterator[tuple[Served, subprocess.Popen]]:
    """Serve a copy of the town with the web server that a utility would use.

    It loads the program before it forks, so that a module's server starts at once.
    """
    folder = tmp_path_factory.mktemp("served") / "data"
    shutil.copytree(built_town, folder)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = ["-m", "gunicorn", "program.wsgi", "--bind", f"127.0.0.1:{port}", "--threads", "4"]
    with (folder.parent / "server.log").open("w") as log:
        running = subprocess.Popen(
            [sys.executable, *command, "--preload"],
            cwd=ROOT,
            env=_environment(folder),
            stdout=log,
            stderr=log,
        )
    try:
        yield Served(f"http://127.0.0.1:{port}", folder), running
    finally:
        running.terminate()
        running.wait(timeout=20)


@pytest.fixture(scope="module")
def town(server, built_town) -> Served:
    """Return the town as it was built, served by a process that has seen nothing else of it."""
    served, running = server
    _wait_for(served, running)
    before = _workers(running)
    shutil.rmtree(served.folder)
    shutil.copytree(built_town, served.folder)
    running.send_signal(signal.SIGHUP)
    for _ in range(150):
        if before.isdisjoint(_workers(running)):
            break
        time.sleep(0.2)
    _wait_for(served, running)
    return served


def _workers(running: subprocess.Popen) -> set[str]:
    asked = ["ps", "-o", "pid=", "--ppid", str(running.pid)]
    return set(subprocess.run(asked, capture_output=True, text=True).stdout.split())


def _wait_for(served: Served, server: subprocess.Popen) -> None:
    for _ in range(150):
        if server.poll() is None:
            try:
                with urllib.request.urlopen(f"{served.address}/healthy/", timeout=30):
                    return
            except (urllib.error.URLError, ConnectionError, TimeoutError):
                time.sleep(0.2)
    pytest.fail(
        "The server did not start:\n" + (served.folder.parent / "server.log").read_text()[-2000:]
    )


@pytest.fixture(scope="module")
def chromium(driver):
    """Return a browser."""
    browser = driver.chromium.launch(executable_path=CHROMIUM, args=list(QUIETLY))
    yield browser
    browser.close()


@pytest.fixture(scope="module")
def cookies() -> dict[str, list]:
    """Return the cookies of the accounts that signed in to this module's town, by name."""
    return {}


@pytest.fixture
def signed_in(chromium, town, cookies):
    """Return a function that opens a page signed in as one of the town's accounts."""
    from fixtures.people import PASSWORD

    contexts = []

    def open_page(name: str | None, width: int = 1280):
        context = chromium.new_context(viewport={"width": width, "height": 900})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(60_000)
        if name in cookies:
            context.add_cookies(cookies[name])
        elif name:
            page.goto(f"{town.address}/sign-in/")
            page.fill("#id_username", name)
            page.fill("#id_password", PASSWORD)
            page.locator("main button[type=submit]").click()
            page.wait_for_url(f"{town.address}/")
            cookies[name] = context.cookies()
        return page

    yield open_page
    for context in contexts:
        context.close()
