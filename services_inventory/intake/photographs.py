"""A zip of photographs and scans with a list of the lines they show: what the process apart reads.

The list is a CSV anywhere in the zip: line, file name, page.
"""

from contextlib import closing
from pathlib import Path

from services_inventory.intake.reading.table import UnreadableFile
from services_inventory.zips import opened_zip, read_entry

MOST_FILES = 5_000
HEAD_BYTES = 4_096
MOST_BYTES = 40 * 1024**2
MOST_TOGETHER = 6 * 1024**3
MOST_LIST_BYTES = 64 * 1024**2


def contents(path: Path) -> tuple[bytes, dict[str, tuple[int, bytes]]]:
    """Return the list, and {name: (size, first bytes)} of every other file.

    Raises
    ------
    UnreadableFile: it is no zip, has no list or several, or is made to fill the disk or lead
        elsewhere.
    """
    opened, files = _opened(path)
    with closing(opened):
        lists = [one for one in files if one.filename.lower().endswith((".csv", ".txt"))]
        if len(lists) != 1:
            found = "no list" if not lists else f"{len(lists)} lists"
            raise UnreadableFile(
                f"The zip holds {found}. Put one CSV file into it, of the columns line, file, page."
            )
        listed = read_entry(opened, lists[0], MOST_LIST_BYTES, UnreadableFile)
        if len(listed) > MOST_LIST_BYTES:
            raise UnreadableFile("The list in the zip is larger than 64 MB. Divide it.")
        return listed, {
            one.filename: (one.file_size, read_entry(opened, one, HEAD_BYTES, UnreadableFile))
            for one in files
            if one is not lists[0]
        }


def read_files(path: Path, names: list[str]) -> list[bytes]:
    """Return what is in some files of the zip, of each no more than may be kept and one byte."""
    opened, files = _opened(path)
    by_name = {one.filename: one for one in files}
    with closing(opened):
        return [read_entry(opened, by_name[name], MOST_BYTES, UnreadableFile) for name in names]


def _opened(path: Path):
    return opened_zip(path, UnreadableFile, most_files=MOST_FILES, most_bytes=MOST_TOGETHER)
