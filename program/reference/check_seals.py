"""Check that sealed rows are as they were: python3 check_seals.py FOLDER [HEAD]

Needs Python 3.8 or later and nothing else. FOLDER holds seals.csv and a CSV file for each stream
that it names. Each row of seals.csv says how many rows of a stream were sealed together, their
SHA-256 as lines of the CSV file (UTF-8, header left out), and the head: the SHA-256 of the head
before, and of stream, rows, last row's place, digest and time, each followed by a line feed.
HEAD is the head printed in a submission or kept with a back-up: it must be met on the way, so
that nothing before it was altered and sealed anew. Ends with 1 where anything differs.
"""

import csv
import hashlib
import sys
from pathlib import Path


def sha256(data):
    """Return the SHA-256 of bytes, hexadecimal."""
    return hashlib.sha256(data).hexdigest()


class Lines:
    """The rows of a CSV file as the bytes they have in it, one after the other."""

    def __init__(self, path):
        """Open a file and pass over its header."""
        self.file = path.open("rb")
        self.next()

    def next(self):
        """Return the bytes of the next row; a quoted value may go over several lines."""
        row = self.file.readline()
        while row.count(b'"') % 2:
            more = self.file.readline()
            if not more:
                return row
            row += more
        return row


def faults(folder, expected):
    """Yield a sentence for everything that differs."""
    before, files, met = "", {}, not expected
    with (folder / "seals.csv").open(encoding="utf-8", newline="") as file:
        for number, seal in enumerate(csv.DictReader(file), start=1):
            stream, rows = seal["stream"], int(seal["rows"])
            parts = (before, stream, str(rows), seal["last"], seal["digest"], seal["at"])
            if sha256("".join(part + "\n" for part in parts).encode()) != seal["head"]:
                yield f"Seal {number} does not follow from the one before."
            before = seal["head"]
            met = met or before == expected
            if stream not in files:
                files[stream] = Lines(folder / f"{stream}.csv")
            found = b"".join(files[stream].next() for _ in range(rows))
            if sha256(found) != seal["digest"]:
                yield f"{stream}: rows up to {seal['last']} (seal {number}) differ."
    for stream, lines in files.items():
        if lines.next():
            yield f"{stream}: there are rows behind the last that was sealed."
    if not met:
        yield "The head given was never met: what it stood for is not in this chain."
    print(f"Head of the chain: {before}")


def main():
    """Check a folder and say what came of it."""
    if len(sys.argv) not in (2, 3):
        print(__doc__)
        return 2
    found = 0
    for sentence in faults(Path(sys.argv[1]), (sys.argv[2:] or [""])[0]):
        print(sentence)
        found += 1
    print("All sealed rows are as they were." if not found else f"{found} difference(s).")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
