"""What each step of the intake's benchmark does; `bench_intake` runs them one after another."""

import csv
import json
import sys
from pathlib import Path

from tests.bench import floor, intake_file
from tests.bench.processes import Spent, run_step


def _step_prepare(folder: Path) -> dict:
    """Write the files that the steps read, and a record with 200 neighborhoods."""
    from django.core.management import call_command

    from services_inventory.models import Neighborhood

    call_command("migrate", verbosity=0)
    for number, polygon in enumerate(intake_file.polygons()):
        Neighborhood.objects.create(name=f"Area {number:03d}", boundary_wkb=polygon.wkb)
    return {}


def _step_floor(folder: Path) -> dict:
    began = Spent.now()
    floor.seconds(folder / "lines.csv", folder / "floor.sqlite3")
    return began.until_now()


def _intake(folder: Path, name: str, step: str) -> dict:
    from services_inventory.operations.batches import batch_open, batch_run
    from services_inventory.today import now

    batch = batch_open(
        kind="INTAKE", by="bench", at=now(), file=folder / name, parameters={"step": step}
    )
    began = Spent.now()
    batch_run(batch=batch)
    found = began.until_now()
    if batch.state not in ("CHECKED", "APPLIED"):
        raise SystemExit(batch.message)
    print(json.dumps(batch.counts), file=sys.stderr)
    return found


def _step_check(folder: Path) -> dict:
    return _intake(folder, "lines.csv", "CHECK")


def _step_apply(folder: Path) -> dict:
    found = _intake(folder, "lines.csv", "APPLY")
    return {**found, "cpu": found["cpu"] + _servers_seconds()}


def _servers_seconds() -> float:
    """The processor time of this connection's PostgreSQL process; none on SQLite."""
    import os

    from django.db import connection

    if connection.vendor != "postgresql":
        return 0.0
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        state = Path(f"/proc/{cursor.fetchone()[0]}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(state[11]) + int(state[12])) / os.sysconf("SC_CLK_TCK")


def _step_again(folder: Path) -> dict:
    return _intake(folder, "lines.csv", "APPLY")


def _step_update(folder: Path) -> dict:
    return _intake(folder, "update.csv", "APPLY")


def _step_case(folder: Path) -> dict:
    from django.db import connection, transaction

    case = (
        "CASE WHEN system_material IN ('LEAD', 'LEAD_LINED_GALVANIZED') OR customer_material = "
        "'LEAD' THEN 'LEAD' WHEN system_material = 'UNKNOWN' OR customer_material = 'UNKNOWN' "
        "THEN 'UNKNOWN' WHEN customer_material = 'GALVANIZED' THEN 'GRR' ELSE 'NON_LEAD' END"
    )
    began = Spent.now()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE services_inventory_serviceline SET category = {case}")
        transaction.set_rollback(True)
    return began.until_now()


def _step_restate(folder: Path) -> dict:
    from services_inventory import bulk
    from services_inventory.operations.standings import standings_compare
    from services_inventory.today import now

    began = Spent.now()
    with bulk.large_work():
        found = standings_compare(recorded_at=now())
    if found["differences"]:
        raise SystemExit(f"{found['differences']} differences: {found['examples'][:2]}")
    return began.until_now()


def _step_restate_afresh(folder: Path) -> dict:
    """Every statement is reduced again before its line is compared."""
    from services_inventory import bulk
    from services_inventory.facts import Facts
    from services_inventory.operations.sums import codes_write
    from services_inventory.policy import evidence_policy
    from services_inventory.today import today

    began = Spent.now()
    with bulk.large_work():
        if replaced := codes_write(Facts(evidence_policy(today()))).replaced:
            raise SystemExit(f"{replaced} statements had another code.")
    reducing = began.until_now()
    comparing = _step_restate(folder)
    return {
        name: max(reducing[name], comparing[name]) if name == "rss" else reducing[name] + spent
        for name, spent in comparing.items()
    }


def _step_restate_all(folder: Path) -> dict:
    """Every line carries another category than its evidence gives, and is corrected."""
    from django.db import connection, transaction

    from services_inventory import bulk
    from services_inventory.operations.standings import standings_derive
    from services_inventory.today import now

    spoil = (
        "UPDATE services_inventory_serviceline SET category = "
        "CASE category WHEN 'LEAD' THEN 'UNKNOWN' ELSE 'LEAD' END"
    )
    with bulk.large_work(), transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(spoil)
            lines = cursor.rowcount
        began = Spent.now()
        changed = standings_derive(line_ids=None, recorded_at=now(), by="bench")
        found = began.until_now()
        transaction.set_rollback(True)
    if changed != lines:
        raise SystemExit(f"{changed} of {lines} lines were corrected.")
    return found


def _step_undo(folder: Path) -> dict:
    """The whole first file is taken back; what nothing else says leaves the inventory."""
    from services_inventory.models import Batch
    from services_inventory.operations.undo import intake_undo
    from services_inventory.today import now

    batch = Batch.objects.filter(kind="INTAKE", state="APPLIED").earliest("id")
    began = Spent.now()
    undo = intake_undo(batch=batch, by="bench", at=now())
    print(json.dumps(undo.counts), file=sys.stderr)
    return began.until_now()


def _step_import_export(folder: Path) -> dict:
    from tests.bench.import_export import load

    return load(folder / "lines.csv")


def _step_normalize(folder: Path) -> dict:
    from services_inventory.domain.addresses import normalize

    with (folder / "lines.csv").open(newline="", encoding="utf-8") as file:
        addresses = [cells[1] for cells in csv.reader(file)]
    began = Spent.now()
    for address in addresses:
        normalize(address)
    return began.until_now()


def _points(folder: Path):
    import numpy

    rows = sum(1 for _ in (folder / "lines.csv").open(encoding="utf-8")) - 1
    chance = numpy.random.default_rng(1)
    south, west = intake_file.SOUTH, intake_file.WEST
    return chance.uniform(south, south + 0.5, rows), chance.uniform(west, west + 0.045, rows)


def _step_best_place(folder: Path) -> dict:
    import numpy
    import shapely

    latitudes, longitudes = _points(folder)
    shapes = intake_file.polygons()
    shapely.prepare(shapes)
    began = Spent.now()
    order = numpy.argsort(longitudes)
    x, y = longitudes[order], latitudes[order]
    for shape in shapes:
        west, south, east, north = shape.bounds
        first, last = numpy.searchsorted(x, (west, east))
        near = numpy.flatnonzero((y[first:last] >= south) & (y[first:last] <= north)) + first
        shapely.contains_xy(shape, x[near], y[near])
    return began.until_now()


def _step_place(folder: Path) -> dict:
    from services_inventory.placing import assign

    latitudes, longitudes = _points(folder)
    shapes = intake_file.polygons()
    assign(latitudes[:10], longitudes[:10], shapes)
    began = Spent.now()
    assign(latitudes, longitudes, shapes)
    return began.until_now()


if __name__ == "__main__":
    run_step(globals())
