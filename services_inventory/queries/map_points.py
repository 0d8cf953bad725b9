"""What the record's map draws: single lines where few are in view, else counts by square.

Places and categories of all placed lines are kept as arrays from one question to the next, and
brought up to date by the few lines that changed (`kept_counts` says how). A square of the map is
counted from them in a few milliseconds, however many lines there are; what is drawn is bounded.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.core.cache import cache

from ..domain.categories import Category
from ..models import ServiceLine
from .kept_counts import KEPT_S, Mark, facts_mark

if TYPE_CHECKING:
    import numpy as np

MOST_SINGLE = 800  # lines drawn one by one; more are counted by square
MOST_SQUARES = 4_000
SQUARE_PX = 32
_TILE_PX = 256
_KEPT_LISTS = 4  # filtered lists kept beside the whole record, each process for itself
_CODES = tuple(category.value for category in Category)
_CHUNK = 50_000


@dataclass(frozen=True)
class Places:
    """Lines with a position: ids in rising order, place on the map (0 to 1), category's number."""

    ids: np.ndarray
    x: np.ndarray
    y: np.ndarray
    category: np.ndarray


def map_answer(chosen, box: tuple[float, float, float, float], zoom: float) -> dict:
    """Return what a map draws of the lines that a `filters.Chosen` keeps, in a box of degrees.

    Returns
    -------
    dict : `total` in view; GeoJSON `features` where few are, else `squares` as rows of (column,
        row, lines by category in the order of `categories`), each 1 / 2**`level` of the map wide
    """
    import numpy as np

    found = _chosen_places(chosen)
    west, south, east, north = box
    edges_x, edges_y = _mercator(np.array([west, east]), np.array([north, south]))
    (left, right), (top, bottom) = edges_x.tolist(), edges_y.tolist()
    inside = np.flatnonzero(
        (found.x >= left) & (found.x <= right) & (found.y >= top) & (found.y <= bottom)
    )
    told = {"total": len(inside), "categories": list(_CODES)}
    if len(inside) <= MOST_SINGLE:
        return {**told, "type": "FeatureCollection", "features": _features(found.ids[inside])}
    level = int(np.clip(round(zoom), 0, 22)) + (_TILE_PX // SQUARE_PX).bit_length() - 1
    while (right - left) * (bottom - top) * 4**level > MOST_SQUARES:
        level -= 1
    return {**told, "level": level, "squares": _squares(found, inside, level)}


def _squares(found: Places, inside, level: int) -> list[list[int]]:
    import numpy as np

    side = 2**level
    column = (found.x[inside] * side).astype(np.int64)
    row = (found.y[inside] * side).astype(np.int64)
    squares, which = np.unique(column * side + row, return_inverse=True)
    kinds = len(_CODES)
    counted = np.bincount(which * kinds + found.category[inside], minlength=len(squares) * kinds)
    columns = [squares // side, squares % side, *counted.reshape(-1, kinds).T]
    return np.column_stack(columns).tolist()


def _features(ids) -> list[dict]:
    rows = ServiceLine.objects.filter(pk__in=ids.tolist()).values_list(
        "id", "location_id", "category", "premise__address", "premise__longitude",
        "premise__latitude", "premise__street_key", "premise__house_number",
    )  # fmt: skip
    return [
        {
            "type": "Feature",
            "id": row[0],
            "properties": {
                "location_id": row[1],
                "category": row[2],
                "address": row[3],
                "street": row[6],
                "number": row[7],
            },
            "geometry": {"type": "Point", "coordinates": [round(row[4], 6), round(row[5], 6)]},
        }
        for row in rows
    ]


def _chosen_places(chosen) -> Places:
    """The places that the filters keep, kept under one of a few keys for the next look."""
    import numpy as np

    mark = facts_mark()
    every = _every_place(mark)
    if not chosen.keys:
        return every
    address = chosen.address()
    key = f"map-places-{zlib.crc32(address.encode()) % _KEPT_LISTS}"
    kept = cache.get(key)
    if kept is not None and kept[0] == (mark, address):
        return kept[1]
    rows = ServiceLine.objects.filter(chosen.few()).order_by().values_list("id", flat=True)
    ids = np.fromiter(rows.iterator(_CHUNK), dtype=np.int64)
    found = _some(every, np.isin(every.ids, ids))
    cache.set(key, ((mark, address), found), KEPT_S)
    return found


def _some(places: Places, which) -> Places:
    return Places(places.ids[which], places.x[which], places.y[which], places.category[which])


def _every_place(mark: Mark) -> Places:
    kept = cache.get("map-places")
    if kept is not None and kept[0] == mark:
        return kept[1]
    found = _brought_up_to(mark, *kept) if kept is not None else None
    if found is None:
        found = _read(ServiceLine.objects.all())
    cache.set("map-places", (mark, found), KEPT_S)
    return found


def _brought_up_to(mark: Mark, then: Mark, places: Places) -> Places | None:
    """The places with the changed lines read again; None where these can't be told."""
    import numpy as np

    lines = mark.lines_changed_since(then)
    if lines is None:
        return None
    changed = sorted(lines - {None})
    fresh = _read(ServiceLine.objects.filter(id__in=changed))
    rest = _some(places, ~np.isin(places.ids, changed))
    ids = np.concatenate([rest.ids, fresh.ids])
    pairs = ((rest.x, fresh.x), (rest.y, fresh.y), (rest.category, fresh.category))
    return _some(Places(ids, *map(np.concatenate, pairs)), np.argsort(ids))


def _read(lines) -> Places:
    import numpy as np

    rows = lines.filter(
        category__isnull=False, premise__latitude__isnull=False, premise__longitude__isnull=False
    ).order_by("id")
    numbers = {code: number for number, code in enumerate(_CODES)}
    columns = ("id", "premise__longitude", "premise__latitude", "category")
    kept = [("id", np.int64), ("lon", float), ("lat", float), ("category", np.int8)]
    found = np.fromiter(
        (
            (pk, lon, lat, numbers[category])
            for pk, lon, lat, category in rows.values_list(*columns).iterator(_CHUNK)
        ),
        dtype=kept,
    )
    x, y = _mercator(found["lon"], found["lat"])
    return Places(found["id"].copy(), x, y, found["category"].copy())


def _mercator(longitudes, latitudes):
    """The place on a square map of the earth, 0 to 1 from the north-west (spherical Mercator)."""
    import numpy as np

    steep = np.sin(np.radians(np.clip(latitudes, -85.05, 85.05)))
    y = 0.5 - np.arctanh(steep) / (2 * np.pi)
    return longitudes / 360 + 0.5, y
