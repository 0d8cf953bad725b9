"""Runs a benchmark by name, and writes what it printed into docs/performance.md if asked to.

python -m tests.bench intake --rows 1000000 --write
"""

import os
import runpy
import sys
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

from tests.bench.document import BlockMissing, block_replaced, printed
from tests.source_files import ROOT

DOCUMENT = ROOT / "docs" / "performance.md"
BENCHMARKS = {
    "intake": "tests.bench.bench_intake",
    "pages": "tests.bench.pages",
    "exports": "tests.bench.exports",
    "startup": "tests.bench.startup",
    "submission": "tests.bench.submission",
    "letters": "tests.bench.letters",
    "plans": "tests.bench.plans",
    "city": "tests.bench.city",
    "record_map": "tests.bench.record_map",
    "pull_log": "tests.bench.pull_log",
    "drops": "tests.bench.drops",
    "pack": "tests.bench.pack",
    "mutations": "tests.bench.mutations",
    "coverage": "tests.bench.coverage",
    "verdicts": "tests.bench.verdicts",
    "alterations": "tests.bench.alterations",
    "kills": "tests.bench.kills",
    "load": "tests.bench.load",
    "capacity": "tests.bench.capacity",
    "several": "tests.bench.several",
    "growth": "tests.bench.growth",
}


def main() -> None:
    """Run the benchmark with the rest of the command line as its own."""
    write = "--write" in sys.argv
    said = [word for word in sys.argv[1:] if word != "--write"]
    if not said or said[0] not in BENCHMARKS:
        raise SystemExit(
            f"Say which benchmark: {', '.join(BENCHMARKS)}; with --write its table goes into "
            f"{DOCUMENT.relative_to(ROOT)}."
        )
    name, *options = said
    block = name + _database()
    if write:
        refuse_without_block(DOCUMENT, block)
    with printed() as kept:
        code = _run(BENCHMARKS[name], options)
    if write:
        day = f"{datetime.now(UTC):%-d %B %Y}"
        # No path of this machine, nor the address of its database, goes into the document.
        kept_away = {"--keep": "FOLDER", "--postgresql": "URL"}
        shown = [kept_away.get(before, word) for before, word in pairwise(["", *said])]
        command = " ".join(["python -m tests.bench", *shown])
        write_block(DOCUMENT, block, f"`{command}`, {day}.\n\n{kept.getvalue()}")
    raise SystemExit(code)


def _database() -> str:
    """Return what tells the block of another database apart; SQLite's has the bare name."""
    return " on PostgreSQL" if os.environ.get("DATABASE_URL", "").startswith("postgres") else ""


def _run(module: str, options: list[str]) -> int:
    """Run the module; return 1 if it says that a goal was missed."""
    sys.argv = [module, *options]
    try:
        runpy.run_module(module, run_name="__main__", alter_sys=True)
    except SystemExit as ended:
        if not isinstance(ended.code, bool):
            raise  # it did not come to its table
        return int(ended.code)
    return 0


def refuse_without_block(document: Path, name: str) -> None:
    """Refuse before an hour is measured in vain."""
    write_block(document, name, "", only_try=True)


def write_block(document: Path, name: str, content: str, *, only_try: bool = False) -> None:
    """Put the content into its block; read the document anew, so that other edits stay."""
    try:
        text = block_replaced(document.read_text(encoding="utf-8"), name, content)
    except BlockMissing as missing:
        raise SystemExit(str(missing)) from missing
    if not only_try:
        document.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
