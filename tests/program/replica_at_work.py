"""A primary with its synchronous replica, read and written by people; what was seen, as JSON.

Run as `python -m tests.program.replica_at_work FOLDER PORT PORT`, by `test_replicas.py`.
"""

import json
import logging
import os
import re
import signal
import sys
import threading
import time
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from tests.bench.load import SEEN
from tests.bench.several import Pair

WAIT_S, PEOPLE, TOWN = 20, 3, 60
LIST, LEAD = "/inventory/lines/", "/inventory/lines.csv?category=LEAD"
EVERYWHERE = "box=-180,-90,180,90"
LATER = 10**17  # a position that no replica here reaches


def begun(folder: Path, ports: tuple[int, int], ends: ExitStack) -> Pair:
    """Begin both servers with a small town on them, and this process as a web of theirs."""
    pair = Pair(folder, *ports)
    pair.second = pair.data  # until there is one
    ends.callback(pair.end)
    os.environ |= {
        "DATABASE_URL": f"postgresql://tester@127.0.0.1:{ports[0]},127.0.0.1:{ports[1]}/now"
        "?target_session_attrs=read-write&connect_timeout=3",
        "READ_DATABASE_URL": f"postgresql://tester@127.0.0.1:{ports[1]}/now",
        "DATA_DIR": str(folder / "data"), "DJANGO_SETTINGS_MODULE": "program.settings",
    }  # fmt: skip
    import django
    from django.apps import apps
    from django.conf import settings
    from django.core.management import call_command

    django.setup()
    settings.ALLOWED_HOSTS = ["testserver"]
    settings.MIGRATION_MODULES = {app.label: None for app in apps.get_app_configs()}
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.SECOND_STEP_FOR = ()
    call_command("migrate", run_syncdb=True, verbosity=0)
    from tests.program.operations.factories import lines, utility
    from tests.replacements.factories import user

    utility()
    lines([("COPPER", "COPPER", "")] * TOWN + [("LEAD", "LEAD", "")])
    for name in ("a", "b"):
        user(name, role="Compliance staff")
    user("admin", role="Administrator")
    pair.replicate()
    return pair


class Watch(logging.Handler):
    """Keeps what the program says of the replica."""

    def __init__(self):
        super().__init__()
        self.said: list[str] = []
        logging.getLogger("program.replicas").addHandler(self)

    def emit(self, record):
        """Keep a line."""
        self.said.append(record.getMessage())


def signed_in(name: str, **how):
    """Return the browser of somebody."""
    from django.contrib.auth.models import User
    from django.test import Client

    client = Client(**how)
    if name:
        client.force_login(User.objects.get(username=name))
    return client


def asked(client, address: str) -> tuple:
    """Return what is answered: status, content, and the tables that each database was asked for."""
    from django.db import connections

    met = {"default": set(), "replica": set()}

    def note(execute, sql, params, many, context):
        met[context["connection"].alias].update(re.findall(r'FROM "(\w+)"', sql))
        return execute(sql, params, many, context)

    with (
        connections["default"].execute_wrapper(note),
        connections["replica"].execute_wrapper(note),
    ):
        answer = client.get(address)
        content = answer.getvalue()
    return answer.status_code, content, met["default"], met["replica"]


def read_by_replica(client, address: str = LIST, wanted: bool = True) -> bool:
    """Wait until an address is read from the replica, or from the primary; tell whether it was."""
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        _, _, _, second = asked(client, address)
        if bool(second) == wanted:
            return True
        time.sleep(0.1)
    return False


def evidence(client, line: int, material: str = "lead"):
    """Record that somebody saw something at a line; return the answer."""
    sent = {**SEEN, "portion": "SYSTEM", "material": material}
    return client.post(f"/inventory/lines/{line}/evidence/", sent)


def walked() -> dict:
    """Ask for every address that is named, of the replica and of the primary."""
    from django.urls import NoReverseMatch, reverse

    from program.replicas import COOKIE, PAGES
    from services_inventory.models import Neighborhood, ServiceLine

    place = Neighborhood.objects.first().pk
    named = {"neighborhood": [place]}
    paths = []
    for name in sorted(PAGES):
        with suppress(NoReverseMatch):  # of a plan or a package, and there is none
            paths.append(reverse(name, args=named.get(name, [])))
    line = ServiceLine.objects.order_by("-id").first().location_id
    paths += [
        f"/inventory/map.json?{EVERYWHERE}", f"{LIST}?address=mill", LEAD,
        "/public/en/", "/public/en/?q=Mill", f"/public/en/line/{line}/", "/public/en/streets/",
        "/public/areas.json", f"/public/points.json?{EVERYWHERE}", "/public/service-lines.csv",
        "/public/service-lines.geojson", "/public/service-lines.gpkg", "/public/en/download/",
        "/ogc/collections", "/ogc/collections/service_lines/items?category=LEAD",
        "/ogc/staff/collections/service_lines/items?limit=3",
    ]  # fmt: skip
    found = {}
    for path in paths:
        client = signed_in("a")
        status, _, first, second = asked(client, path)
        client.cookies[COOKIE] = str(LATER)
        other, _, mine, none = asked(client, path)
        found[path] = [status, other, sorted(first), bool(second), bool(mine), bool(none)]
    return found


