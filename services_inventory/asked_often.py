"""How often somebody asked in a stretch of time, counted for all processes alike.

Several machines count in the cache that they share. On one a byte is put behind a file for each
time, and the file's length is the count: two processes never read the same one. Nothing of the
record hangs on it; where it cannot be kept, everybody is let in.
"""

import os
import shutil
from hashlib import sha256
from pathlib import Path
from time import time

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

MINUTE, HOUR = 60, 3600


def client_address(request: HttpRequest) -> str:
    """Return the network address that asks.

    Behind a proxy (`BEHIND_HTTPS`) it is the last one in `X-Forwarded-For`: the one that the proxy
    itself wrote. What stands before it came from the caller and proves nothing.
    """
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "")
    if settings.BEHIND_HTTPS and forwarded:
        return forwarded.rsplit(",", 1)[-1].strip()
    return request.META.get("REMOTE_ADDR") or ""


def times_asked(what: str, who: str, seconds: int) -> int:
    """Count one more time that somebody asks; return how many it were in this stretch of time.

    what : a short name of letters and hyphens
    """
    named = f"{what}-{int(time() // seconds)}"
    whose = sha256(who.encode("utf-8", "surrogatepass")).hexdigest()[:32]
    if settings.SHARED_CACHE:
        return _counted_together(f"asked-{named}-{whose}", seconds)
    counts = Path(settings.DATA_DIR) / "asked"
    stretch = counts / named
    try:
        try:
            return _one_more(stretch / whose)
        except FileNotFoundError:  # the first of this stretch of time
            for earlier in counts.glob(f"{what}-[0-9]*"):
                shutil.rmtree(earlier, ignore_errors=True)
            stretch.mkdir(parents=True, exist_ok=True)
            return _one_more(stretch / whose)
    except OSError:  # a full disk keeps nobody out
        return 0


def _one_more(name: Path) -> int:
    file = os.open(name, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o640)
    try:
        os.write(file, b".")
        return os.lseek(file, 0, os.SEEK_CUR)
    finally:
        os.close(file)


def _counted_together(key: str, seconds: int) -> int:
    cache.add(key, 0, seconds)
    try:
        return cache.incr(key)
    except ValueError:  # a cache that is away keeps nobody out
        return 0
