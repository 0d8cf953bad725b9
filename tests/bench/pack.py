"""The print pack of a package: cover, list, map, then job and string sheet of each order.

    python -m tests.bench pack --orders 300

Each order is ready to start: consent, string, answered checklist, estimate, safe start.
"""

import argparse
import os
import tempfile
import time
from datetime import date

from tests.bench.rows import Measured, as_table, machine

SECONDS = 30


def measure(count: int) -> list[Measured]:
    """Return how long the pack took, by the clock and in processor time."""
    from django.core.management import call_command

    from replacements.models import WorkPackage
    from replacements.packages.print_pack import print_pack
    from tests.replacements.factories import LATER, contractor, order, started

    call_command("migrate", verbosity=0)
    company = contractor()
    orders = [started(order(company)) for _ in range(count)]
    package = WorkPackage.objects.create(
        contractor=company, name="North end", year=2028, created_by="office", created_at=LATER
    )
    clock, processor = time.perf_counter(), time.process_time()
    content = print_pack(package, orders, date(2028, 5, 15))
    took = time.perf_counter() - clock, time.process_time() - processor
    name = f"pack of {count} orders, {len(content) / 1024**2:.1f} MB"
    return [
        Measured(f"{name}: by the clock", took[0], "s", None, SECONDS, SECONDS / 2),
        Measured(f"{name}: processor", took[1], "s", None, SECONDS, SECONDS / 2),
    ]


def main() -> None:
    """Measure in a folder of its own and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--orders", type=int, default=300)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        os.environ |= {"DATA_DIR": folder, "DATABASE_URL": "", "SECRET_KEY": "only-for-this-run"}
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
        import django

        django.setup()
        rows = measure(given.orders)
    print(f"{machine()}\n")
    print(as_table(rows))


if __name__ == "__main__":
    main()