@contextmanager
def paused(pair: Pair):
    """Let the replica receive, and not show, what is written meanwhile."""
    import psycopg

    url = f"postgresql://tester@127.0.0.1:{pair.second_port}/postgres"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute("SELECT pg_wal_replay_pause()")
        yield
        connection.execute("SELECT pg_wal_replay_resume()")


def own_writes(pair: Pair, line: int) -> dict:
    """Record evidence while nothing is replayed; ask as whoever recorded it, and as others."""
    from django.conf import settings

    writer, other = signed_in("a"), signed_in("b")
    read_by_replica(other)
    before = asked(other, LEAD)[1]
    with paused(pair):
        status = evidence(writer, line).status_code
        cookie = writer.cookies["read_after"]
        mine, theirs = asked(writer, LEAD), asked(other, LEAD)
        public = [asked(one, "/public/service-lines.csv")[1] for one in (writer, other)]
        settings.READ_LAG_SECONDS = 1
        board = signed_in("admin")
        late = read_by_replica(other, LEAD, wanted=False) and asked(other, LEAD)[1]
        told = board.get("/").content.decode()
    settings.READ_LAG_SECONDS = 10
    after = read_by_replica(writer, LEAD) and asked(writer, LEAD)[1]
    return {
        "status": status, "cookie": [cookie["httponly"], cookie["max-age"]],
        "writer sees it": mine[1] != before, "writer's replica": bool(mine[3]),
        "other sees it": theirs[1] != before, "other's replica": bool(theirs[3]),
        "public differ": public[0] != public[1], "late sees it": late == mine[1],
        "board says so": "not read" in told, "after": after == mine[1],
    }  # fmt: skip


def without(pair: Pair) -> dict:
    """Stop the replica: before a request, and after one has chosen it."""
    from program.replicas import THE_REPLICA

    client = signed_in("b")
    read_by_replica(client)
    whole = asked(client, LEAD)[1]
    pair.run("pg_ctl", "-D", pair.second, "-m", "immediate", "stop")
    stopped = [client.get(LIST).status_code for _ in range(3)]
    may, THE_REPLICA.may_answer = THE_REPLICA.may_answer, lambda cookie: True
    chosen = client.get(LIST)
    THE_REPLICA.may_answer = may
    download = client.get(LEAD)
    pair.begin_second()
    return {
        "stopped": [*stopped, chosen.status_code, download.status_code],
        "same": download.getvalue() == whole,
        "back": read_by_replica(client),
    }


def promoted(pair: Pair, lines: list[int]) -> dict:
    """Promote the replica over the killed primary while people record; count what is there."""
    from django.db import close_old_connections, connections

    from services_inventory.models import Evidence

    stop, acknowledged, met = threading.Event(), [], []

    def record(mine: list[int]) -> None:
        client = signed_in("a", raise_request_exception=False)

        def healthy() -> bool:
            close_old_connections()  # as a server does before each request
            return client.get("/healthy/").status_code == 200

        while mine and not stop.is_set():
            line = mine.pop()
            status = evidence(client, line).status_code
            met.append(status)
            if status == 302:
                acknowledged.append(line)
            else:  # it may have been recorded: nobody sends it twice unasked
                wait_until(healthy)
            time.sleep(0.02)
        connections.close_all()

    threads = [threading.Thread(target=record, args=(lines[at::PEOPLE],)) for at in range(PEOPLE)]
    for thread in threads:
        thread.start()
    wait_until(lambda: len(acknowledged) >= 2 * PEOPLE)
    pair.lose_the_primary()
    before = len(acknowledged)
    wait_until(lambda: len(acknowledged) >= before + PEOPLE)
    stop.set()
    for thread in threads:
        thread.join()
    connections.close_all()
    rows = Evidence.objects.filter(observed_on=SEEN["observed_on"], line__in=acknowledged)
    there = list(rows.values_list("line_id", flat=True))
    client = signed_in("admin", raise_request_exception=False)
    lists = [client.get(LIST).status_code for _ in range(3)]
    return {
        "before": before, "acknowledged": len(acknowledged), "met": sorted(set(met)),
        "lost": sorted(set(acknowledged) - set(there)), "doubled": len(there) - len(set(there)),
        "lists": lists, "board": client.get("/").content.decode(),
    }  # fmt: skip


def wait_until(there) -> None:
    """Wait for something, a while."""
    until = time.monotonic() + WAIT_S
    while not there() and time.monotonic() < until:
        time.sleep(0.05)


def main(folder: Path, *ports: int) -> dict:
    """Go through all of it."""
    with ExitStack() as ends:
        pair = begun(folder, ports, ends)
        from program import replicas
        from services_inventory.models import ServiceLine

        replicas.NOTED_EVERY_S = replicas.LEFT_ALONE_S = 0.2
        watch, lines = Watch(), list(ServiceLine.objects.values_list("id", flat=True)[:TOWN])
        seen = {"began": read_by_replica(signed_in("a")), "lossless": replicas.acts_may_be_lost()}
        watch.said.clear()
        seen |= {"walked": walked(), "said": [*watch.said]}
        seen["written"] = own_writes(pair, lines.pop())
        watch.said.clear()
        seen |= {"without": without(pair), "said then": [*watch.said]}
        seen["promoted"] = promoted(pair, lines)
        seen["lossy"] = [one.msg for one in replicas.acts_may_be_lost()]
        from django.db import connections

        connections.close_all()
        return seen


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # the servers end with it
    print(json.dumps(main(Path(sys.argv[1]), *map(int, sys.argv[2:]))))
