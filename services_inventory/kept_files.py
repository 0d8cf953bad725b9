"""Kept files, wherever they lie: in folders of this machine, or in a store that several share.

What is uploaded is in Django's default storage. What is frozen (submissions, plan documents,
letters) is in the one called `frozen`, by the path that its row holds; its folder is `DATA_DIR`.
No kept file is ever changed, so a copy that was fetched to be read by path stays true.
"""

import os
import shutil
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import closing, suppress
from hashlib import file_digest
from pathlib import Path
from typing import IO

from django.conf import settings
from django.core.files import File
from django.core.files.storage import FileSystemStorage, Storage, storages
from django.db.models.fields.files import FieldFile

from .progress import UNFINISHED, age_seconds

FETCHED = "fetched"  # the folder of copies
PARTS = "parts"  # pieces of photos, in a store where there is one
HANDED_OVER = ("files", "submissions", "plan_documents", "letters")  # what a store holds
STORE_AWAY = (
    "The store that files are kept in does not answer. Nothing was saved. Try again in a minute; "
    "if it stays so, tell whoever runs the program: FILES_URL says which store is meant."
)
_UNUSED_S = 24 * 3600  # longer than any operation reads a file
_PIECE = 1024**2


class BesideTheData(FileSystemStorage):
    """The folder of all that the program keeps."""

    @property
    def location(self) -> str:
        """Return where it is."""
        return os.path.abspath(settings.DATA_DIR)


class KeptFile:
    """A file by the name that its row holds: a frozen one, or one of another storage."""

    def __init__(self, name: str, of: str = "frozen"):
        self.name, self.storage = name, storages[of]

    def open(self, mode: str = "rb"):
        """Open it; `OSError` where it is missing."""
        return self.storage.open(self.name, mode)


Kept = KeptFile | FieldFile


def local_path(kept: Kept) -> Path:
    """Return where a kept file can be read by its path: where it lies, or in a copy.

    Raises
    ------
    OSError: it is missing from the store.
    """
    name = str(kept.name)
    if (path := _own_path(kept.storage, name)) is not None:
        return path
    copy = Path(settings.DATA_DIR) / FETCHED / name
    with suppress(FileNotFoundError):
        os.utime(copy)  # in use
        return copy
    copy.parent.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory(dir=copy.parent, prefix=UNFINISHED) as folder,
        kept.storage.open(name, "rb") as source,
    ):
        with open(Path(folder) / "copy", "wb") as target:
            shutil.copyfileobj(source, target, _PIECE)
        os.replace(target.name, copy)
    _let_go_of_unused()
    return copy


def _let_go_of_unused() -> None:
    for path in (Path(settings.DATA_DIR) / FETCHED).rglob("*"):
        with suppress(FileNotFoundError):
            if path.is_file() and age_seconds(path) > _UNUSED_S:
                path.unlink()


def sha256_of(kept: Kept) -> str:
    """Return the SHA-256 of a file as it is kept now; `OSError` where it is missing."""
    with kept.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def hand_over(*written: Path) -> None:
    """Give files written beside the data to the store of frozen files, where that is another."""
    for path in written:
        name = path.relative_to(settings.DATA_DIR).as_posix()
        storage = storages["frozen"]
        if _own_path(storage, name) is None:
            with open(path, "rb") as file:
                storage.save(name, File(file))
            path.unlink()


def all_handed_over() -> None:
    """Give all that is kept beside the data to the store, where that is another."""
    root = Path(settings.DATA_DIR)
    for path in (path for folder in HANDED_OVER for path in (root / folder).rglob("*")):
        if path.is_file() and UNFINISHED not in str(path.relative_to(root)):
            hand_over(path)


def names_in(storage: Storage, folder: str) -> Iterator[str]:
    """Yield the name of each file that a storage holds below a folder; of none made by halves."""
    folders = [folder]
    while folders:
        at = folders.pop()
        within, names = storage.listdir(at)
        folders += [f"{at}{one}/" for one in within if not one.startswith(UNFINISHED)]
        yield from (f"{at}{name}" for name in names)


def all_fetched(target: Path) -> None:
    """Copy all that lies in a store into a folder; nothing where the store is a folder."""
    for name, source in _all_in_store():
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(path, "wb") as copy:
            shutil.copyfileobj(source, copy, _PIECE)


def store_written(target: IO[bytes]) -> None:
    """Write all that lies in a store as a tar, by its paths, with no copy between."""
    with tarfile.open(fileobj=target, mode="w|gz") as archive:
        for name, source in _all_in_store():
            member = tarfile.TarInfo(name)
            member.size = source.size
            archive.addfile(member, source)


def _all_in_store() -> Iterator[tuple[str, File]]:
    storage = storages["frozen"]
    if in_store(storage):
        for name in names_in(storage, ""):
            with closing(storage.open(name, "rb")) as source:
                yield name, source


def in_store(storage: Storage) -> bool:
    """Tell whether files lie in a store, and not in a folder of this machine."""
    return _own_path(storage, "any") is None


def store_away(error: BaseException | None) -> str:
    """Return the sentence to show when the store of files is what failed, else an empty text."""
    known = sys.modules.get("botocore.exceptions")  # loaded where there is a store
    failed = (known.BotoCoreError, known.ClientError) if known else ()
    return STORE_AWAY if isinstance(error, failed) else ""


def _own_path(storage: Storage, name: str) -> Path | None:
    """Return where the file lies on this machine; None where it lies in a store."""
    try:
        return Path(storage.path(name))
    except NotImplementedError:
        return None
