"""`manage.py serve`: one command brings up web server and worker, and ends both."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import pytest

from tests.source_files import ROOT


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def start(folder, port: int) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--address", f"127.0.0.1:{port}"],
        cwd=ROOT,
        env={**os.environ, "DATA_DIR": str(folder), "DATABASE_URL": "", "DEBUG": "",
             "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )  # fmt: skip


def children_of(pid: int) -> str:
    done = subprocess.run(["ps", "-o", "args=", "--ppid", str(pid)], capture_output=True, text=True)
    return done.stdout


def pid_of(pid: int, word: str) -> int | None:
    done = subprocess.run(
        ["ps", "-o", "pid=,args=", "--ppid", str(pid)], capture_output=True, text=True
    )
    found = [line.split()[0] for line in done.stdout.splitlines() if line.endswith(f" {word}")]
    return int(found[0]) if found else None


@pytest.mark.one_engine
@pytest.mark.parametrize("ends_by", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_an_empty_folder_with_a_worker_and_ends_both(tmp_path, ends_by, migrated):
    if ends_by == signal.SIGTERM:  # once is enough from nothing
        shutil.copy(migrated, tmp_path)
    port = free_port()
    serving = start(tmp_path, port)
    try:
        for _ in range(300):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthy/", timeout=5) as page:
                    assert page.status == 200
                    break
            except OSError:
                assert serving.poll() is None, serving.stdout.read()
                time.sleep(0.2)
        there = children_of(serving.pid)
        assert "worker" in there and "gunicorn" in there
        os.killpg(serving.pid, ends_by) if ends_by == signal.SIGINT else serving.send_signal(
            ends_by
        )
        told, _ = serving.communicate(timeout=60)
    finally:
        if serving.poll() is None:
            os.killpg(serving.pid, signal.SIGKILL)
    assert serving.returncode == 0, told
    assert f"Open http://127.0.0.1:{port}/" in told and "Both have ended." in told
    assert "manage.py invite" in told
    with pytest.raises(ProcessLookupError):
        os.killpg(serving.pid, 0)


@pytest.mark.one_engine
def test_a_worker_that_ends_by_itself_is_told_and_ends_both(tmp_path, migrated):
    shutil.copy(migrated, tmp_path)
    serving = start(tmp_path, free_port())
    try:
        for _ in range(300):
            if worker := pid_of(serving.pid, "worker"):
                break
            assert serving.poll() is None, serving.stdout.read()
            time.sleep(0.2)
        os.kill(worker, signal.SIGKILL)
        told, _ = serving.communicate(timeout=60)
    finally:
        if serving.poll() is None:
            os.killpg(serving.pid, signal.SIGKILL)
    assert serving.returncode == 1
    assert "The worker ended by itself" in told and "Traceback" not in told


@pytest.mark.one_engine
def test_a_port_that_is_taken_is_said_in_a_sentence(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        serving = start(tmp_path, taken.getsockname()[1])
        told, _ = serving.communicate(timeout=60)
    assert serving.returncode == 1
    assert "Nothing can be served at" in told and "Traceback" not in told
