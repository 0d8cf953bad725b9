"""The drop: files, or a zip of them, opened without trusting a name, a size or a promise."""

import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path, PurePosixPath
from zipfile import ZipInfo

from services_inventory.apart import apart
from services_inventory.refused import Refused
from services_inventory.zips import opened_zip, read_entry

MAX_FILES = 6_000
MAX_FILE_BYTES = 60 * 1024**2
MAX_TOTAL_BYTES = 3 * 1024**3
_DIRECTORY_OF_A_WORKBOOK = 256 * 1024
TWICE = "Two files are named {}. Give each its own name."
# Every member gets the same day, so that the same files make the same zip.
_DAY = (2000, 1, 1, 0, 0, 0)


class DropRefused(Refused):
    """The drop as a whole cannot be taken; the message says why and what to do."""


class Drop:
    """The files of a drop by their lower-case name, read one at a time."""

    def __init__(self, path):
        apart(DropRefused, _look, Path(path).resolve())
        self._zip, files = opened_zip(
            path, DropRefused, most_files=MAX_FILES, most_bytes=MAX_TOTAL_BYTES
        )
        self._members, self._names = {}, {}
        for info in files:
            name = PurePosixPath(info.filename).name
            if name.lower() in self._members:
                raise DropRefused(TWICE.format(name))
            self._members[name.lower()], self._names[name.lower()] = info, name

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._zip.close()

    @property
    def names(self) -> Mapping[str, str]:
        """Lower-case name without folders -> the name as it was given."""
        return self._names

    def member(self, key: str) -> tuple[str, ZipInfo]:
        """Return where a file is: the path of the zip and the file in it, for another process."""
        return str(self._zip.filename), self._members[key]

    def size(self, key: str) -> int:
        """Return the bytes a file says that it has."""
        return self._members[key].file_size

    def read(self, key: str) -> bytes | None:
        """Return a file's content; None where it is larger than one file may be.

        Raises
        ------
        DropRefused: the file is damaged inside the zip.
        """
        info = self._members[key]
        if info.file_size > MAX_FILE_BYTES:
            return None
        content = read_entry(self._zip, info, MAX_FILE_BYTES, DropRefused)
        return content if len(content) <= MAX_FILE_BYTES else None


def _look(path) -> None:
    """Open a zip where its list of files, however long it may be, costs nobody else anything."""
    opened_zip(path, DropRefused, most_files=MAX_FILES, most_bytes=MAX_TOTAL_BYTES)


def is_zip_of_files(file) -> bool:
    """Tell whether an open file is a zip that is not itself a workbook; rewinds it.

    By its first and last bytes: a workbook lists its parts at its very end.
    """
    try:
        start = file.read(4)
        file.seek(-min(_DIRECTORY_OF_A_WORKBOOK, file.seek(0, 2)), 2)
        end = file.read()
    finally:
        file.seek(0)
    return start == b"PK\x03\x04" and b"PK\x05\x06" in end and b"[Content_Types].xml" not in end


def one_file(files: Sequence):
    """Return the zip that was uploaded, or one of the files that were, beside the data.

    Raises
    ------
    DropRefused: two files have one name.
    """
    from django.core.files.uploadedfile import TemporaryUploadedFile

    from services_inventory.uploading import hold, sha256_of_upload

    if len(files) == 1 and is_zip_of_files(files[0]):
        return files[0]
    target = TemporaryUploadedFile("drop.zip", "application/zip", 0, None)
    hold(target)
    packed(files, target.file)
    target.size = target.file.tell()
    target.seek(0)
    sha256_of_upload(target)
    return target


def packed(files: Iterable, target) -> None:
    """Write uploaded files as one zip to an open file; the same files give the same bytes.

    Raises
    ------
    DropRefused: two files have one name.
    """
    seen: set[str] = set()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as out:
        for file in sorted(files, key=lambda each: each.name):
            name = PurePosixPath(file.name.replace("\\", "/")).name
            if name.lower() in seen:
                raise DropRefused(TWICE.format(name))
            seen.add(name.lower())
            with out.open(zipfile.ZipInfo(name, _DAY), "w", force_zip64=True) as member:
                for chunk in file.chunks():
                    member.write(chunk)
