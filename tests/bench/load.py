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
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from urllib.parse import quote, urlencode

from tests.bench.rows import machine, p50_p95

THINK_S, SAMPLE, TOKEN, PORT, PARTS = 4.0, 2000, "a" * 32, 8199, 12
UNIT = Path(__file__).parents[2] / "docs" / "deploy" / "leadlines.service"
SEEN = {
    "csrfmiddlewaretoken": TOKEN, "portion": "CUSTOMER", "material": "copper",
    "basis": "VISUAL_INSPECTION", "observed_on": "2025-05-01", "points_seen": 1,
}  # fmt: skip
DAY = (
    "/", "/next/", "/inventory/lines/", "/inventory/lines/?category=LEAD", "/inventory/counts/",
    "/inventory/neighborhoods/", "/work/orders/", "/program/rate/", "/program/deadlines/",
)  # fmt: skip
Answers = list[tuple[float, int, float]]  # of each: ms, status, when it came
FOUND: dict[str, Answers] = defaultdict(list)


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
    came = time.perf_counter()
    FOUND[kind].append(((came - since) * 1000, status, came))
    return status


def staff_act(chance: random.Random, lines: list) -> tuple[str, str, dict | None]:
    """Return what somebody of the staff does next, its path, and the form that is sent, if any."""
    line, drawn = f"/inventory/lines/{chance.choice(lines)[0]}/", chance.random()
    if drawn < 0.05:
        return "staff, evidence", f"{line}evidence/", SEEN
    if drawn < 0.4:
        return "staff, a line", line, None
    return "staff, boards and lists", chance.choice(DAY), None


def person(cookie: str, lines: list, until: float, chance: random.Random) -> None:
    """Do somebody's day: boards and lists, one line after another, now and then evidence."""
    while time.perf_counter() < until:
        kind, path, sent = staff_act(chance, lines)
        ask(kind, path, cookie=cookie, sent=sent)
        time.sleep(chance.expovariate(1 / THINK_S))


def look_up(chance: random.Random, lines: list) -> tuple[str, str]:
    """Return what somebody of the public does next, and its path."""
    _, place, address = chance.choice(lines)
    return chance.choice((
        ("public, suggestions", f"/public/suggest.json?q={quote(address[:8])}"),
        ("public, look-up", f"/public/en/?q={quote(address)}"),
        ("public, a line", f"/public/es/line/{quote(place)}/"),
        ("public, start and words", f"/public/{chance.choice(('en', 'es/categories'))}/"),
    ))  # fmt: skip


def public(a_second: float, lines: list, until: float) -> None:
    """Let look-ups come at their moments."""
    chance, begun, number = random.Random(1), time.perf_counter(), 0
    with ThreadPoolExecutor(64) as pool:
        while (at := begun + number / a_second) < until:
            time.sleep(max(at - time.perf_counter(), 0))
            kind, path = look_up(chance, lines)
            pool.submit(ask, kind, path, since=at, host=f"127.1.{number % 4}.{number % 250 + 1}")
            number += 1
        pool.shutdown(cancel_futures=True)  # who waits when the day is over goes home
    FOUND["asked"] = [(0, number, until)]


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


def begun() -> subprocess.Popen:
    """Begin the web server as a machine that was set up does; return once all of it has loaded."""
    line = next(row for row in UNIT.read_text().splitlines() if row.startswith("ExecStart="))
    words = line.partition("gunicorn ")[2].replace("127.0.0.1:8000", f"127.0.0.1:{PORT}").split()
    server = subprocess.Popen([sys.executable, "-m", "gunicorn", *words, "--log-level", "critical"])
    while ask("start", "/healthy/") != 200 or _at_work(server.pid):
        time.sleep(0.5)
    FOUND.clear()
    return server


def _at_work(first: int) -> bool:
    before = processor_s(first)
    time.sleep(1)
    return processor_s(first) - before > 0.1


def _family(first: int) -> tuple:
    return (first, *Path(f"/proc/{first}/task/{first}/children").read_text().split())


def memory_mb(first: int) -> int:
    """Return what a process and those it began hold in memory, shared pages counted once, in MB."""
    rows = [Path(f"/proc/{pid}/smaps_rollup").read_text() for pid in _family(first)]
    return sum(int(text.split("Pss:")[1].split()[0]) for text in rows) // 1024


def processor_s(first: int) -> float:
    """Return the processor time that a process and those it began, and that still run, took."""
    rows = [Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2] for pid in _family(first)]
    ticks = sum(int(n) for row in rows for n in row.split()[11:13])
    return ticks / os.sysconf("SC_CLK_TCK")


