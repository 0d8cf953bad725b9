"""One measured figure beside its floor and what it must reach."""

import os
import platform
import sqlite3
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from threading import Event, Thread


@dataclass(frozen=True)
class Measured:
    """What was done, how it came out, and against what.

    Parameters
    ----------
    figure : the measured value in `unit`
    floor : the floor in the same unit, measured in the same run; None where the goal is absolute
    must, aim : as a ratio to the floor, or in `unit` where there is no floor
    """

    work: str
    figure: float
    unit: str
    floor: float | None
    must: float
    aim: float
    note: str = ""

    @property
    def compared(self) -> float:
        """Return what is held against `must`: the ratio, or the figure itself."""
        return self.figure / self.floor if self.floor else self.figure

    @property
    def reached(self) -> str:
        """Say which goal was reached."""
        return reached(self.compared, self.must, self.aim)


def reached(compared: float, must: float, aim: float) -> str:
    """Say which of two goals a figure reached; the less, the better."""
    if compared <= aim:
        return "aim"
    return "must" if compared <= must else "missed"


def engine() -> str:
    """Return the database engine in use and its version."""
    from django.conf import settings
    from django.db import connection

    if not settings.configured:
        return f"SQLite {sqlite3.sqlite_version}"
    return f"{connection.display_name} {'.'.join(map(str, connection.get_database_version()))}"


def machine(database: str | None = None) -> str:
    """Return the machine in one line, with its load and the database ("" for none)."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1024**3
    python = platform.python_version()
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    parts = (
        f"{os.cpu_count()} processors ({platform.machine()}), {memory:.0f} GiB",
        f"Python {python}",
        engine() if database is None else database,
        f"load averages {load}",
    )
    return ", ".join(filter(None, parts))


HEADINGS = ("work", "measured", "floor", "ratio", "must", "aim", "reached", "note")


def as_table(rows: list[Measured]) -> str:
    """Return a Markdown table."""
    lines = [HEADINGS, ("---",) * len(HEADINGS)]
    for row in rows:
        floor = f"{row.floor:.4g} {row.unit}" if row.floor else ""
        ratio = f"{row.compared:.2f}" if row.floor else ""
        goals = (f"{row.must:g}", f"{row.aim:g}", row.reached, row.note)
        lines.append((row.work, f"{row.figure:.4g} {row.unit}", floor, ratio, *goals))
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def processor_s() -> float:
    """Return the processor time of this process and of its PostgreSQL session, if it has one."""
    from django.db import connection

    own = time.process_time()
    if connection.vendor != "postgresql":
        return own
    connection.ensure_connection()
    session = Path(f"/proc/{connection.connection.info.backend_pid}/schedstat")
    return own + int(session.read_text().split()[0]) / 1e9


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """Return the least processor time of so many runs; other work on the machine adds little."""
    found = []
    for _ in range(times):
        began = processor_s()
        work()
        found.append(processor_s() - began)
    return min(found)


def p50_p95(samples: Sequence[float]) -> tuple[float, float]:
    """Return the median and the 95th percentile (nearest rank)."""
    ordered = sorted(samples)
    return median(ordered), ordered[max(0, -(-len(ordered) * 95 // 100) - 1)]


class Watched:
    """Watches this process's own memory, in MB; a file that it reads in place is not its own."""

    def __init__(self):
        self.most, self._over = 0.0, Event()
        self._watcher = Thread(target=self._watch, daemon=True)

    def __enter__(self) -> "Watched":
        self._watcher.start()
        return self

    def __exit__(self, *_):
        self._over.set()
        self._watcher.join()

    def _watch(self) -> None:
        while not self._over.wait(0.05):
            status = Path("/proc/self/status").read_text()
            line = next(line for line in status.splitlines() if line.startswith("RssAnon"))
            self.most = max(self.most, int(line.split()[1]) / 1024)
