"""A cache that forgets everything, is away, or is shared by several machines changes no answer."""

import re
import socket
import subprocess
import time
from contextlib import suppress
from shutil import which

import pytest
from django.core.cache import cache
from django.core.exceptions import ImproperlyConfigured

from program import environment
from program.public.limits import MINUTE
from services_inventory import progress
from services_inventory.asked_often import times_asked
from tests.program.operations.factories import TODAY, found, line, moment, standing_town
from tests.replacements.factories import user

pytestmark = pytest.mark.one_engine
EVERYWHERE = "box=-180,-90,180,90"
WALK = (
    "/public/en/", "/public/en/?q=Elm", "/public/areas.json",
    f"/public/points.json?{EVERYWHERE}", "/public/service-lines.csv", "/ogc/collections",
    "/ogc/collections/service_lines/items?category=LEAD&limit=2",
    f"/inventory/map.json?{EVERYWHERE}", "/inventory/lines/", "/",
)  # fmt: skip
DUMMY = {"default": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}


def walked(client, before=lambda: None) -> list[str]:
    """Return what each page answers, without what is another in each answer."""
    answers = []
    for address in WALK:
        before()
        answer = client.get(address)
        assert answer.status_code == 200, address
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        answers.append(_ANOTHER_EACH_TIME.sub("", content.decode()))
    return answers


_ANOTHER_EACH_TIME = re.compile(
    r'name="(?:csrfmiddlewaretoken|one_act)" value="[^"]*"|"timeStamp": ?"[^"]*"|nonce="[^"]*"'
)


@pytest.fixture
def lines(db, client):
    client.force_login(user("c", role="Compliance staff"))
    return standing_town()


def changed(lines) -> None:
    """Find lead where nothing was known, and a line where there was none."""
    found(lines["unknown"][0], "SYSTEM", "LEAD", TODAY, moment(TODAY))
    line("LEAD", "LEAD")


def test_answers_are_the_same_whether_all_nothing_or_little_is_kept(lines, client, settings):
    before = walked(client)  # kept now
    assert walked(client) == before
    changed(lines)
    kept = walked(client)
    assert kept != before
    assert walked(client, cache.clear) == kept  # forgotten before each page
    settings.CACHES = DUMMY  # forgets at once
    assert walked(client) == kept


@pytest.fixture
def server(tmp_path):
    if which("redis-server") is None:
        pytest.skip("Debian's redis-server is not installed")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ["--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(tmp_path)]
    with subprocess.Popen(["redis-server", *words], stdout=subprocess.DEVNULL) as running:
        for _ in range(100):
            with suppress(OSError):
                socket.create_connection(("127.0.0.1", port)).close()
                break
            time.sleep(0.05)
        running.address = f"redis://127.0.0.1:{port}/0"
        yield running
        running.kill()


@pytest.fixture
def shared(server, settings, monkeypatch):
    """The settings of a machine that shares its cache with others."""
    monkeypatch.setenv("CACHE_URL", server.address)
    settings.SHARED_CACHE = environment.shared_cache("CACHE_URL")
    settings.CACHES = environment.caches(settings.SHARED_CACHE)
    return server


def test_machines_share_what_they_count_and_note_and_go_on_without_the_server(
    lines, client, shared, settings, tmp_path
):
    before = walked(client)
    assert len(cache._cache.get_client().keys("*public*")) >= 4
    changed(lines)
    kept = walked(client, lambda: None)
    assert kept == walked(client, cache.clear) != before
    progress.write(7, 2, 9)
    progress.ask_to_stop(7), progress.worker_reports()
    assert [times_asked("try", "one", MINUTE) for _ in "123"] == [1, 2, 3]
    settings.DATA_DIR = tmp_path / "another machine"
    assert times_asked("try", "one", MINUTE) == 4
    assert progress.read(7)["done"] == 2 and progress.stop_asked(7)
    assert [*progress.workers()] == [progress.this_process()]
    progress.clear(7)
    assert progress.read(7) is None and not progress.stop_asked(7)
    shared.kill()
    shared.wait()
    assert walked(client) == kept
    assert times_asked("try", "one", MINUTE) == 0  # nobody is kept out
    assert progress.read(7) is None and progress.workers() == {}


def test_an_address_of_no_cache_is_told_without_its_password(monkeypatch):
    monkeypatch.setenv("CACHE_URL", "memcached://:secret@host")
    with pytest.raises(ImproperlyConfigured, match="CACHE_URL") as told:
        environment.shared_cache("CACHE_URL")
    assert "secret" not in str(told.value)