def database_s() -> float:
    """Return the processor time of this machine's PostgreSQL, connections that ended included."""
    ticks = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            name, _, rest = stat.read_text().rpartition(")")
        except OSError:  # it ended meanwhile
            continue
        if name.endswith("(postgres"):
            ticks += sum(map(int, rest.split()[11:15]))  # the first one's: also of those that ended
    return ticks / os.sysconf("SC_CLK_TCK")


def spent_s(server: int) -> dict[str, float]:
    """Return the processor time that each of those at work took so far."""
    databases = {"PostgreSQL": database_s()} if os.environ.get("DATABASE_URL") else {}
    return {"web server": processor_s(server), **databases, "crowd": time.process_time()}


def row(kind: str, answers: Answers, seconds: float) -> str:
    """Return a row of the table."""
    p50, p95 = p50_p95([ms for ms, _, _ in answers])
    statuses = sorted(Counter(status for _, status, _ in answers).items())
    broken = sum(n for status, n in statuses if status >= 500)
    said = ", ".join(f"{status}: {n:,}" for status, n in statuses)
    return f"| {kind} | {len(answers) / seconds:.1f} | {p50:.0f} | {p95:.0f} | {broken} | {said} |"


def in_turn(until: float, seconds: float) -> str:
    """Return the 95th percentile of the look-ups of each twelfth of the time, in ms."""
    of_each: list[list[float]] = [[] for _ in range(PARTS)]
    for kind in filter(lambda kind: kind.startswith("public"), FOUND):
        for ms, _, came in FOUND[kind]:
            at = int((came - until + seconds) / seconds * PARTS)
            of_each[min(at, PARTS - 1)].append(ms)
    return ", ".join(f"{p50_p95(found)[1]:.0f}" for found in of_each)


def sampled_lines() -> tuple[int, list[tuple[int, str, str]]]:
    """Return how many lines are on record, and a sample: (id, location id, address).

    A record that has no utility gets one.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
    import django

    django.setup()
    from program.models import Utility
    from services_inventory.models import ServiceLine

    if not Utility.objects.exists():  # no public page is kept before the utility is named
        Utility.objects.create(name="Quillwater", pwsid="ZZ0000001", state="ZZ")
    rows = ServiceLine.objects.values_list("id", "location_id", "premise__address").order_by("id")
    count = rows.count()
    return count, list(rows[:: max(count // SAMPLE, 1)])


@contextmanager
def crowd_until(until: float, cookies: list[str], lines: list, lookups: float):
    """Let everybody come until a moment; the block runs meanwhile, and ends when they have gone."""
    with ThreadPoolExecutor(len(cookies) + 1) as crowd:
        for number, cookie in enumerate(cookies):
            crowd.submit(person, cookie, lines, until, random.Random(number))
        crowd.submit(public, lookups, lines, until)
        yield


def main() -> None:
    """Begin the server, let everybody come, print what they waited and what it held in memory."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, value in (("people", 50), ("lookups", 200), ("seconds", 60)):
        asked.add_argument(f"--{name}", type=int, default=value)
    given, held = asked.parse_args(), []
    rows, lines = sampled_lines()
    cookies, server = people(given.people), begun()
    try:
        before, until = spent_s(server.pid), time.perf_counter() + given.seconds
        with crowd_until(until, cookies, lines, given.lookups):
            for _ in range(PARTS):
                time.sleep(given.seconds / PARTS)
                held.append(memory_mb(server.pid))
        spent = {who: took - before[who] for who, took in spent_s(server.pid).items()}
    finally:
        server.terminate()
        server.wait()
    print(f"{machine()}; {rows:,} lines.\n")
    print(f"| asked | a second | p50 ms | p95 ms | 5xx | statuses |\n|{'---|' * 6}")
    [(_, came, _)] = FOUND.pop("asked")
    print(*(row(kind, FOUND[kind], given.seconds) for kind in sorted(FOUND)), sep="\n")
    served = sum(len(answers) for kind, answers in FOUND.items() if kind.startswith("public"))
    print(f"\nLook-ups that came: {came:,}; {came - served:,} waited unanswered at the end.")
    asked = sum(map(len, FOUND.values()))
    told = (f"{who} {took:.1f} s, {took / asked * 1000:.1f} ms" for who, took in spent.items())
    print(f"\nProcessor time in all, and an answer: {'; '.join(told)}.")
    print(f"\np95 of look-ups in each twelfth of the time, ms: {in_turn(until, given.seconds)}.")
    print(f"\nMemory of the web server's processes, MB: {', '.join(map(str, held))}.")


if __name__ == "__main__":
    main()
