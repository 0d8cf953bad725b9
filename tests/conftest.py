"""What every test stands on."""

import gc
import os
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from django.conf import settings as project_settings
from django.core.cache import cache

from services_inventory import bulk
from services_inventory.apart import Apart, _closed
from services_inventory.page_loading import every_view
from tests import kept
from tests.source_files import ROOT

LAST_ID_BEFORE = 1_000_000
# The files that take longest, begun first, so that no process is left alone with one at the end.
FIRST = (
    "test_access.py", "test_ten_years_on.py", "test_days.py", "test_serve.py", "test_commands.py",
    "test_advice.py", "test_grid.py", "test_back_ups.py", "test_phone_card.py",
    "test_intake_killed.py", "test_phone_offline.py", "test_intake_real_input.py",
    "test_own_values.py", "test_schema.py", "test_solver.py", "test_second_solver.py",
    "test_ways_to_a_start.py", "test_replicas.py",
)  # fmt: skip
# Walks of the towns' forms; that each page opens and leads on is tried on every engine.
WALKS = ("every_form", "every_refused_form")
# What computes, and pages, papers and the towns.
ONE_ENGINE = {
    "domain", "notices", "ogc", "outside", "plan_document", "planning", "plans", "public",
    "replacements", "submissions", "views", "test_apart.py",
    "test_architecture.py",
    "test_commands.py", "test_dependencies.py", "test_house.py", "test_mutations.py",
    "test_recipes.py",
    "test_bench_document.py", "test_checking.py", "test_columns.py", "test_cut_headings.py",
    "test_headers.py", "test_page_loading.py", "test_plan_documents.py", "test_reading.py",
    "test_uploading.py",
}  # fmt: skip


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """Begin every table at id 1,000,001, where a utility that has worked for years stands.

    A number shown or read as anything but its digits then falls in any test that meets it.
    """
    with django_db_blocker.unblock():
        if bulk.on_postgresql():
            bulk.execute(
                "SELECT setval(oid::regclass, %s) FROM pg_class "
                "WHERE relkind = 'S' AND relnamespace = 'public'::regnamespace",
                [LAST_ID_BEFORE],
            )
        else:
            bulk.execute("DELETE FROM sqlite_sequence")
            bulk.execute(
                "INSERT INTO sqlite_sequence (name, seq) SELECT name, %s FROM sqlite_master "
                "WHERE type = 'table' AND sql LIKE '%%AUTOINCREMENT%%'",
                [LAST_ID_BEFORE],
            )
        kept.tables()


def pytest_configure():
    """Hash passwords cheaply: the accounts of tests guard nothing."""
    project_settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    project_settings.SECOND_STEP_FOR = ()  # tests of the doors force it


def pytest_ignore_collect(collection_path, config):
    """Leave out what a run on a second engine would load only to pass it over."""
    other = "not one_engine" in config.option.markexpr
    return True if other and collection_path.name in ONE_ENGINE else None


def pytest_collection_finish(session):
    """Let the garbage collector pass over what stays anyway, and look seldom at the rest."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)


def pytest_collection_modifyitems(items):
    """Mark what is the same on every engine; a process takes a file, the pure ones at the end."""
    place = {name: at for at, name in enumerate(FIRST)}
    items.sort(
        key=lambda item: ("domain" in item.path.parts, place.get(item.path.name, len(place)))
    )
    for item in items:
        of_one = ONE_ENGINE & {*item.path.parts, item.path.name}
        if of_one or any(walk in item.name for walk in WALKS):
            item.add_marker(pytest.mark.one_engine)


def _is_pure(request) -> bool:
    """Tell a test of the pure domain: it meets no page, no file of the program and no cache."""
    return "domain" in request.path.parts


@pytest.fixture(autouse=True)
def _pages_are_loaded(request):
    """Load every page before a test replaces a name that pages import, such as the clock's."""
    if not _is_pure(request):
        request.getfixturevalue("every_page")


@pytest.fixture(autouse=True)
def _readers_of_files_stay(request, monkeypatch):
    """Keep the processes that read files from outside for the next test; to start one takes time.

    What they are for, to end with a bad file, is tried in `test_apart.py` as it is.
    """
    if not _is_pure(request) and request.path.name != "test_apart.py":
        monkeypatch.setattr(Apart, "_started", _started_before)
        monkeypatch.setattr(Apart, "close", _put_back)


_idle: list = []
_started, _close = Apart._started, Apart.close


def _started_before(self):
    while _idle:
        process = _idle.pop()
        # Of one that was put back as garbage Python closes the pipes afterwards.
        if process.poll() is None and not _closed(process):
            return process
    return _started(self)


def _put_back(self) -> None:
    if self._running is not None:
        with suppress(Exception):  # it broke, which the next line sees
            self._running.close()
        self._running = None
    if self._process is not None and self._process.poll() is None:
        _idle.append(self._process)
        self._process = None
    _close(self)


def made_once(tmp_path_factory, name: str, make: Callable[[Path], None]) -> Path:
    """Return a folder that one process of the run makes, for the others to wait for and read."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    folder, ready = shared / name, shared / f"{name}-is-made"
    try:
        folder.mkdir()
    except FileExistsError:
        for _ in range(600):
            if ready.exists():
                return folder
            time.sleep(0.5)
        pytest.fail(f"Another process did not finish making the {name}.")
    make(folder)
    ready.touch()
    return folder


@pytest.fixture(scope="session")
def migrated(tmp_path_factory) -> Path:
    """Return an SQLite record of this version without a row, to be copied: migrating takes long."""

    def migrate(folder: Path) -> None:
        given = {"DATA_DIR": str(folder), "DATABASE_URL": "", "SECRET_KEY": "for tests only"}
        words = [sys.executable, "manage.py", "migrate", "-v0"]
        subprocess.run(words, cwd=ROOT, check=True, env=os.environ | given)

    return made_once(tmp_path_factory, "migrated", migrate) / "program.sqlite3"


@pytest.fixture(scope="session")
def every_page():
    """Load every page, once in a process."""
    return every_view()


@pytest.fixture(autouse=True)
def _files_in_a_folder_of_their_own(request):
    """Keep uploaded and written files of a test away from the data folder, and caches fresh.

    Counts are remembered by the ids of rows; a rolled-back test gives the same ids again.
    """
    if _is_pure(request):
        return
    cache.clear()
    tmp_path, settings = (request.getfixturevalue(name) for name in ("tmp_path", "settings"))
    settings.MEDIA_ROOT = tmp_path / "files"
    settings.DATA_DIR = tmp_path
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
