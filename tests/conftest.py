"""What every test stands on."""

import pytest
from django.core.cache import cache

from services_inventory.page_loading import every_view


@pytest.fixture(autouse=True, scope="session")
def _pages_are_loaded():
    """Load every page before a test replaces a name that pages import, such as the clock's."""
    every_view()


@pytest.fixture(autouse=True)
def _files_in_a_folder_of_their_own(tmp_path, settings):
    """Keep uploaded and written files of a test away from the data folder, and caches fresh.

    Counts are remembered by the ids of rows; a rolled-back test gives the same ids again.
    """
    cache.clear()
    settings.MEDIA_ROOT = tmp_path / "files"
    settings.DATA_DIR = tmp_path
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
