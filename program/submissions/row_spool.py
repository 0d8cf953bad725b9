"""Rows kept in a temporary file, to be gone through as often as there are files to write."""

import pickle
import shutil
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

CHUNK = 2_000


class RowSpool:
    """Rows of one list, in flat memory; iterating starts anew each time.

    Every file of a submission is so written from the same rows, whatever is recorded meanwhile.
    """

    def __init__(self, path: Path, row_type: type[Any]):
        self.path, self.row_type, self.count = path, row_type, 0
        path.touch()

    def take(self, rows: Iterable[tuple]) -> Iterator[Any]:
        """Keep rows and yield each, so that the caller can count what passes."""
        iterator = iter(rows)
        with open(self.path, "ab") as file:
            while chunk := list(islice(iterator, CHUNK)):
                pickle.dump([tuple(row) for row in chunk], file, pickle.HIGHEST_PROTOCOL)
                self.count += len(chunk)
                yield from chunk

    def keep(self, rows: Iterable[tuple]) -> "RowSpool":
        """Keep all of the rows."""
        for _ in self.take(rows):
            pass
        return self

    def append(self, part: Path) -> None:
        """Move what another spool's file holds behind what is kept; its rows are not counted."""
        with open(self.path, "ab") as whole, open(part, "rb") as file:
            shutil.copyfileobj(file, whole)
        part.unlink()

    def __iter__(self) -> Iterator[Any]:
        make = self.row_type._make
        with open(self.path, "rb") as file:
            while True:
                try:
                    # Only this program wrote the file, a moment ago, in a folder of its own.
                    chunk = pickle.load(file)
                except EOFError:
                    return
                yield from map(make, chunk)

    def __len__(self) -> int:
        return self.count
