"""Files put in place whole, their SHA-256, and the chain from one submission to the next."""

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from services_inventory.progress import UNFINISHED

MANIFEST_VERSION = 1
FIRST = ""  # the digest that the first submission of a system is chained to


@dataclass(frozen=True)
class WrittenFile:
    """One finished file: where, its SHA-256, its size, how many rows by sheet, and notes."""

    path: Path
    sha256: str
    size: int
    rows: Mapping[str, int]
    notes: tuple[str, ...] = ()


@contextmanager
def put_in_place(path: Path) -> Iterator[Path]:
    """Yield a temporary path in the same folder; rename it to `path` only if all went well."""
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=UNFINISHED) as folder:
        unfinished = Path(folder) / path.name
        yield unfinished
        os.chmod(unfinished, 0o644)
        os.replace(unfinished, path)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal digits."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def written(path: Path, rows: Mapping[str, int], notes: Iterable[str] = ()) -> WrittenFile:
    """Describe a file that has been put in place."""
    path = Path(path)
    return WrittenFile(path, sha256_of(path), path.stat().st_size, dict(rows), tuple(notes))


def manifest(files: Iterable[WrittenFile], *, previous: str, about: Mapping[str, object]) -> dict:
    """Return the manifest: each file's hash, what it is about, and the digest before it.

    `previous` is `digest(manifest)` of the submission before, or `FIRST`.

    Raises:
        ValueError: two files have the same name.

    """
    listed = sorted(
        ({"name": f.path.name, "bytes": f.size, "sha256": f.sha256} for f in files),
        key=lambda entry: entry["name"],
    )
    names = [entry["name"] for entry in listed]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"Two files of one submission are called {', '.join(twice)}.")
    return {
        "version": MANIFEST_VERSION,
        "about": dict(about),
        "files": listed,
        "previous": previous,
    }


def manifest_bytes(content: Mapping) -> bytes:
    """Return the one text form of a manifest: sorted keys, no spaces, UTF-8."""
    return json.dumps(
        content, sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=str
    ).encode()


def digest(content: Mapping) -> str:
    """Return the SHA-256 of a manifest: what the next submission is chained to."""
    return hashlib.sha256(manifest_bytes(content)).hexdigest()


def write_manifest(path: Path, content: Mapping) -> WrittenFile:
    """Write a manifest in its one text form, so that `sha256sum` gives its digest."""
    with put_in_place(path) as unfinished:
        unfinished.write_bytes(manifest_bytes(content))
    return written(path, {})
