"""The invented inventory file that the intake is timed with: 25 columns, seeded, any length."""

import csv
import math
import random
from collections.abc import Iterator
from pathlib import Path

HEADER = (
    "location id", "address", "unit", "city", "postcode", "latitude", "longitude",
    "system side material", "system side basis", "system side installed",
    "system side diameter", "system side points seen", "former system side material",
    "system side observed on", "customer side material", "customer side basis",
    "customer side installed", "customer side diameter", "customer side points seen",
    "connector", "connector basis", "line use", "premise type", "year built", "notes",
)  # fmt: skip
STREETS = ("Mill", "Oak", "Harbor View", "Linden", "Quarry", "Saint Anne", "Ropewalk", "Canal")
TYPES = ("St", "Ave", "Rd", "Ln", "Ct", "Blvd", "Pl", "Way")
MATERIALS = ("LEAD", "Copper", "Cu type K", "GALV", "PE", "unk", "", "Cast iron")
BASES = ("tap card", "installation record", "visual inspection", "permit", "meter record")
SIZES = ('3/4"', "1", "1 1/4 in", "0.75", "")
SOUTH, WEST, STEP = 41.3, -100.6, 0.0001


def rows(number: int, seed: int = 1) -> Iterator[tuple]:
    """Yield `number` rows: 100 houses a street, a grid of streets, words as people write them."""
    chance = random.Random(seed)
    pick, whole = chance.choice, chance.randrange
    for at in range(number):
        street, house = divmod(at, 100)
        name = f"{STREETS[street % 8]} {street // 64} {TYPES[street // 8 % 8]}"
        year = whole(1890, 2026)
        seen = whole(10) == 0
        yield (
            f"L{at:08d}", f"{house * 2 + 1} {name}", "Apt 2" if whole(30) == 0 else "",
            "Quillwater", f"690{at % 3 + 11}",
            f"{SOUTH + (street % 2500) * STEP * 2:.6f}",
            f"{WEST + (street // 2500 * 110 + house) * STEP:.6f}",
            pick(MATERIALS), "visual inspection" if seen else pick(BASES), str(year),
            pick(SIZES), "2" if seen else "", "lead" if whole(20) == 0 else "",
            f"{max(year, 2000) + 1}-{whole(1, 13):02d}-{whole(1, 28):02d}"
            if seen and year < 2025 else "",
            pick(MATERIALS), pick(BASES[:2]), str(min(year + whole(40), 2025)), pick(SIZES), "",
            pick(("lead", "non-lead", "", "unknown")), "tap card", pick(("domestic", "")),
            pick(("single family", "school", "")), str(year), "",
        )  # fmt: skip


def write(path: Path, number: int, seed: int = 1) -> Path:
    """Write the file and return its path."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(HEADER)
        writer.writerows(rows(number, seed))
    return path


def polygons() -> list:
    """Return 200 polygons of 133 corners over the invented streets."""
    import shapely

    height, width = 2500 * STEP * 2 / 20, 450 * STEP / 10
    found = []
    for at in range(200):
        south = SOUTH + at // 10 * height + height / 2
        west = WEST + at % 10 * width + width / 2
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
