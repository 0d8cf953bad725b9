"""A submission's files as one ZIP, streamed: nothing is kept in memory or on disk."""

import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path

CHUNK = 1 << 20
FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # of a ZIP's calendar: the files' own days stand inside them


class _Sink:
    """Takes what the archive writes and hands it on."""

    def __init__(self):
        self.waiting: list[bytes] = []

    def write(self, content: bytes) -> int:
        """Take some bytes."""
        self.waiting.append(bytes(content))
        return len(content)

    def flush(self) -> None:
        """Nothing is held back."""

    def taken(self) -> Iterator[bytes]:
        """Hand on what came since."""
        waiting, self.waiting = self.waiting, []
        yield from waiting


def zip_stream(
    files: Iterable[Path], texts: Iterable[tuple[str, str | bytes]] = ()
) -> Iterator[bytes]:
    """Yield a ZIP of files, each under its own name, and of (name, content) beside them.

    The files stand in it as they are, uncompressed, so that their SHA-256 can be checked.
    """
    sink = _Sink()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_STORED) as archive:
        for path in files:
            entry = zipfile.ZipInfo(path.name, FIRST_DAY)
            with open(path, "rb") as file, archive.open(entry, "w", force_zip64=True) as out:
                while block := file.read(CHUNK):
                    out.write(block)
                    yield from sink.taken()
        for name, text in texts:
            archive.writestr(zipfile.ZipInfo(name, FIRST_DAY), text)
            yield from sink.taken()
    yield from sink.taken()
