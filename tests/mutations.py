"""Files of each kind that is read, mutated at random: each is read or refused in a sentence.

Constructed; the same seed gives the same files. What counts as a sentence is an exception of the
program's own that ends in a full stop.
"""

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from io import BytesIO
from pathlib import Path

from replacements.completion.archive import DropRefused
from replacements.completion.photos import PhotoRefused, photo_clean
from replacements.completion.reading import read_form
from replacements.domain.pull_logs import PullLogError, read
from services_inventory.apart import DAMAGED, ENDLESS, TOO_MUCH, apart
from services_inventory.intake.boundaries import read_boundaries
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import BadColumnMap, guess
from services_inventory.intake.reading import UnreadableFile, open_table
from tests.replacements.logs_made import make_clean_log
from tests.services_inventory.intake import files
from tests.services_inventory.intake.checks import check_all

REFUSALS = (UnreadableFile, BadColumnMap, DropRefused, PhotoRefused, PullLogError)
ENDED = {DAMAGED: "reader broke", ENDLESS: "no end", TOO_MUCH[:30]: "memory or abort"}
MOST_CHANGES = 4


def kinds(folder: Path) -> dict[str, tuple[bytes, Callable]]:
    """Return a good file of each kind, and what reads it, given content and a path to use."""
    folder.mkdir(exist_ok=True)
    rows = [[f"L-{n}", f"{n} Mill St", "41.9", "-91.6", "lead", "copper", "1934", "tap card"]
            for n in range(1, 80)]  # fmt: skip
    points = [(-91.6, 41.9 + n / 1e4) for n in range(len(rows))]
    layer = partial(files.write_layer, rows=rows, points=points)
    made = {
        "CSV": files.write_csv(folder / "a.csv", rows),
        "XLSX": files.write_xlsx(folder / "a.xlsx", rows),
        "GeoJSON": layer(folder / "a.json", "GeoJSON"),
        "GeoPackage": layer(folder / "a.gpkg", "GPKG"),
        "Shapefile": files.write_zipped_shapefile(folder / "a.zip"),
        "Parquet": layer(folder / "a.parquet", "Parquet"),
    }
    found = {name: (path.read_bytes(), _as_table) for name, path in made.items()}
    found["boundaries"] = _boundaries(folder / "b.gpkg"), _as_boundaries
    form = files.write_xlsx(folder / "f.xlsx", [["W-1", "done"]], ["Work order", "Outcome"])
    found["contractor's form"] = form.read_bytes(), lambda content, _: read_form(content, "f.xlsx")
    found["pull log"] = make_clean_log().encode(), _as_log
    for name in ("JPEG", "PNG"):
        found[f"photo, {name}"] = _picture(name), lambda content, _: photo_clean(content, "a.jpg")
    return found


def _boundaries(path: Path) -> bytes:
    import geopandas
    from shapely import box

    frame = geopandas.GeoDataFrame(
        {"name": ["North", "South"]},
        geometry=[box(-91.7, 41.9, -91.6, 42), box(-91.7, 41.8, -91.6, 41.9)],
        crs="EPSG:4326",
    )
    frame.to_file(path, driver="GPKG")
    return path.read_bytes()


def _picture(kind: str) -> bytes:
    from PIL import Image

    out = BytesIO()
    Image.effect_noise((320, 240), 60).convert("RGB").save(out, kind)
    return out.getvalue()


def _as_table(content: bytes, path: Path) -> None:
    path.write_bytes(content)
    table = open_table(path)
    sample = [cells for _, cells in table.rows()]
    checker = RowChecker(guess(table.header, sample[:200]), table.header, as_of=date(2028, 1, 1))
    for _ in check_all(checker, table.rows()):
        pass


def _as_boundaries(content: bytes, path: Path) -> None:
    path.write_bytes(content)
    read_boundaries(path)


def _as_log(content: bytes, _) -> None:
    apart(PullLogError, partial(read, BytesIO(content)))


def mutated(good: bytes, seed: str) -> bytes:
    """Return a file with a few changes: bytes turned, cut out, doubled, moved, or the end gone."""
    draw, content = random.Random(seed), bytearray(good)
    for _ in range(draw.randint(1, MOST_CHANGES)):
        at = draw.randrange(max(1, len(content)))
        piece = content[at : at + draw.choice((1, 2, 4, 64, 1024))]
        change = draw.randrange(6)
        if change == 0 and content:
            content[at % len(content)] ^= 1 << draw.randrange(8)
        elif change == 1:
            content[at : at + len(piece)] = draw.randbytes(len(piece))
        elif change == 2:
            content[at : at + len(piece)] = b"\xff" * len(piece)
        elif change == 3:
            del content[at : at + len(piece)]
        elif change == 4:
            content[at:at] = piece * draw.choice((1, 3, 40))
        elif draw.random() < 0.3:
            del content[at:]
    return bytes(content)


def tried(name: str, good: bytes, reads: Callable, count: int, folder: Path) -> Counter:
    """Read so many mutated files of a kind; return what became of them."""
    found = Counter(tried=count)
    for number in range(count):
        begun = time.monotonic()
        try:
            reads(mutated(good, f"{name} {number}"), folder / "upload")
            found["read"] += 1
        except REFUSALS as refusal:
            found["refused"] += 1
            said = str(refusal)
            found["no sentence"] += not said.rstrip().endswith((".", ")", "”", "'"))
            found.update(word for start, word in ENDED.items() if start in said)
        except Exception as error:
            found["traceback"] += 1
            print(f"{name} {number}: {error!r}")
        found["longest ms"] = max(found["longest ms"], int(1000 * (time.monotonic() - begun)))
    return found


def rows_of(count: int, folder: Path, only: str = "") -> Iterator[tuple[str, Counter]]:
    """Yield each kind with what became of its mutated files."""
    for name, (good, reads) in kinds(folder).items():
        if only in name:
            yield name, tried(name, good, reads, count, folder)
