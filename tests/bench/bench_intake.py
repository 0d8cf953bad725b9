"""What taking in a file costs, as ratios to a floor measured in the same run.

Each step is a process of its own, so that its peak memory is its own. Processor time stands
beside the clock's, because a machine that is shared stretches the clock's.
"""

import argparse
import csv
import json
import math
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench import floor, intake_file

ROOT = Path(__file__).resolve().parents[2]
# step, what it is, the ratio that must be reached and the one aimed at
STEPS = (
    ("floor", "F: typed csv to one SQLite table", 1.0, 1.0),
    ("check", "dry run, empty record", 1.0, 0.6),
    ("apply", "take_in, all of it", 5.0, 3.5),
    ("again", "the same file again", 2.0, 1.0),
    ("update", "5 % of the rows, new evidence", None, None),
    ("case", "C: SQL UPDATE ... CASE of all lines", None, None),
    ("restate", "restate from the evidence, nothing changes", None, None),
    ("normalise", "address normalisation", None, None),
    ("best_place", "P: contains_xy on points sorted by x", None, None),
    ("place", "assign points to 200 polygons", None, None),
)


def main(words: list[str]) -> None:
    """Measure every step and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench intake")
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--only", default="", help="steps, separated by commas")
    options = parser.parse_args(words)
    wanted = options.only.split(",") if options.only else [step for step, *_ in STEPS]
    with tempfile.TemporaryDirectory() as folder:
        prepare(Path(folder), options.rows)
        found = {step: _measured(Path(folder), step) for step, *_ in STEPS if step in wanted}
    print("\n".join(table(found, options.rows)))


def prepare(folder: Path, rows: int) -> None:
    """Write the files that the steps read, and a record with 200 neighbourhoods."""
    intake_file.write(folder / "lines.csv", rows)
    with (folder / "update.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("location id", "customer side material", "source", "observed on"))
        for at in range(0, rows, 20):
            material = ("lead", "copper", "galvanized")[at // 20 % 3]
            writer.writerow((f"L{at:08d}", material, "excavation", "2026-05-04"))
    _in_process(folder, "prepare")


def _measured(folder: Path, step: str) -> dict:
    print(f"{step} ...", file=sys.stderr, flush=True)
    return json.loads(_in_process(folder, step))


def _in_process(folder: Path, step: str) -> str:
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.bench_intake", "step", step, str(folder)],
        env={**kept, "DATA_DIR": str(folder), "DJANGO_SETTINGS_MODULE": "program.settings"},
        capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stderr)
    return done.stdout.strip().splitlines()[-1] if done.stdout.strip() else ""


def table(found: dict[str, dict], rows: int) -> list[str]:
    """Return the lines of the table."""
    load = os.getloadavg()
    lines = [
        f"{rows:,} rows x {len(intake_file.HEADER)} columns; {platform.machine()}, "
        f"{os.cpu_count()} processors, Python {platform.python_version()}; "
        f"load average at the end {load[0]:.1f}, {load[1]:.1f}, {load[2]:.1f}",
        "",
        "| work | seconds | processor s | ratio | by processor time | must, aim | peak MB |",
        "|---|---|---|---|---|---|---|",
    ]
    for step, what, must, aim in STEPS:
        if step not in found:
            continue
        one = found[step]
        ratios = _ratios(step, found, rows)
        goal = f"{must:g}, {aim:g} F" if must else GOALS.get(step, "")
        lines.append(
            f"| {what} | {one['seconds']:.2f} | {one['cpu']:.2f} | {ratios[0]} | {ratios[1]} "
            f"| {goal} | {one['rss']} |"
        )
    return lines


GOALS = {
    "update": "10, 7 % of take_in",
    "restate": "0.5, 0.3 C",
    "normalise": "10, 3 us each",
    "place": "1.5, 1.2 P",
}
AGAINST = {"update": "apply", "restate": "case", "place": "best_place"}


def _ratios(step: str, found: dict[str, dict], rows: int) -> tuple[str, str]:
    if step == "normalise":
        return tuple(f"{found[step][of] / rows * 1e6:.2f} us" for of in ("seconds", "cpu"))
    base = found.get(AGAINST.get(step, "floor"))
    if base is None or step in ("floor", "case", "best_place"):
        return "", ""
    name = {"update": "%", "restate": "C", "place": "P"}.get(step, "F")
    scale = 100 if name == "%" else 1
    return tuple(f"{scale * found[step][of] / base[of]:.2f} {name}" for of in ("seconds", "cpu"))


def _step_prepare(folder: Path) -> None:
    from django.core.management import call_command

    from services_inventory.models import Neighbourhood

    call_command("migrate", verbosity=0)
    for number, polygon in enumerate(polygons()):
        Neighbourhood.objects.create(name=f"Area {number:03d}", boundary_wkb=polygon.wkb)


def polygons() -> list:
    """Return 200 polygons of 133 corners over the invented streets."""
    import shapely

    height, width = 2500 * intake_file.STEP * 2 / 20, 450 * intake_file.STEP / 10
    found = []
    for at in range(200):
        south = intake_file.SOUTH + at // 10 * height + height / 2
        west = intake_file.WEST + at % 10 * width + width / 2
        turns = [2 * math.pi * corner / 133 for corner in range(133)]
        found.append(
            shapely.Polygon(
                (
                    west + width * 0.49 * math.cos(turn) * (1 + 0.01 * math.sin(9 * turn)),
                    south + height * 0.49 * math.sin(turn),
                )
                for turn in turns
            )
        )
    return found


def _step_floor(folder: Path) -> None:
    floor.seconds(folder / "lines.csv", folder / "floor.sqlite3")


def _intake(folder: Path, name: str, step: str) -> None:
    from services_inventory.operations.batches import batch_open, batch_run
    from services_inventory.today import now

    batch = batch_open(
        kind="INTAKE", by="bench", at=now(), file=folder / name, parameters={"step": step}
    )
    _restart_clock()
    batch_run(batch=batch)
    if batch.state not in ("CHECKED", "APPLIED"):
        raise SystemExit(batch.message)
    print(json.dumps(batch.counts), file=sys.stderr)


def _step_check(folder: Path) -> None:
    _intake(folder, "lines.csv", "CHECK")


def _step_apply(folder: Path) -> None:
    _intake(folder, "lines.csv", "APPLY")


def _step_again(folder: Path) -> None:
    _intake(folder, "lines.csv", "APPLY")


def _step_update(folder: Path) -> None:
    _intake(folder, "update.csv", "APPLY")


def _step_case(folder: Path) -> None:
    from django.db import connection, transaction

    case = (
        "CASE WHEN system_material IN ('LEAD', 'LEAD_LINED_GALVANIZED') OR customer_material = "
        "'LEAD' THEN 'LEAD' WHEN system_material = 'UNKNOWN' OR customer_material = 'UNKNOWN' "
        "THEN 'UNKNOWN' WHEN customer_material = 'GALVANIZED' THEN 'GRR' ELSE 'NON_LEAD' END"
    )
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE services_inventory_serviceline SET category = {case}")
        transaction.set_rollback(True)


def _step_restate(folder: Path) -> None:
    from services_inventory import bulk
    from services_inventory.operations.standings import standings_compare
    from services_inventory.today import now

    moment = now()
    _restart_clock()
    with bulk.large_work():
        found = standings_compare(recorded_at=moment)
    if found["differences"]:
        raise SystemExit(f"{found['differences']} differences: {found['examples'][:2]}")


def _step_normalise(folder: Path) -> None:
    from services_inventory.domain.addresses import normalise

    with (folder / "lines.csv").open(newline="", encoding="utf-8") as file:
        addresses = [cells[1] for cells in csv.reader(file)]
    _restart_clock()
    for address in addresses:
        normalise(address)


def _points(folder: Path):
    import numpy

    rows = sum(1 for _ in (folder / "lines.csv").open(encoding="utf-8")) - 1
    chance = numpy.random.default_rng(1)
    south, west = intake_file.SOUTH, intake_file.WEST
    return chance.uniform(south, south + 0.5, rows), chance.uniform(west, west + 0.045, rows)


def _step_best_place(folder: Path) -> None:
    import numpy
    import shapely

    latitudes, longitudes = _points(folder)
    shapes = polygons()
    shapely.prepare(shapes)
    _restart_clock()
    order = numpy.argsort(longitudes)
    x, y = longitudes[order], latitudes[order]
    for shape in shapes:
        west, south, east, north = shape.bounds
        first, last = numpy.searchsorted(x, (west, east))
        near = numpy.flatnonzero((y[first:last] >= south) & (y[first:last] <= north)) + first
        shapely.contains_xy(shape, x[near], y[near])


def _step_place(folder: Path) -> None:
    from services_inventory.placing import assign

    latitudes, longitudes = _points(folder)
    shapes = polygons()
    assign(latitudes[:10], longitudes[:10], shapes)
    _restart_clock()
    assign(latitudes, longitudes, shapes)


_began = (time.perf_counter(), time.process_time())


def _restart_clock() -> None:
    """Leave what came before out of the measurement."""
    global _began
    _began = (time.perf_counter(), time.process_time())


def _run_step(step: str, folder: Path) -> None:
    """Do one step in this process, and print what it cost as the last line."""
    import django

    django.setup()
    _restart_clock()
    globals()[f"_step_{step}"](folder)
    print(
        json.dumps(
            {
                "seconds": time.perf_counter() - _began[0],
                "cpu": time.process_time() - _began[1],
                "rss": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
            }
        )
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["step"]:
        _run_step(sys.argv[2], Path(sys.argv[3]))
    else:
        main(sys.argv[1:])
