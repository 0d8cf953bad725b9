"""People at their day's work and look-ups by the public, against the web server on loopback.

    DATA_DIR=FOLDER python -m tests.bench load --seconds 1800

The record is the one of `DATA_DIR` (or `DATABASE_URL`). People wait between two pages; one page in
twenty is evidence recorded. Look-ups come at their moments whether those before are answered or
not, from a thousand addresses of this machine; what is waited for counts from that moment.
"""

import argparse
import http.client
import os
import random
import subprocess
import sys
import time
from collections import Counter, defaultdict
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path
from urllib.parse import quote, urlencode

from tests.bench.rows import machine, p50_p95

THINK_S, SAMPLE, TOKEN, PORT = 4.0, 2000, "a" * 32, 8199
SERVER = f"-m gunicorn program.wsgi --workers 3 --threads 4 --bind 127.0.0.1:{PORT}".split()
SEEN = {
    "csrfmiddlewaretoken": TOKEN, "portion": "CUSTOMER", "material": "copper",
    "basis": "VISUAL_INSPECTION", "observed_on": "2025-05-01", "points_seen": 1,
}  # fmt: skip
DAY = (
    "/", "/next/", "/inventory/lines/", "/inventory/lines/?category=LEAD", "/inventory/counts/",
    "/inventory/neighborhoods/", "/work/orders/", "/program/rate/", "/program/deadlines/",
)  # fmt: skip
FOUND: dict[str, list[tuple[float, int]]] = defaultdict(list)  # kind -> (ms, status) of each answer


def ask(kind: str, path: str, *, since=None, cookie="", host="127.0.0.1", sent=None) -> int:
    """Ask for a path, or send a form to it, from one of this machine's addresses."""
    since, status = since or time.perf_counter(), 599
    headers = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
    server = http.client.HTTPConnection("127.0.0.1", PORT, timeout=60, source_address=(host, 0))
    with suppress(OSError, http.client.HTTPException), closing(server):
        server.request("POST" if sent else "GET", path, sent and urlencode(sent), headers)
        answer = server.getresponse()
        answer.read()
        status = answer.status
    FOUND[kind].append(((time.perf_counter() - since) * 1000, status))
    return status


def person(cookie: str, lines: list, until: float, chance: random.Random) -> None:
    """Do somebody's day: boards and lists, one line after another, now and then evidence."""
    while time.perf_counter() < until:
        line, drawn = f"/inventory/lines/{chance.choice(lines)[0]}/", chance.random()
        if drawn < 0.05:
            ask("staff, evidence", f"{line}evidence/", cookie=cookie, sent=SEEN)
        elif drawn < 0.4:
            ask("staff, a line", line, cookie=cookie)
        else:
            ask("staff, boards and lists", chance.choice(DAY), cookie=cookie)
        time.sleep(chance.expovariate(1 / THINK_S))


def public(a_second: float, lines: list, until: float) -> None:
    """Let look-ups come at their moments."""
    chance, begun, number = random.Random(1), time.perf_counter(), 0
    with ThreadPoolExecutor(64) as pool:
        while (at := begun + number / a_second) < until:
            time.sleep(max(at - time.perf_counter(), 0))
            _, place, address = chance.choice(lines)
            kind, path = chance.choice((
                ("public, suggestions", f"/public/suggest.json?q={quote(address[:8])}"),
                ("public, look-up", f"/public/en/?q={quote(address)}"),
                ("public, a line", f"/public/es/line/{quote(place)}/"),
                ("public, start and words", f"/public/{chance.choice(('en', 'es/categories'))}/"),
            ))  # fmt: skip
            pool.submit(ask, kind, path, since=at, host=f"127.1.{number % 4}.{number % 250 + 1}")
            number += 1


def people(count: int) -> list[str]:
    """Return a cookie of each of so many signed-in managers."""
    from django.contrib.auth.models import Group, User
    from django.test import Client

    from program.roles import PROGRAM_MANAGER

    cookies = []
    for number in range(count):
        user, _ = User.objects.get_or_create(username=f"bench-{number}")
        user.groups.set([Group.objects.get(name=PROGRAM_MANAGER)])
        client = Client(headers={"host": "localhost"})
        client.force_login(user)
        cookies.append(f"sessionid={client.cookies['sessionid'].value}; csrftoken={TOKEN}")
    return cookies


def memory_mb(first: int) -> int:
    """Return what a process and those it began hold in memory, shared pages counted once, in MB."""
    children = Path(f"/proc/{first}/task/{first}/children").read_text().split()
    rows = [Path(f"/proc/{pid}/smaps_rollup").read_text() for pid in (first, *children)]
    return sum(int(text.split("Pss:")[1].split()[0]) for text in rows) // 1024


def row(kind: str, answers: list[tuple[float, int]], seconds: float) -> str:
    """Return a row of the table."""
    p50, p95 = p50_p95([ms for ms, _ in answers])
    statuses = sorted(Counter(status for _, status in answers).items())
    broken = sum(n for status, n in statuses if status >= 500)
    said = ", ".join(f"{status}: {n:,}" for status, n in statuses)
    return f"| {kind} | {len(answers) / seconds:.1f} | {p50:.0f} | {p95:.0f} | {broken} | {said} |"


def main() -> None:
    """Begin the server, let everybody come, print what they waited and what it held in memory."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, value in (("people", 50), ("lookups", 200), ("seconds", 60)):
        asked.add_argument(f"--{name}", type=int, default=value)
    given, held = asked.parse_args(), []
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
    import django

    django.setup()
    from services_inventory.models import ServiceLine

    rows = ServiceLine.objects.values_list("id", "location_id", "premise__address").order_by("id")
    lines, cookies = list(rows[:: max(rows.count() // SAMPLE, 1)]), people(given.people)
    server = subprocess.Popen([sys.executable, *SERVER, "--log-level", "critical"])
    try:
        while ask("start", "/healthy/") != 200:
            time.sleep(0.5)
        FOUND.clear()
        until = time.perf_counter() + given.seconds
        with ThreadPoolExecutor(given.people + 1) as crowd:
            for number, cookie in enumerate(cookies):
                crowd.submit(person, cookie, lines, until, random.Random(number))
            crowd.submit(public, given.lookups, lines, until)
            for _ in range(12):
                time.sleep(given.seconds / 12)
                held.append(memory_mb(server.pid))
    finally:
        server.terminate()
        server.wait()
    print(f"{machine()}; {rows.count():,} lines.\n")
    print(f"| asked | a second | p50 ms | p95 ms | 5xx | statuses |\n|{'---|' * 6}")
    print(*(row(kind, FOUND[kind], given.seconds) for kind in sorted(FOUND)), sep="\n")
    print(f"\nMemory of the web server's processes, MB: {', '.join(map(str, held))}.")


if __name__ == "__main__":
    main()
