"""Downloads of the whole list against what merely writing the same rows costs.

    python -m tests.bench.exports --lines 1000000

The floor of the CSV is one plain query on a plain table that holds the download's own cells,
written by the csv module. The floor of the GeoPackage is pyogrio writing a ready frame of its rows.
"""

import csv
import sqlite3
import tempfile
from pathlib import Path

from tests.bench.rows import Measured, Watched, as_table, machine, seconds

MEMORY_MB, TIMES = 400, 1


def measure(folder: Path) -> list[Measured]:
    """Return the ratios of both downloads and the memory that they took."""
    from django.contrib.auth.models import Group, User
    from django.test import Client
    from django.urls import reverse

    from program.roles import PROGRAM_MANAGER

    user, _ = User.objects.get_or_create(username="bench-exports")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client = Client(headers={"host": "localhost"})
    client.force_login(user)

    def download(name: str, path: Path) -> None:
        answer = client.get(reverse(name))
        assert answer.status_code == 200, (name, answer.status_code)
        with path.open("wb") as file:
            for part in answer.streaming_content:
                file.write(part)

    for name in ("line_csv", "line_geopackage"):  # what is loaded at the first use is not timed
        client.get(reverse(name), {"location": "none"}).close()
    text, areas = folder / "lines_out.csv", folder / "lines_out.gpkg"
    with Watched() as csv_held:
        took_csv = seconds(lambda: download("line_csv", text), TIMES)
    with Watched() as gpkg_held:
        took_gpkg = seconds(lambda: download("line_geopackage", areas), TIMES)
    rows = [
        Measured("CSV of all lines", took_csv, "s", _read_and_write(text, folder), 1.5, 1.3),
        Measured("CSV, own memory at most", csv_held.most, "MB", None, 200, 150),
        Measured("GeoPackage, own memory at most", gpkg_held.most, "MB", None, MEMORY_MB, 300),
    ]
    floor = _frame_written(areas, folder / "floor.gpkg")
    rows.insert(2, Measured("GeoPackage of all lines", took_gpkg, "s", floor, 1.5, 1.2))
    return rows


def _read_and_write(text: Path, folder: Path) -> float:
    """Return the seconds to read equal rows by one plain query and write them with csv."""
    with text.open(newline="", encoding="utf-8-sig") as file:
        header, *rows = csv.reader(file)
    copy = sqlite3.connect(folder / "floor.sqlite3")
    numbers = {"latitude": "REAL", "longitude": "REAL", "year installed": "INTEGER"}
    names = ", ".join(f'"{name}" {numbers.get(name, "TEXT")}' for name in header)
    copy.execute(f"CREATE TABLE line ({names})")
    copy.executemany(f"INSERT INTO line VALUES ({', '.join('?' * len(header))})", rows)
    copy.commit()
    del rows

    def plainly() -> None:
        with (folder / "floor.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(header)
            writer.writerows(copy.execute("SELECT * FROM line"))

    try:
        return seconds(plainly, TIMES)
    finally:
        copy.close()


def _frame_written(source: Path, target: Path) -> float:
    """Return the seconds that pyogrio takes to write the download's own rows from a frame."""
    import pyogrio

    frame = pyogrio.read_dataframe(source, layer=pyogrio.list_layers(source)[0][0])
    return seconds(lambda: pyogrio.write_dataframe(frame, target, layer="lines"), TIMES)


def main() -> None:
    """Build, measure, print."""
    from tests.bench.inventory import options, record_of

    asked = options(__doc__)
    with record_of(asked.lines, asked.keep), tempfile.TemporaryDirectory() as folder:
        print(f"{machine()}; {asked.lines:,} lines\n")
        print(as_table(measure(Path(folder))))


if __name__ == "__main__":
    main()
