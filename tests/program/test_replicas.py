"""What is read from a replica and what is not; and a real one, read, paused, stopped, promoted."""

import json
import os
import socket
import subprocess
import sys
import tempfile
from contextlib import ExitStack
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ImproperlyConfigured
from django.db import OperationalError
from django.urls import get_resolver

from program import environment, replicas
from program.models import MapKey, SignedIn
from program.replicas import PAGES, ReadsFromReplica, Replica, Router, acts_may_be_lost
from services_inventory import bulk
from services_inventory.models import ServiceLine
from services_inventory.read_from import PRIMARY, REPLICA, pieces_from, reading_from, reads_from
from tests.source_files import ROOT

pytestmark = pytest.mark.one_engine
SERVER = environment.ENGINES[1]


def test_the_record_is_read_where_the_request_says_and_who_is_let_in_from_the_primary():
    router = Router()
    assert router.db_for_read(ServiceLine) == PRIMARY
    with reading_from(REPLICA):
        assert router.db_for_read(ServiceLine) == REPLICA
        assert {router.db_for_read(model) for model in (User, SignedIn, MapKey)} == {PRIMARY}
        assert router.db_for_write(ServiceLine) == PRIMARY
        # A row that is held is read where it is written, whatever the request reads.
        assert ServiceLine.objects.select_for_update()._for_write
    assert router.allow_migrate(REPLICA, "auth") is False
    assert router.allow_migrate(PRIMARY, "auth") is None


def test_a_body_that_is_sent_later_is_read_where_its_request_was():
    seen = []

    def pieces():
        for piece in "ab":
            seen.append(reads_from())
            yield piece

    for _ in pieces_from(REPLICA, pieces()):
        seen.append(reads_from())
    assert seen == [REPLICA, PRIMARY] * 2


class Servers:
    """Positions in the log as two servers would give them, by a clock of the test's."""

    def __init__(self, monkeypatch, settings):
        self.now, self.primary, self.replica, self.closed = 1000.0, 500, 500, 0
        settings.READ_LAG_SECONDS = 10
        monkeypatch.setattr(replicas, "monotonic", lambda: self.now)
        monkeypatch.setattr(bulk, "position_sent", lambda: self.primary)
        monkeypatch.setattr(bulk, "position_replayed", self.replayed)
        monkeypatch.setattr(replicas, "connections", {REPLICA: self})

    def replayed(self):
        assert reads_from() == REPLICA
        if self.replica is None:
            raise OperationalError("the connection is closed")
        return self.replica

    def close(self):
        self.closed += 1


@pytest.fixture
def servers(monkeypatch, settings):
    return Servers(monkeypatch, settings)


@pytest.mark.parametrize(
    ("cookie", "may"),
    [("", True), ("500", True), ("501", False), ("9" * 18, False), ("9" * 40, True),
     ("-1", True), ("²", True), ("nonsense", True)],
)  # fmt: skip
def test_who_was_answered_from_further_on_reads_the_primary(servers, cookie, may):
    assert Replica().may_answer(cookie) is may


def test_a_replica_is_as_far_behind_as_the_latest_position_that_it_has_passed(servers):
    known = Replica()
    lags = []
    for second in range(14):
        servers.now, servers.primary = 1000 + 1.5 * second, 500 + second
        servers.replica = min(servers.primary, 503)  # it receives nothing any more
        lags.append(known.position_and_lag()[1])
    assert lags[:4] == [0] * 4 and lags[4:10] == [1.5, 3, 4.5, 6, 7.5, 9]
    assert set(lags[10:]) == {float("inf")}  # more than the limit, and no more is said
    assert not known.may_answer("")
    servers.replica = servers.primary
    assert known.may_answer("")


def test_nothing_written_for_an_hour_is_no_lag(servers):
    known = Replica()
    assert known.may_answer("")
    servers.now += 3600
    assert known.position_and_lag() == (500, 0)


@pytest.mark.parametrize("position", [None, 0])  # away; promoted
def test_a_replica_that_is_none_is_left_alone_for_a_while(servers, position):
    known = Replica()
    servers.replica = position
    assert not known.may_answer("") and servers.closed == 1
    servers.replica = 500
    assert not known.may_answer("")
    servers.now += replicas.LEFT_ALONE_S
    assert known.may_answer("")


