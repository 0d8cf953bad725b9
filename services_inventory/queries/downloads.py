"""The inventory as files: CSV sent while it is read, GeoPackage written in pieces.

Both give the words that the intake reads back, so that a list can be corrected and taken in
again. Memory stays flat whatever the number of lines.
"""

import csv
import io
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path

from django.db.models import Q, QuerySet

from ..domain.formulas import without_formula
from ..models import Decision, ServiceLine
from ..models.lines import CATEGORIES, CONNECTORS, MATERIALS, LineUse
from ..models.places import PLUMBINGS, TREATMENTS, PremiseKind

CHUNK = 5_000
PIECE = 20_000
INCOMPLETE = "This file is incomplete: the program met an error while writing it."
_MATERIALS, _CONNECTORS = dict(MATERIALS), dict(CONNECTORS)
_USES, _KINDS = dict(LineUse.choices), dict(PremiseKind.choices)
_PLUMBING, _TREATMENT = {"": "", **dict(PLUMBINGS)}, {"": "", **dict(TREATMENTS)}

# heading, field, words for its codes (None: as it is; FREE: free text)
FREE = object()
COLUMNS = (
    ("location id", "location_id", FREE),
    ("address", "premise__address", FREE),
    ("unit", "premise__unit", FREE),
    ("city", "premise__city", FREE),
    ("postcode", "premise__postcode", FREE),
    ("latitude", "premise__latitude", None),
    ("longitude", "premise__longitude", None),
    ("neighbourhood", "neighbourhood__name", FREE),
    ("premise kind", "premise__kind", _KINDS),
    ("plumbing inside", "premise__plumbing", _PLUMBING),
    ("plumbing year", "premise__plumbing_year", None),
    ("treatment device", "premise__treatment", _TREATMENT),
    ("use", "use", _USES),
    ("system side material", "system_material", _MATERIALS),
    ("customer side material", "customer_material", _MATERIALS),
    ("connector", "connector", _CONNECTORS),
    ("year installed", "installed_year", None),
    ("category", "category", dict(CATEGORIES)),
    ("category since", "category_since", None),
    ("validation", "validation", None),
    ("in conflict", "in_conflict", {True: "yes", False: ""}),
)
_LATITUDE, _LONGITUDE = 5, 6


def lines_to_download(condition: Q) -> QuerySet:
    """Return the kept lines as tuples in the order of `COLUMNS`, and their decision's id."""
    return (
        ServiceLine.objects.filter(condition, category__isnull=False)
        .order_by("id")
        .values_list(*(field for _, field, _ in COLUMNS), "decision_id")
    )


def reasons() -> dict[int, tuple[str, str]]:
    """Return {decision id: (reason, citation)}."""
    rows = Decision.objects.values_list("id", "reason", "citation")
    return {pk: (reason, citation) for pk, reason, citation in rows}


def worded(rows: QuerySet) -> Iterator[list]:
    """Yield the cells of each line, in words, with the reason and citation of its category."""
    why = reasons()
    words = [(at, said) for at, (_, _, said) in enumerate(COLUMNS) if isinstance(said, dict)]
    for row in rows.iterator(chunk_size=CHUNK):
        cells = list(row[:-1])
        for at, said in words:
            cells[at] = said[cells[at]]
        yield [*cells, *why.get(row[-1], ("", ""))]


HEADINGS = (*(heading for heading, _, _ in COLUMNS), "reason", "citation")


def csv_rows(rows: QuerySet) -> Iterator[str]:
    """Yield the CSV file in pieces; one that fails midway says so in its last line."""
    yield "\ufeff" + _text([HEADINGS])
    try:
        lines = worded(rows)
        while piece := list(islice(lines, CHUNK)):
            _neutralise(piece)
            yield _text(piece)
    except Exception:
        yield _text([[INCOMPLETE]])
        raise


def _text(rows: Iterable[Sequence]) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


_FREE_CELLS = [at for at, (_, _, said) in enumerate(COLUMNS) if said is FREE]


def _neutralise(rows: list[list]) -> None:
    """Put an apostrophe before every free text that a spreadsheet would run."""
    for cells in rows:
        for at in _FREE_CELLS:
            text = cells[at]
            if text and not text[0].isalnum():
                cells[at] = without_formula(text)


def geopackage(rows: QuerySet):
    """Return an open temporary GeoPackage of points (EPSG:4326), gone when it is closed.

    A line without a position has no geometry, but is in the table.
    """
    folder = tempfile.TemporaryDirectory(prefix="inventory-")
    path = Path(folder.name) / "inventory.gpkg"
    lines, piece = worded(rows), None
    while piece is None or piece:
        piece_is_first = piece is None
        piece = list(islice(lines, PIECE))
        if piece or piece_is_first:
            _write_points(path, piece, append=not piece_is_first)
    opened = path.open("rb")
    folder.cleanup()  # the open file stays readable until it is closed
    return opened


def _write_points(path: Path, rows: list[list], append: bool) -> None:
    import numpy as np
    import pyogrio.raw
    import shapely

    columns = list(zip(*rows, strict=True)) if rows else [()] * len(HEADINGS)
    latitudes = np.array(columns[_LATITUDE], dtype=float)
    longitudes = np.array(columns[_LONGITUDE], dtype=float)
    points = shapely.to_wkb(shapely.points(longitudes, latitudes))
    points[np.isnan(latitudes) | np.isnan(longitudes)] = None
    data = [_array(heading, column) for heading, column in zip(HEADINGS, columns, strict=True)]
    pyogrio.raw.write(
        path,
        points,
        field_data=data,
        fields=list(HEADINGS),
        layer="service_lines",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:4326",
        append=append,
    )


def _array(heading: str, column: tuple):
    import numpy as np

    if heading in ("latitude", "longitude", "year installed"):
        return np.array(column, dtype=float)
    texts = [None if cell is None else str(cell) for cell in column]
    return np.array(texts, dtype=object)
