"""How far a long operation is, and whether somebody asked it to stop.

A batch is applied in one transaction, and on SQLite nobody else can see or write the
database from inside it. So progress and the wish to stop live in two small files beside the
data, one pair a batch; the batch row keeps the figures of the last finished step. Several machines
have them in the cache that they share: lost there, a wish is asked again.
"""

import json
import os
import socket
import time
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.cache import cache

PACE_S = 2.0  # sooner, a pace is chance
KEPT_S = 7 * 24 * 3600  # in a shared cache, which forgets what nobody took away
_BEGAN = {"since": "at", "first": "done"}
UNFINISHED = ".unfinished-"  # what the name of a folder for a file in the making begins with


def _folder() -> Path:
    folder = Path(settings.DATA_DIR) / "progress"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def age_seconds(path: Path, *, moved: bool = False) -> float:
    """Return how long ago a file was written to; with `moved`, or was put where it is."""
    seen = path.stat()
    return time.time() - (max(seen.st_mtime, seen.st_ctime) if moved else seen.st_mtime)


def seconds_since(moment: datetime) -> float:
    """Return how long ago that was, by the clock of this machine."""
    return time.time() - moment.timestamp()


def write(batch_id: int, done: int, total: int, message: str = "") -> None:
    """Note `done` of `total` units; the reader sees the old or the new note, never half."""
    at, before = time.time(), read(batch_id)
    note = {"done": done, "total": total, "message": message, "at": at}
    if before and before["total"] == total and before["done"] <= done:
        note |= {name: before.get(name, note[of]) for name, of in _BEGAN.items()}
    else:  # another stretch of the work, with a pace of its own
        note |= {name: note[of] for name, of in _BEGAN.items()}
    process = {"pid": os.getpid(), "born": _born(os.getpid()), "host": socket.gethostname()}
    _keep(f"{batch_id}.json", json.dumps({**note, **process}))


def read(batch_id: int) -> dict | None:
    """Return the last note {done, total, message, at (seconds since the epoch)}, or None."""
    try:
        return json.loads(_kept(f"{batch_id}.json") or "")
    except ValueError:
        return None


def seconds_left(note: dict) -> float | None:
    """Return how long the stretch at hand goes on at its pace so far; None before it has one."""
    gone, moved = note["at"] - note.get("since", note["at"]), note["done"] - note.get("first", 0)
    if gone < PACE_S or moved <= 0 or note["done"] >= note["total"]:
        return None
    return (note["total"] - note["done"]) * gone / moved


def abandoned(batch_id: int, after_seconds: float) -> bool:
    """Tell whether whoever ran this batch is gone: its process ended, or it fell silent."""
    note = read(batch_id)
    if note is None:
        return True
    if note.get("host") == socket.gethostname():
        pid = note.get("pid", 0)
        if not _lives(pid) or note.get("born") != _born(pid):
            return True
    return note["at"] < time.time() - after_seconds


def this_process() -> str:
    """Return what people call this process by."""
    return f"{socket.gethostname()[:80]}, process {os.getpid()}"


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _born(pid: int) -> str:
    """Name a process's start, as its number goes to another once it ended ("" where unknown).

    Source: proc(5), /proc/pid/stat, field 22 (ticks since the boot), and random(4), boot_id.
    """
    try:
        ticks = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[19]
        return f"{Path('/proc/sys/kernel/random/boot_id').read_text().strip()} {ticks}"
    except OSError:
        return ""


def let_go(batch_id: int) -> None:
    """Forget who runs this batch, so that it counts as abandoned; a wish to stop stays."""
    _forget(f"{batch_id}.json")


def ask_to_stop(batch_id: int) -> None:
    """Leave the wish that the worker stop this batch at its next report."""
    _keep(f"{batch_id}.stop", "asked")


def stop_asked(batch_id: int) -> bool:
    """Tell whether somebody asked this batch to stop."""
    return _kept(f"{batch_id}.stop") is not None


def clear(batch_id: int) -> None:
    """Forget the notes of a batch that has ended."""
    for suffix in (".json", ".stop"):
        _forget(f"{batch_id}{suffix}")


def _keep(name: str, text: str) -> None:
    """Keep a note where all can read it who work on this record."""
    if settings.SHARED_CACHE:
        cache.set(f"progress-{name}", text, KEPT_S)
        return
    fresh = _folder() / f"{name}.{os.getpid()}.tmp"
    fresh.write_text(text)
    fresh.replace(_folder() / name)


def _kept(name: str) -> str | None:
    if settings.SHARED_CACHE:
        return cache.get(f"progress-{name}")
    try:
        return (_folder() / name).read_text()
    except FileNotFoundError:
        return None


def _forget(name: str) -> None:
    if settings.SHARED_CACHE:
        cache.delete(f"progress-{name}")
    else:
        (_folder() / name).unlink(missing_ok=True)


def forget_all_but(batch_ids: set[int]) -> None:
    """Forget the notes of every batch but these: what ran was killed, or has ended since."""
    for path in _folder().iterdir():
        if path.suffix == ".tmp" and age_seconds(path) < 60:
            continue  # being written this moment
        number = path.name.split(".")[0]
        if number.isdecimal() and int(number) not in batch_ids:
            path.unlink(missing_ok=True)


def worker_reports() -> None:
    """Note that this worker is there, whether or not anything waits for it.

    All are in one note. Of two who write at once one is missing until its next report.
    """
    at, host, mine, notes = time.time(), socket.gethostname(), os.getpid(), workers()
    known = {
        name: note for name, note in notes.items()
        if note["at"] > at - KEPT_S and (note["host"] != host or _lives(note["pid"]))
    }  # fmt: skip
    since = notes.get(this_process(), {}).get("since", at)
    known[this_process()] = {"since": since, "at": at, "host": host, "pid": mine}
    _keep("workers", json.dumps(known))


def silent(note: dict, seconds: float) -> bool:
    """Tell whether a worker's last report is older, by the clock that it reports by."""
    return note["at"] < time.time() - seconds


def worker_leaves() -> None:
    """Note that this worker ends, as it was told to."""
    known = workers()
    if (mine := known.get(this_process())) is not None:
        mine["ended"] = True
        _keep("workers", json.dumps(known))


def workers() -> dict[str, dict]:
    """Return who reported within days, by name: {since, at} (seconds since the epoch), {ended}."""
    return json.loads(_kept("workers") or "{}")
