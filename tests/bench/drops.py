"""A contractor's drop: so many records, each with a pull log and five photos, taken in.

    python -m tests.bench.drops --records 500

The floor of processor time is what nobody can leave out: reading each photo, hashing and decoding
it. Photos are 4:3, as a phone sends them when it is told to send them smaller.
"""

import argparse
import os
import random
import tempfile
import time
import zipfile
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from tests.bench.processes import Spent
from tests.bench.rows import Measured, as_table, machine

SECONDS_500 = 26, 20  # for 500 records by the clock: must, aim
KINDS = ("old_pipe", "lead_removed", "new_at_main", "new_at_house", "restored")


def photo(number: int, side_px: int, ground) -> bytes:
    """Return a photo that no other is equal to, with place and time in it."""
    from PIL import Image

    draw = random.Random(number)
    picture = ground.rotate(draw.choice((0, 180)))
    spot = Image.new("RGB", (side_px // 8, side_px // 8), tuple(draw.choices(range(256), k=3)))
    picture.paste(spot, (draw.randrange(side_px // 2), draw.randrange(side_px // 2)))
    exif = Image.Exif()
    exif[0x8825] = {1: "N", 2: (41.0, 30.0, 0.0), 3: "W", 4: (100.0, 15.0, 0.0)}
    exif[0x8769] = {0x9003: "2028:04:10 09:15:00"}
    out = BytesIO()
    picture.save(out, "JPEG", quality=85, exif=exif)
    return out.getvalue()


def ground_of(side_px: int):
    """Return a picture with as much in it as a trench has."""
    from PIL import Image

    noise = Image.effect_noise((side_px // 4, side_px * 3 // 16), 90)
    return noise.resize((side_px, side_px * 3 // 4)).convert("RGB")


def pack(path: Path, orders: list, side_px: int) -> None:
    """Write the zip of a filled form, logs and photos."""
    from tests.replacements.completion.drops import filled, synthetic_log

    ground = ground_of(side_px)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as out:
        out.writestr("form.xlsx", filled(orders))
        for order in orders:
            out.writestr(f"{order.number}_pull.csv", synthetic_log(35.2, seed=order.pk))
            for place, kind in enumerate(KINDS):
                content = photo(order.pk * 5 + place, side_px, ground)
                out.writestr(f"{order.number}_{kind}.jpg", content)


def decoded(path: Path) -> float:
    """Return the processor seconds of reading, hashing and decoding every photo of a zip once."""
    from PIL import Image

    started = time.process_time()
    with zipfile.ZipFile(path) as held:
        for name in held.namelist():
            if name.endswith(".jpg"):
                content = held.read(name)
                sha256(content).digest()
                with Image.open(BytesIO(content)) as picture:
                    picture.load()
    return time.process_time() - started


def measure(folder: Path, records: int, side_px: int) -> list[Measured]:
    """Return how long the drop took, by the clock and in processor time."""
    from django.conf import settings
    from django.core.management import call_command

    from program.roles import sync_roles
    from tests.replacements.completion.drops import run
    from tests.replacements.factories import LATER, contractor, order, started

    call_command("migrate", verbosity=0)
    sync_roles()
    settings.NOW, settings.TODAY = "tests.replacements.completion.test_bundle.moment", ""
    company = contractor()
    orders = [started(order(company)) for _ in range(records)]
    path = folder / "drop.zip"
    pack(path, orders, side_px)
    began = Spent.now()
    with path.open("rb") as file:
        batch = run(company, file, at=LATER)
    took = began.until_now()
    assert batch.counts["taken"] == records, batch.counts
    size = path.stat().st_size / 1024**2
    name = f"{records} records, {records * len(KINDS)} photos of {side_px} px, {size:,.0f} MB"
    must, aim = (each * records / 500 for each in SECONDS_500)
    return [
        Measured(f"{name}: by the clock", took["seconds"], "s", None, must, aim),
        Measured(f"{name}: processor", took["cpu"], "s", decoded(path), 2, 1.5),
    ]


def main() -> None:
    """Measure in a folder of its own and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--records", type=int, default=500)
    parser.add_argument("--photo-px", type=int, default=1600)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        os.environ |= {"DATA_DIR": folder, "DATABASE_URL": "", "SECRET_KEY": "only-for-this-run"}
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
        import django

        django.setup()
        rows = measure(Path(folder), given.records, given.photo_px)
    print(f"{machine()}\n")
    print(as_table(rows))


if __name__ == "__main__":
    main()
