"""A process killed at any moment of an intake: the record is as before or complete, never half."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from shutil import copy

import pytest

from tests.bench.intake_file import write

ROOT = Path(__file__).resolve().parents[3]
ROWS = 2_000


def _manage(folder: Path, *words: str) -> list[str]:
    return [sys.executable, str(ROOT / "manage.py"), *words]


def _environment(folder: Path) -> dict:
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return {**kept, "DATA_DIR": str(folder), "SECRET_KEY": "for this test only"}


def _run(folder: Path, *words: str) -> str:
    done = subprocess.run(
        _manage(folder, *words),
        env=_environment(folder),
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def _rows(folder: Path) -> tuple[int, int, int]:
    import sqlite3

    with sqlite3.connect(folder / "program.sqlite3") as connection:
        return tuple(
            connection.execute(f"SELECT count(*) FROM services_inventory_{table}").fetchone()[0]
            for table in ("serviceline", "premise", "categorychange")
        )


@pytest.mark.one_engine  # `python -m tests.bench kills --postgresql` kills the other, often
def test_killed_at_random_moments_the_record_is_whole_and_running_again_is_harmless(
    tmp_path, migrated
):
    copy(migrated, tmp_path)
    source = write(tmp_path / "made.csv", ROWS)
    began = time.perf_counter()
    _run(tmp_path, "take_in", str(source), "--dry-run", "--json")
    whole = 2 * (time.perf_counter() - began)
    chance = random.Random(3)
    for _ in range(3):
        process = subprocess.Popen(
            _manage(tmp_path, "take_in", str(source), "--json"),
            env=_environment(tmp_path), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        time.sleep(chance.uniform(0.5, whole))
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert _rows(tmp_path) in ((0, 0, 0), (ROWS, ROWS, ROWS))
    counts = json.loads(_run(tmp_path, "take_in", str(source), "--json"))
    assert counts["new"] + counts["unchanged"] == ROWS
    assert _rows(tmp_path) == (ROWS, ROWS, ROWS)
    _run(tmp_path, "check_record")
