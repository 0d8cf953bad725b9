"""A zip of photographs and scans with a list of the lines they show: what the process apart reads.

The list is a CSV anywhere in the zip: line, file name, page. Nothing is unpacked to disk; each
entry is read by its name, up to a size, so no path in the archive leads anywhere.
"""

import zipfile
from pathlib import Path, PurePosixPath

from services_inventory.intake.reading.content import refuse_bomb
from services_inventory.intake.reading.table import UnreadableFile

MOST_BYTES = 40 * 1024**2
MOST_LIST_BYTES = 64 * 1024**2
LINK = 0o120000
LEFT_OUT = ("__MACOSX/", "._", ".DS_Store", "Thumbs.db")


def contents(path: Path) -> tuple[bytes, dict[str, int]]:
    """Return the list, and {name: bytes} of every other file.

    Raises
    ------
    UnreadableFile
        It is no zip, has no list or several, or is made to fill the disk or lead elsewhere.
    """
    with _opened(path) as archive:
        entries = [one for one in archive.infolist() if not one.is_dir()]
        refuse_bomb(archive.infolist(), path.stat().st_size)
        for entry in entries:
            _refuse_path(entry)
        kept = [one for one in entries if not _is_left_out(one.filename)]
        lists = [one for one in kept if one.filename.lower().endswith((".csv", ".txt"))]
        if len(lists) != 1:
            found = "no list" if not lists else f"{len(lists)} lists"
            raise UnreadableFile(
                f"The zip holds {found}. Put one CSV file into it, of the columns line, file, page."
            )
        if lists[0].file_size > MOST_LIST_BYTES:
            raise UnreadableFile("The list in the zip is larger than 64 MB. Divide it.")
        return archive.read(lists[0]), {
            one.filename: one.file_size for one in kept if one is not lists[0]
        }


def read_files(path: Path, names: list[str], most: int = MOST_BYTES) -> list[bytes]:
    """Return what is in some files of the zip, of each no more than `most` bytes and one."""
    with _opened(path) as archive:
        found = []
        for name in names:
            with archive.open(name) as file:
                found.append(file.read(most + 1))
        return found


def _opened(path: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(path)
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise UnreadableFile(
            "The file is no zip, or it is damaged. Put the pictures and one CSV list into a zip."
        ) from error


def _refuse_path(entry: zipfile.ZipInfo) -> None:
    """Refuse an entry that is a link or whose path leads out of the zip."""
    parts = PurePosixPath(entry.filename.replace("\\", "/")).parts
    is_link = (entry.external_attr >> 16) & 0o170000 == LINK
    if is_link or ".." in parts or entry.filename.startswith(("/", "\\")) or ":" in parts[0]:
        raise UnreadableFile(
            f"{entry.filename[:80]!r} in the zip leads out of it, which no honest one does. It was "
            "not opened. Make the zip anew of the pictures alone."
        )


def _is_left_out(name: str) -> bool:
    return name.startswith(LEFT_OUT[0]) or PurePosixPath(name).name.startswith(LEFT_OUT[1:])
