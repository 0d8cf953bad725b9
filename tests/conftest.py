"""What every test stands on."""

import pytest
from django.conf import settings as project_settings
from django.core.cache import cache

from services_inventory.page_loading import every_view


def pytest_configure():
    """Hash passwords cheaply: the accounts of tests guard nothing."""
    project_settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def _is_pure(request) -> bool:
    """Tell a test of the pure domain: it meets no page, no file of the program and no cache."""
    return "domain" in request.path.parts


@pytest.fixture(autouse=True)
def _pages_are_loaded(request):
    """Load every page before a test replaces a name that pages import, such as the clock's."""
    if not _is_pure(request):
        request.getfixturevalue("every_page")


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
