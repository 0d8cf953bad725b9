"""Runs a benchmark by name: `python -m tests.bench intake --rows 1000000`, or pages, exports."""

import runpy
import sys

BENCHMARKS = {
    "intake": "tests.bench.bench_intake",
    "pages": "tests.bench.pages",
    "exports": "tests.bench.exports",
    "startup": "tests.bench.startup",
    "submission": "tests.bench.submission",
    "letters": "tests.bench.letters",
}


def main() -> None:
    """Run the benchmark with the rest of the command line as its own."""
    if len(sys.argv) < 2 or sys.argv[1] not in BENCHMARKS:
        raise SystemExit(f"Say which benchmark: {', '.join(BENCHMARKS)}.")
    name = BENCHMARKS[sys.argv[1]]
    sys.argv = [name, *sys.argv[2:]]
    runpy.run_module(name, run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
