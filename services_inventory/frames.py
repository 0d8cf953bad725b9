"""The record of any day as a GeoDataFrame: for analysts, in a notebook or as GeoParquet.

    from services_inventory.frames import record_frame
    record_frame(date(2030, 12, 31)).groupby(["neighborhood", "category"]).size()

pandas and geopandas are loaded here when they are asked for: no page and no other command needs
them.
"""

from __future__ import annotations

from datetime import date, datetime
from itertools import chain
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, TYPE_CHECKING

from .queries.downloads_of_day import HEADINGS, lines_of_day

if TYPE_CHECKING:
    import geopandas

_REPEATED = ("city", "postcode", "neighborhood", "category", "reason", "citation")


def record_frame(day: date, known_at: datetime | None = None) -> geopandas.GeoDataFrame:
    """Return the lines that counted at the end of a day.

    Parameters
    ----------
    day : the day; category, since when and why are those of that day
    known_at : only what was recorded by this moment counts; everything, where None

    Returns
    -------
    A GeoDataFrame of one row a line, indexed by ``line id``, in order of entry; the columns of the
    download of that day, with ``category since`` as datetime64; points in EPSG:4326 (degrees),
    empty where a line has no position. Places are told as they are known today.
    """
    import geopandas
    import pandas

    headings = ("line id", *HEADINGS)
    rows = [*chain.from_iterable(lines_of_day(day, known_at))]
    table = pandas.DataFrame(rows, columns=headings).set_index("line id")
    table = table.astype(dict.fromkeys(_REPEATED, "category"))
    table = table.astype({"latitude": float, "longitude": float})
    table["category since"] = pandas.to_datetime(table["category since"])
    points = geopandas.points_from_xy(table["longitude"], table["latitude"])
    frame = geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
    frame.loc[table["latitude"].isna() | table["longitude"].isna(), "geometry"] = None
    return frame


def write_parquet(out: Path | IO[bytes], day: date, known_at: datetime | None = None) -> int:
    """Write the lines of a day as GeoParquet and return how many there are."""
    frame = record_frame(day, known_at)
    frame.to_parquet(out, compression="zstd")
    return len(frame)


def parquet_of_day(day: date, known_at: datetime | None = None) -> IO[bytes]:
    """Return an open temporary GeoParquet file, gone when it is closed."""
    file = TemporaryFile(prefix="inventory-")
    write_parquet(file, day, known_at)
    file.seek(0)
    return file
