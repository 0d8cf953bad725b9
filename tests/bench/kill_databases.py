"""The database that each try of an act begins with: a file copied, or a server of our own."""

import os
import shutil
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path


class Databases:
    """A file for SQLite, copied for each try."""

    url = ""
    victims = ("process", "disk", "clock")

    def __init__(self, folder: Path):
        self.folder = folder

    def keep(self) -> None:
        """Keep what stands as the town that each try begins with."""
        shutil.copytree(self.folder / "now", self.folder / "town")

    def anew(self) -> None:
        """Put the town back."""
        shutil.rmtree(self.folder / "now", ignore_errors=True)
        shutil.copytree(self.folder / "town", self.folder / "now")

    def kill(self) -> None:
        """Nothing runs beside the process itself."""

    end = kill


class Servers(Databases):
    """A PostgreSQL cluster of our own; the town is a template of databases."""

    victims = ("process", "database", "disk", "clock")

    def __init__(self, folder: Path, port: int):
        super().__init__(folder)
        bins = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
        self.bin, self.data, self.port = bins[-1], folder / "cluster", port
        self.url = f"postgresql://tester@127.0.0.1:{port}/now"
        if os.geteuid() == 0:
            folder.chmod(0o755)
            self.data.mkdir()
            shutil.chown(self.data, "postgres")
        options = ["-N", "-U", "tester", "--auth=trust", "-E", "UTF8", "--locale=C.UTF-8"]
        self.run("initdb", "-D", self.data, *options)
        self.start()
        self.sql("CREATE DATABASE now")

    def run(self, name: str, *words) -> None:
        """Run one of PostgreSQL's programs, as its account where this one is root's."""
        account = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        subprocess.run(
            [*account, self.bin / name, *map(str, words)],
            check=True, cwd="/", stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def start(self) -> None:
        """Start it; what a killed process wrote, the system keeps: nothing waits for the disk."""
        options = f"-p {self.port} -c fsync=off -c unix_socket_directories={self.data}"
        words = ("-D", self.data, "-w", "-t", 120, "-l", self.data / "log", "-o", options, "start")
        self.run("pg_ctl", *words)

    def sql(self, *statements: str) -> None:
        """Say something to the server, beside its databases."""
        import psycopg

        url = self.url.replace("/now", "/postgres")
        with psycopg.connect(url, autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)

    def keep(self) -> None:
        """Keep files and database."""
        super().keep()
        self.sql("ALTER DATABASE now RENAME TO town")
        self.anew()

    def anew(self) -> None:
        """Put both back; a copy's sequences are logged as its own after a checkpoint only."""
        super().anew()
        self.sql("DROP DATABASE IF EXISTS now WITH (FORCE)", "CREATE DATABASE now TEMPLATE town")
        self.sql("CHECKPOINT")

    def kill(self) -> None:
        """Kill the server with all its processes, and start it again."""
        first = int((self.data / "postmaster.pid").read_text().splitlines()[0])
        children = Path(f"/proc/{first}/task/{first}/children").read_text().split()
        pids = [first, *map(int, children)]
        for pid in pids:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        while any(Path(f"/proc/{pid}/fd").exists() for pid in pids):
            time.sleep(0.02)  # it starts only where nobody holds its memory
        for _ in range(20):
            with suppress(subprocess.CalledProcessError):
                return self.start()
            time.sleep(0.5)
        raise SystemExit((self.data / "log").read_text()[-2000:])

    def end(self) -> None:
        """Stop it."""
        self.run("pg_ctl", "-D", self.data, "-m", "immediate", "stop")
