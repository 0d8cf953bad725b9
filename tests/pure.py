"""The tests of the pure domain by themselves: no Django, no database, no fixture of the pages.

    python -m tests.pure [options of pytest]

Fails, too, where one of them loads Django: then it isn't pure.
"""

import gc
import sys
from glob import glob

import pytest

# What a pure test has no use for costs each of thousands a call.
WITHOUT = ("django", "xdist", "cacheprovider", "logging", "warnings", "threadexception",
           "unraisableexception", "faulthandler", "schemathesis", "playwright", "base_url", "anyio",
           "time_machine", "subtests")  # fmt: skip
ALONE = [word for name in WITHOUT for word in ("-p", f"no:{name}")]


def main(given: list[str]) -> int:
    """Run them; return the exit code."""
    folders = sorted(glob("tests/*/domain"))
    alone = [*ALONE, "-p", "tests.examples", "--noconftest", "-c", "/dev/null", "--rootdir=."]
    gc.disable()  # nothing here is large
    code = pytest.main([*alone, "-q", *folders, *given])
    if "django" in sys.modules:
        print("One of these tests loads Django.")
    return code or int("django" in sys.modules)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
