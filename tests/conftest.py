"""What every test stands on."""

import pytest
from django.core.cache import cache


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
