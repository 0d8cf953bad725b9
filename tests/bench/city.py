"""A plan of a whole city, from the record to the areas kept: time, memory and proven gap.

python -m tests.bench city --lines 532000

The lines stand in a database of their own, 77 neighborhoods of streets with a house every 15 m.
Sixty-eight in a hundred are unknown, unless `--unknown` says otherwise; of the others a part that
differs from neighborhood to neighborhood is lead. Nobody says how many crews there are: the fewest
that the work needs are found first.
"""

import argparse
import os
import random
import resource
import tempfile
import time
from datetime import UTC, date, datetime

from tests.bench.rows import Measured, as_table, machine

HOODS, STREET = 77, 50
AT = datetime(2027, 3, 1, 12, tzinfo=UTC)
MUST_S, MUST_MB, MUST_GAP = 120, 2_000, 1.0


def main() -> None:
    """Make the city, draw its plan, print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--lines", type=int, default=532_000)
    parser.add_argument("--unknown", type=float, default=0.68, help="share of unknown lines")
    parser.add_argument("--lead", type=float, default=0.3, help="share of lead among the others")
    asked = parser.parse_args()
    lines = asked.lines
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        os.environ["DATA_DIR"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "program.settings"
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        filled(lines, asked.unknown, asked.lead)
        print(f"{machine('')}\n\n{as_table(measured(lines))}")


def filled(lines: int, unknown: float, mean_lead: float) -> None:
    """Put the city into the empty database."""
    from services_inventory.models import Neighborhood, Premise, ServiceLine

    draw, per_hood = random.Random(1), lines // HOODS
    for number in range(HOODS):
        hood = Neighborhood.objects.create(name=f"Ward {number + 1:02}")
        lead = draw.uniform(mean_lead / 3, mean_lead * 5 / 3)
        premises = [
            Premise(
                address=f"{house} ST {number}-{street}",
                address_key=f"ST {number}-{street}|{house}",
                street_key=f"ST {number}-{street}",
                house_number=house,
                latitude=41.5 + number // 9 * 0.05 + street * 0.0003,
                longitude=-100.3 + number % 9 * 0.05 + house * 0.0002,
                neighborhood=hood,
            )
            for street in range(per_hood // STREET + 1)
            for house in range(1, STREET + 1)
        ]
        made = Premise.objects.bulk_create(premises[:per_hood], batch_size=5_000)
        ServiceLine.objects.bulk_create(
            (
                ServiceLine(
                    location_id=f"{number:02}-{place:06}",
                    premise=premise,
                    neighborhood=hood,
                    category=_category(draw, unknown, lead),
                    installed_year=draw.randint(1890, 1979),
                )
                for place, premise in enumerate(made)
            ),
            batch_size=5_000,
        )


def _category(draw: random.Random, unknown: float, lead: float) -> str:
    if draw.random() < unknown:
        return "UNKNOWN"
    return "LEAD" if draw.random() < lead else "NON_LEAD"


def measured(lines: int) -> list[Measured]:
    """Draw the plan by the worker's own way."""
    from program.operations.plans import plan_draw

    steps, start = [], time.perf_counter()
    took = time.process_time()
    plan = plan_draw(
        settings={},
        by="bench",
        at=AT,
        as_of=date(2027, 3, 1),
        report=lambda done, total: steps.append(f"{time.perf_counter() - start:.0f}"),
    )
    seconds, took = time.perf_counter() - start, time.process_time() - took
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    result = plan.result
    areas, jobs = plan.areas.count(), sum(row["jobs"] for row in result["years"])
    open_lines = plan.area_lines.count()
    name = f"plan of {open_lines:,} open lines of {lines:,}, {HOODS} neighborhoods"
    note = (
        f"{plan.status}, {areas:,} areas, {jobs:,} jobs, {result['crews']:,} crews found; "
        f"{seconds:.0f} s by the clock, steps ended after {', '.join(steps)} s"
    )
    return [
        Measured(f"{name}, processor", took, "s", None, MUST_S, MUST_S / 2, note),
        Measured("proven gap", 100 * (plan.gap or 100), "%", None, MUST_GAP, MUST_GAP / 2),
        Measured("memory at most", memory, "MB", None, MUST_MB, MUST_MB / 2),
    ]


if __name__ == "__main__":
    main()
