"""The record's map in a browser: first paint, squares drawn, frames while it is dragged.

python -m tests.bench record_map --lines 120000

The invented city of `tests.bench.city` is served by gunicorn, and all of it is in view at once.
"""

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request

from tests.bench.city import filled
from tests.bench.rows import Measured, as_table, machine

VIEW = "-100.35,41.4;-99.8,41.4;-99.8,42.1;-100.35,42.1"
DRAG_S = 3.0
FRAMES = """() => { window.frames_seen = 0; const count = () => { window.frames_seen += 1;
requestAnimationFrame(count); }; requestAnimationFrame(count); }"""
PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0].startTime"
SHOWN = "() => document.getElementById('map').dataset.shown"


def main() -> None:
    """Make the city, serve it, open its map, print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--lines", type=int, default=120_000)
    lines = parser.parse_args().lines
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        os.environ |= {"DATA_DIR": folder, "DJANGO_SETTINGS_MODULE": "program.settings"}
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        filled(lines)
        cookie = _session()
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        command = [sys.executable, "-m", "gunicorn", "program.wsgi", "-b", f"127.0.0.1:{port}"]
        server = subprocess.Popen([*command, "--threads", "4"], stderr=subprocess.DEVNULL)
        try:
            rows = _measured(f"http://127.0.0.1:{port}", cookie, lines)
        finally:
            server.terminate()
            server.wait(timeout=20)
    print(f"{machine()}\n\n{as_table(rows)}")


def _session() -> str:
    """Sign a program manager in."""
    from django.contrib.auth.models import Group, User
    from django.test import Client

    from program.models import Utility
    from program.roles import PROGRAM_MANAGER

    Utility.objects.create(name="Bench", clock_stands_at="2027-03-01")
    user = User.objects.create_user("bench")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client = Client(headers={"host": "localhost"})
    client.force_login(user)
    return client.cookies["sessionid"].value


def _wait(address: str) -> None:
    for _ in range(100):
        try:
            urllib.request.urlopen(f"{address}/healthy/", timeout=5).close()
            return
        except OSError:
            time.sleep(0.2)
    raise SystemExit("The server did not start.")


def _measured(address: str, cookie: str, lines: int) -> list[Measured]:
    from playwright.sync_api import sync_playwright

    _wait(address)
    found = {"paint": [], "drawn": [], "again": []}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-quic"]
        )
        context = browser.new_context(viewport={"width": 1920, "height": 1080})
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": address}])
        page = context.new_page()
        for kept in ("drawn", "again"):
            start = time.perf_counter()
            page.goto(f"{address}/inventory/map/?within={VIEW}")
            page.wait_for_function(SHOWN)
            found[kept].append(time.perf_counter() - start)
            found["paint"].append(page.evaluate(PAINT) / 1000)
        shown = int(page.evaluate(SHOWN))
        frames = _dragged(page)
        browser.close()
    if shown < lines * 0.9:
        raise SystemExit(f"Only {shown:,} of {lines:,} lines were in view.")
    name = f"{shown:,} lines in view"
    return [
        Measured("first paint, first time", found["paint"][0], "s", None, 1, 0.5),
        Measured("first paint, again", found["paint"][1], "s", None, 1, 0.5),
        Measured(f"{name}, squares drawn, first time", found["drawn"][0], "s", None, 5, 2),
        Measured(f"{name}, squares drawn, again", found["again"][0], "s", None, 2, 1),
        Measured("a frame while the map is dragged", 1000 / frames, "ms", None, 1000 / 30, 20,
                 f"{frames:.0f} frames a second"),
    ]  # fmt: skip


def _dragged(page) -> float:
    """Drag the map to and fro; frames a second that the browser drew meanwhile."""
    box = page.locator("#map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.evaluate(FRAMES)
    page.mouse.move(x, y)
    page.mouse.down()
    start, step = time.perf_counter(), 0
    while time.perf_counter() - start < DRAG_S:
        step += 1
        page.mouse.move(x + step * 7 % 300 - 150, y + step * 5 % 200 - 100)
    frames = page.evaluate("() => window.frames_seen")
    seconds = time.perf_counter() - start
    page.mouse.up()
    return frames / seconds


if __name__ == "__main__":
    main()
