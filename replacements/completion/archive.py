"""The drop: files, or a zip of them, opened without trusting a name, a size or a promise."""

import stat
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path, PurePosixPath

from services_inventory.apart import apart

MAX_FILES = 6_000
MAX_FILE_BYTES = 60 * 1024**2
MAX_TOTAL_BYTES = 3 * 1024**3
MAX_RATIO = 150
_DIRECTORY_OF_A_WORKBOOK = 256 * 1024
_RATIO_FROM_BYTES = 5 * 1024**2
_NOT_OURS = ("__macosx/", ".ds_store", "thumbs.db", "desktop.ini")
# Every member gets the same day, so that the same files make the same zip.
_DAY = (2000, 1, 1, 0, 0, 0)


class DropRefused(Exception):
    """The drop as a whole cannot be taken; the message says why and what to do."""


class Drop:
    """The files of a drop by their lower-case name, read one at a time."""

    def __init__(self, path):
        apart(DropRefused, _look, Path(path).resolve())
        self._zip, self._members = _opened(path)
        self._names = {k: PurePosixPath(i.filename).name for k, i in self._members.items()}

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._zip.close()

    @property
    def names(self) -> Mapping[str, str]:
        """Lower-case name without folders -> the name as it was given."""
        return self._names

    def size(self, key: str) -> int:
        """Return the bytes a file says that it has."""
        return self._members[key].file_size

    def read(self, key: str) -> bytes | None:
        """Return a file's content; None where it is larger than one file may be.

        Raises
        ------
        DropRefused
            The file is damaged inside the zip.
        """
        info = self._members[key]
        if info.file_size > MAX_FILE_BYTES:
            return None
        try:
            with self._zip.open(info) as member:
                content = member.read(MAX_FILE_BYTES + 1)
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError) as error:
            raise DropRefused(f"{info.filename} is damaged inside the zip.") from error
        return content if len(content) <= MAX_FILE_BYTES else None


def _opened(path) -> tuple[zipfile.ZipFile, dict[str, zipfile.ZipInfo]]:
    try:
        opened = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError, ValueError) as error:
        raise DropRefused(
            "The zip is damaged or not whole and cannot be opened. Make it again."
        ) from error
    return opened, _checked(opened.infolist())


def _look(path) -> None:
    """Open a zip where its list of files, however long it may be, costs nobody else anything."""
    _opened(path)


def _checked(infos: list[zipfile.ZipInfo]) -> dict[str, zipfile.ZipInfo]:
    if len(infos) > MAX_FILES:
        raise DropRefused(f"The zip holds {len(infos):,} files; send at most {MAX_FILES:,}.")
    members: dict[str, zipfile.ZipInfo] = {}
    total = 0
    for info in infos:
        _refuse_name(info)
        if info.is_dir() or _not_ours(info.filename):
            continue
        _refuse_content(info)
        total += info.file_size
        key = PurePosixPath(info.filename).name.lower()
        if key in members:
            raise DropRefused(
                f"Two files are named {PurePosixPath(info.filename).name}. Give each its own name."
            )
        members[key] = info
    if total > MAX_TOTAL_BYTES:
        raise DropRefused(
            f"The files have {total / 1024**3:.1f} GB unpacked; send at most "
            f"{MAX_TOTAL_BYTES // 1024**3} GB."
        )
    return members


def _not_ours(name: str) -> bool:
    lowered = name.lower()
    return lowered.startswith(_NOT_OURS[0]) or lowered.rsplit("/", 1)[-1] in _NOT_OURS[1:]


def _refuse_name(info: zipfile.ZipInfo) -> None:
    # ZipInfo cuts a name at a zero byte; the name as it stands in the zip is what counts.
    name = info.orig_filename
    parts = PurePosixPath(name.replace("\\", "/")).parts
    drive = len(name) > 1 and name[1] == ":"
    if name.startswith(("/", "\\")) or drive or ".." in parts or not name.isprintable():
        raise DropRefused(
            f"The zip holds a path that leads outside of it ({name[:60]!r}). Nothing was taken."
        )
    if stat.S_ISLNK(info.external_attr >> 16):
        raise DropRefused(f"The zip holds a link ({name[:60]}). Put the file itself into it.")


def _refuse_content(info: zipfile.ZipInfo) -> None:
    if info.flag_bits & 0x1:
        raise DropRefused(f"{info.filename} has a password. Send the zip without one.")
    ratio = info.file_size / max(info.compress_size, 1)
    if info.file_size > _RATIO_FROM_BYTES and ratio > MAX_RATIO:
        raise DropRefused(
            f"{info.filename} would unpack to {ratio:,.0f} times its size. Nothing was taken."
        )


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
    DropRefused
        Two files have one name.
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
    DropRefused
        Two files have one name.
    """
    seen: set[str] = set()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as out:
        for file in sorted(files, key=lambda each: each.name):
            name = PurePosixPath(file.name.replace("\\", "/")).name
            if name.lower() in seen:
                raise DropRefused(f"Two files are named {name}. Give each its own name.")
            seen.add(name.lower())
            with out.open(zipfile.ZipInfo(name, _DAY), "w", force_zip64=True) as member:
                for chunk in file.chunks():
                    member.write(chunk)
