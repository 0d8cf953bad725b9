"""The blocks of a document that hold what a benchmark printed, each between two markers."""

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout

BEGIN = "<!-- measured by: python -m tests.bench {name} -->"
END = "<!-- end -->"


class BlockMissing(ValueError):
    """The document has no complete block of that name."""


def block_replaced(text: str, name: str, content: str) -> str:
    """Return the document with other content between the markers of a benchmark.

    Raises
    ------
    BlockMissing
        There is no block of that name, or it does not end before the next one begins.
    """
    begin = BEGIN.format(name=name)
    before, found, rest = text.partition(begin)
    if not found:
        raise BlockMissing(
            f"The document has no place for {name}: put the lines {begin} and {END} where its "
            "table should stand."
        )
    old, ended, after = rest.partition(END)
    if not ended or BEGIN.split("{")[0] in old:
        raise BlockMissing(f"The block of {name} does not end: put the line {END} after its table.")
    return f"{before}{begin}\n{content.strip()}\n{END}{after}"


class _Tee(io.StringIO):
    """Keeps what is printed, and lets it through."""

    def __init__(self, through):
        super().__init__()
        self._through = through

    def write(self, text: str) -> int:
        self._through.write(text)
        self._through.flush()
        return super().write(text)


@contextmanager
def printed() -> Iterator[io.StringIO]:
    """Keep what is printed meanwhile."""
    kept = _Tee(sys.stdout)
    with redirect_stdout(kept):
        yield kept
