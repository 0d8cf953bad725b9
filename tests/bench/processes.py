"""Steps of a benchmark, each in a process of its own, so that its peak memory is its own."""

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Spent:
    """A moment: seconds by the clock, and of the processor with processes that have ended."""

    seconds: float
    cpu: float

    @classmethod
    def now(cls) -> "Spent":
        """Return this moment."""
        spent = [
            resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        ]
        return cls(time.perf_counter(), sum(one.ru_utime + one.ru_stime for one in spent))

    def until_now(self) -> dict:
        """Return what was spent since, and the peak memory so far in MB."""
        now = Spent.now()
        kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        peak = max(resource.getrusage(kind).ru_maxrss for kind in kinds) // 1024
        return {"seconds": now.seconds - self.seconds, "cpu": now.cpu - self.cpu, "rss": peak}


def in_process(module: str, step: str, folder: Path, *more, database: str = "") -> dict:
    """Run one step of a benchmark module over the record in a folder; return what it found.

    On SQLite, a record of its own in that folder, unless another database's URL is given.
    """
    print(f"{step} ...", file=sys.stderr, flush=True)
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    kept |= {"DATABASE_URL": database} if database else {}
    done = subprocess.run(
        [sys.executable, "-m", module, "step", step, str(folder), *map(str, more)],
        env={**kept, "DATA_DIR": str(folder), "DJANGO_SETTINGS_MODULE": "program.settings"},
        stdout=subprocess.PIPE, text=True, cwd=ROOT, check=True,
    )  # fmt: skip
    return json.loads(done.stdout.strip().splitlines()[-1])


def run_step(names: Mapping) -> bool:
    """Do the step that the command line names and print what it found; False if it names none."""
    if sys.argv[1:2] != ["step"]:
        return False
    import django

    django.setup()
    step, folder, *more = sys.argv[2:]
    print(json.dumps(names[f"_step_{step}"](Path(folder), *more)))
    return True