@pytest.mark.parametrize(
    ("method", "namespace", "name", "chosen"),
    [("GET", "", "line_list", REPLICA), ("HEAD", "", "line_list", REPLICA),
     ("POST", "", "line_list", PRIMARY), ("GET", "", "line", PRIMARY),
     ("GET", "", "board", PRIMARY), ("GET", "public", "public:line", REPLICA),
     ("POST", "public", "public:tell_us", PRIMARY),
     ("GET", "ogc_staff", "ogc_staff:items", REPLICA)],
)  # fmt: skip
def test_only_what_is_named_is_read_from_a_replica(servers, method, namespace, name, chosen):
    replicas.THE_REPLICA.__init__()
    match = SimpleNamespace(namespace=namespace, view_name=name)
    request = SimpleNamespace(method=method, resolver_match=match, COOKIES={})
    with reading_from(PRIMARY):
        ReadsFromReplica(None).process_view(request, None, (), {})
        assert reads_from() == chosen


def test_every_address_that_is_named_is_one_of_the_program():
    assert not PAGES - set(get_resolver().reverse_dict)


def test_without_the_setting_nothing_is_routed(settings):
    assert REPLICA not in settings.DATABASES and not settings.DATABASE_ROUTERS
    assert not any("replicas" in name for name in settings.MIDDLEWARE)
    assert replicas.replica_told() is None and acts_may_be_lost() == []


def test_a_replica_is_of_the_same_engine_and_never_writes(monkeypatch):
    monkeypatch.setenv("READ_DATABASE_URL", "postgresql://u:hidden@h,i/leadlines?connect_timeout=9")
    found = environment.replica("READ_DATABASE_URL", {"ENGINE": SERVER})[REPLICA]
    assert "default_transaction_read_only=on" in found["OPTIONS"]["options"]
    assert found["OPTIONS"]["connect_timeout"] == 9
    with pytest.raises(ImproperlyConfigured, match="READ_DATABASE_URL") as told:
        environment.replica("READ_DATABASE_URL", {"ENGINE": environment.ENGINES[0]})
    assert "hidden" not in str(told.value)


# A real pair of servers: `replica_at_work.py` goes through it once, and what it saw is held here


@pytest.fixture(scope="module")
def seen():
    if not [*Path("/usr/lib/postgresql").glob("*/bin/pg_ctl")]:
        pytest.skip("Debian's postgresql is not installed")
    with ExitStack() as held:
        sockets = [held.enter_context(socket.socket()) for _ in range(2)]
        for one in sockets:
            one.bind(("127.0.0.1", 0))
        ports = [str(one.getsockname()[1]) for one in sockets]
    # Not pytest's own folder: the servers' account may not enter that.
    with tempfile.TemporaryDirectory(prefix="replica-") as folder:
        words = [sys.executable, "-m", "tests.program.replica_at_work", folder, *ports]
        with subprocess.Popen(
            words, cwd=ROOT, env={**os.environ, "DEBUG": ""},
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        ) as running:  # fmt: skip
            try:
                out, said = running.communicate(timeout=200)
            finally:
                running.terminate()
    assert running.returncode == 0, said
    return json.loads(out)


def test_each_named_address_is_read_from_the_replica_and_from_nowhere_else(seen):
    assert seen["began"] and len(seen["walked"]) > 30
    who = {"auth_user", "auth_group", "auth_permission", "program_signedin"}
    for path, (status, other, first, second, mine, none) in seen["walked"].items():
        assert status == other, path
        assert status in (200, 400, 404), path
        assert set(first) <= who, path  # of the primary nothing but who asks
        assert second or status == 400, path
        assert mine and not none, path  # whoever wrote: all from the primary
    assert seen["said"] == []  # none had to be asked of the primary after all


def test_who_wrote_sees_it_at_once_while_the_replica_stands_still(seen):
    assert seen["written"] == {
        "status": 302, "cookie": [True, 20],
        "writer sees it": True, "writer's replica": False,
        "other sees it": False, "other's replica": True,
        "public differ": True,  # what is kept under one mark is not shown under the other
        "late sees it": True, "board says so": True, "after": True,
    }  # fmt: skip


def test_without_the_replica_nobody_meets_an_error(seen):
    assert seen["without"] == {"stopped": [200] * 5, "same": True, "back": True}
    assert any(said.startswith("Read from the primary instead") for said in seen["said then"])


def test_no_acknowledged_act_is_lost_when_the_replica_takes_the_primary_s_place(seen):
    found = seen["promoted"]
    assert found["acknowledged"] > found["before"] > 0  # work went on
    assert found["lost"] == [] and found["doubled"] == 0
    assert set(found["met"]) <= {302, 503}
    assert found["lists"] == [200] * 3  # by what is the primary now
    assert "took the primary" in found["board"]


def test_it_is_said_where_acknowledged_acts_may_be_lost(seen):
    assert seen["lossless"] == []  # the primary waited for its replica
    assert seen["lossy"] == [replicas.LOSSY]  # the one that was promoted waits for none
    assert replicas.LOSSY in seen["promoted"]["board"]
