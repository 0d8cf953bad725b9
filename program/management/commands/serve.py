"""Web server and worker on one machine, started and ended together."""

import argparse
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

ADDRESS = "127.0.0.1:8000"
LOOKED_AFTER_S = 0.5


def address(text: str) -> str:
    """Return where to serve, or refuse it before anything is done."""
    host, _, port = text.rpartition(":")
    if not host or not port.isdecimal() or not 0 < int(port) < 65536:
        raise argparse.ArgumentTypeError(f"{text[:60]!r}; write it like {ADDRESS}")
    return text


class Command(BaseCommand):
    """Bring the database up to date, and run both until Ctrl-C."""

    help = "Brings the database up to date, then runs the web server and the worker until Ctrl-C."

    def add_arguments(self, parser):
        parser.add_argument("--address", default=ADDRESS, type=address, metavar="HOST:PORT")

    def handle(self, *args, **options):
        """Migrate, say where, run, and end the one with the other."""
        where = options["address"]
        _refuse_taken(where)
        self.stdout.write("Bringing the database up to date; the first time takes a minute …")
        self.stdout.flush()
        call_command("migrate", verbosity=0)
        manage = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py")]
        subprocess.run([*manage, "build_help"], stdout=subprocess.DEVNULL, check=False)
        # Ctrl-C reaches all three: what ends after it did not end by itself. It is noted, as an
        # exception can be lost in whatever Python runs at that moment.
        asked: list[int] = []
        for each in (signal.SIGINT, signal.SIGTERM):
            signal.signal(each, lambda number, _frame: asked.append(number))
        both = {
            "worker": subprocess.Popen([*manage, "worker"]),
            "web server": subprocess.Popen(_web(where)),
        }
        try:
            self._tell(where)
            ended = []
            while not asked and not ended:
                time.sleep(LOOKED_AFTER_S)
                ended = [name for name, one in both.items() if one.poll() is not None]
            if not asked:
                raise CommandError(f"The {ended[0]} ended by itself; what it said stands above.")
            self.stdout.write("\nEnding both …")
        finally:
            for process in both.values():
                process.terminate()
            for process in both.values():
                process.wait(timeout=40)
        self.stdout.write("Both have ended.")

    def _tell(self, where: str) -> None:
        from django.contrib.auth import get_user_model

        if not get_user_model().objects.exists():
            self.stdout.write(
                "Nobody has an account yet. In a second window, with the same settings: "
                "manage.py invite NAME"
            )
        self.stdout.write(f"Open http://{where}/ and sign in. Ctrl-C ends web server and worker.")


def _web(where: str) -> list[str]:
    return [
        sys.executable, "-m", "gunicorn", "program.wsgi", "--bind", where, "--workers", "2",
        "--threads", "4", "--worker-class", "gthread", "--log-level", "warning",
        "--chdir", str(settings.BASE_DIR),
    ]  # fmt: skip


def _refuse_taken(where: str) -> None:
    host, _, port = where.rpartition(":")
    try:
        with socket.create_server((host.strip("[]"), int(port))):
            return
    except OSError as error:
        raise CommandError(
            f"Nothing can be served at {where}: {error.strerror or error}. If another program has "
            "that port, end it or choose another by --address HOST:PORT."
        ) from error
