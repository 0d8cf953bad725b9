"""Mutated files of each kind: how many were read, refused, or ended their reader.

python -m tests.bench mutations --count 1000
"""

import argparse
import logging
import os
import sys
import tempfile
from pathlib import Path

COLUMNS = ("tried", "read", "refused", "reader broke", "memory or abort", "no end", "no sentence",
           "traceback", "longest ms")  # fmt: skip


def main() -> None:
    """Print a row for each kind; end with 1 if any ended in a traceback or without a sentence."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=1000)
    asked.add_argument("--kind", default="", help="only kinds with this in their name")
    given = asked.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
    import django

    django.setup()
    logging.disable(logging.CRITICAL)
    from tests.mutations import rows_of

    bad = 0
    print(f"| kind | {' | '.join(COLUMNS)} |\n|---{'|---' * len(COLUMNS)}|")
    with tempfile.TemporaryDirectory() as folder:
        for name, found in rows_of(given.count, Path(folder), given.kind):
            print(f"| {name} | {' | '.join(str(found[key]) for key in COLUMNS)} |", flush=True)
            bad += found["traceback"] + found["no sentence"]
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
