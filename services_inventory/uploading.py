"""Files on their way in: each is held by the process that receives it, and known by its content.

A process that is killed lets go of what it held, so whoever starts next can tell what is left over
from what is still coming.
"""

import fcntl
import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile

from django.conf import settings
from django.core.files.uploadedfile import TemporaryUploadedFile
from django.core.files.uploadhandler import TemporaryFileUploadHandler

from .progress import age_seconds

JUST_MADE_S = 5  # until a file that was made is held


class HoldingUploadHandler(TemporaryFileUploadHandler):
    """Receives a large file into a folder beside the data, and holds it until it is closed."""

    def new_file(self, *args, **kwargs):
        """Make the file and hold it."""
        super().new_file(*args, **kwargs)
        hold(self.file)


def hold(file: TemporaryUploadedFile) -> None:
    """Say that this process uses the file, for as long as it is open."""
    fcntl.flock(file.fileno(), fcntl.LOCK_SH)


def sha256_of_upload(file) -> str:
    """Return the SHA-256 of an uploaded file, read once however often it is asked."""
    if not hasattr(file, "sha256"):
        digest = hashlib.sha256()
        for piece in file.chunks(1024**2):
            digest.update(piece)
        file.seek(0)
        file.sha256 = digest.hexdigest()
    return file.sha256


@contextmanager
def as_path(file) -> Iterator[Path]:
    """Give an uploaded file as a path, for as long as it is looked at."""
    with NamedTemporaryFile(dir=settings.FILE_UPLOAD_TEMP_DIR) as copy:
        for piece in file.chunks(1024**2):
            copy.write(piece)
        copy.flush()
        yield Path(copy.name)


def uploads_let_go() -> int:
    """Remove uploads that no process holds any more; return their number."""
    removed = 0
    for path in Path(settings.FILE_UPLOAD_TEMP_DIR).iterdir():
        if _is_left_over(path):
            path.unlink(missing_ok=True)
            removed += 1
    return removed


def _is_left_over(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return age_seconds(path) > JUST_MADE_S
    except OSError:  # held, gone meanwhile, or no file
        return False
