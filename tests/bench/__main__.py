"""Runs a benchmark by name: `python -m tests.bench intake --rows 1000000`."""

import sys
from importlib import import_module
from pathlib import Path


def main() -> None:
    """Run `bench_NAME.main` with the rest of the command line."""
    names = sorted(path.stem[6:] for path in Path(__file__).parent.glob("bench_*.py"))
    if len(sys.argv) < 2 or sys.argv[1] not in names:
        raise SystemExit(f"Say which benchmark: {', '.join(names)}.")
    import_module(f"tests.bench.bench_{sys.argv[1]}").main(sys.argv[2:])


if __name__ == "__main__":
    main()
