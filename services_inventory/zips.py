"""A zip of files from outside, opened without trusting a name, a size or a promise.

Nothing is unpacked to disk: each entry is read by its name, up to a size, so no path in the zip
leads anywhere. It loads no Django, as it also runs in the process that reads files apart.
"""

import stat
import zipfile
from collections.abc import Iterator
from pathlib import PurePosixPath

MAX_RATIO = 150
_RATIO_FROM_BYTES = 5 * 1024**2
_NOT_OURS = ("__macosx/", ".ds_store", "thumbs.db", "desktop.ini")


def opened_zip(
    path, refusal: type[Exception], *, most_files: int, most_bytes: int
) -> tuple[zipfile.ZipFile, list[zipfile.ZipInfo]]:
    """Open a zip; return it with its files, but for folders and what systems put in.

    Parameters
    ----------
    refusal : what is raised with a sentence: no zip, too much, a password, a way out of it
    most_files, most_bytes : of files and of what they unpack to, together
    """
    try:
        opened = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError, ValueError) as error:
        raise refusal(
            "The file is no zip, or it is damaged or not whole. Make it again."
        ) from error
    infos = opened.infolist()
    if len(infos) > most_files:
        raise refusal(f"The zip holds {len(infos):,} files; send at most {most_files:,}.")
    for sentence in filter(None, map(_wrong_name, infos)):
        raise refusal(sentence)
    files = [info for info in infos if not info.is_dir() and not _not_ours(info.filename)]
    for sentence in _wrong_content(files, most_bytes):
        raise refusal(sentence)
    return opened, files


def read_entry(
    opened: zipfile.ZipFile, info: zipfile.ZipInfo, most: int, refusal: type[Exception]
) -> bytes:
    """Return what is in a file of the zip, or its first `most` bytes and one."""
    try:
        with opened.open(info) as member:
            return member.read(most + 1)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError) as error:
        raise refusal(f"{info.filename[:80]} is damaged inside the zip.") from error


def _not_ours(name: str) -> bool:
    lowered = name.lower()
    last = lowered.rsplit("/", 1)[-1]
    return lowered.startswith(_NOT_OURS[0]) or last in _NOT_OURS[1:] or last.startswith("._")


def _wrong_name(info: zipfile.ZipInfo) -> str:
    # ZipInfo cuts a name at a zero byte; the name as it stands in the zip is what counts.
    name = info.orig_filename
    parts = PurePosixPath(name.replace("\\", "/")).parts
    drive = len(name) > 1 and name[1] == ":"
    if name.startswith(("/", "\\")) or drive or ".." in parts or not name.isprintable():
        return f"The zip holds a path that leads outside of it ({name[:60]!r}). Nothing was taken."
    if stat.S_ISLNK(info.external_attr >> 16):
        return f"The zip holds a link ({name[:60]}). Put the file itself into it."
    return ""


def _wrong_content(files: list[zipfile.ZipInfo], most_bytes: int) -> Iterator[str]:
    for info in files:
        if info.flag_bits & 0x1:
            yield f"{info.filename} has a password. Send the zip without one."
        ratio = info.file_size / max(info.compress_size, 1)
        if info.file_size > _RATIO_FROM_BYTES and ratio > MAX_RATIO:
            yield (
                f"{info.filename} would unpack to {ratio:,.0f} times its size, which no honest "
                "file does. Nothing was taken."
            )
    total = sum(info.file_size for info in files)
    if total > most_bytes:
        yield (
            f"The files have {total / 1024**3:.1f} GB unpacked; send at most "
            f"{most_bytes // 1024**3} GB."
        )
