"""The inventory as files: CSV sent while it is read, GeoPackage written in pieces.

Both give the words that the intake reads back, so that a list can be corrected and taken in
again. Memory stays flat whatever the number of lines.
"""

import tempfile
from collections.abc import Iterator, Sequence
from operator import itemgetter
from pathlib import Path

from django.core.exceptions import EmptyResultSet
from django.db.models import CharField, IntegerField, Q, QuerySet
from django.db.models.functions import Cast

from .. import bulk
from ..domain.columns import OF_PREMISE, ValueKind
from ..domain.formulas import as_csv, without_formula
from ..models import Decision, ServiceLine
from ..models.lines import CATEGORIES, CONNECTORS, MATERIALS, LineUse
from ..models.places import PLUMBINGS, TREATMENTS, PremiseKind

CHUNK = 500  # so few that they are still at hand in the processor when they are written
INCOMPLETE = "This file is incomplete: the program met an error while writing it."
_MATERIALS, _CONNECTORS = dict(MATERIALS), dict(CONNECTORS)
_USES = dict(LineUse.choices)
_WORDS = {
    ValueKind.PREMISE_KIND: dict(PremiseKind.choices),
    ValueKind.PLUMBING: {"": "", **dict(PLUMBINGS)},
    ValueKind.TREATMENT: {"": "", **dict(TREATMENTS)},
}
# What intake files may tell of a place in free text: heading and path from a line.
TEXTS = tuple(
    (field.headings[0], f"premise__{field.premise}")
    for field in OF_PREMISE
    if field.kind is ValueKind.TEXT
)

# heading, field, words for its codes (None: as it is; FREE: free text)
FREE = object()
COLUMNS = (
    ("location id", "location_id", FREE),
    ("address", "premise__address", FREE),
    ("unit", "premise__unit", FREE),
    *((heading, path, FREE) for heading, path in TEXTS),
    ("latitude", "premise__latitude", None),
    ("longitude", "premise__longitude", None),
    ("neighborhood", "neighborhood__name", FREE),
    *(
        (field.headings[0], f"premise__{field.premise}", _WORDS.get(field.kind))
        for field in OF_PREMISE
        if field.kind is not ValueKind.TEXT
    ),
    ("use", "use", _USES),
    ("system side material", "system_material", _MATERIALS),
    ("customer side material", "customer_material", _MATERIALS),
    ("connector", "connector", _CONNECTORS),
    ("year installed", "installed_year", None),
    ("category", "category", dict(CATEGORIES)),
    ("category since", "category_since", None),
    ("validation", "validation", {}),
    ("in conflict", "in_conflict", {True: "yes", False: ""}),
)
WHY = ("reason", "citation")
HEADINGS = (*(heading for heading, _, _ in COLUMNS), *WHY)


def _kind_of(column: tuple) -> int:
    said = column[2]
    return 0 if said is FREE else 2 if isinstance(said, dict) else 1


# As they are read: free text, what stays as it is, codes; then the decision behind the line.
_READ = sorted(COLUMNS, key=_kind_of)
_FREE = sum(said is FREE for _, _, said in COLUMNS)
_PLAIN = sum(not isinstance(said, dict) for _, _, said in COLUMNS)
# As the database has them: the driver would make an object of every single one.
_PLAINLY = {
    "category_since": Cast("category_since", CharField()),
    "in_conflict": Cast("in_conflict", IntegerField()),
}
_AS_READ = (*(heading for heading, _, _ in _READ), *WHY)
_in_order = itemgetter(*map(_AS_READ.index, HEADINGS))


def lines_to_download(condition: Q) -> QuerySet:
    """Return the kept lines as tuples in the order that `worded` reads."""
    return (
        ServiceLine.objects.filter(condition, category__isnull=False)
        .order_by("id")
        .values_list(*(_PLAINLY.get(field, field) for _, field, _ in _READ), "decision_id")
    )


class _Words(dict):
    """The words for a row's codes, put together once for all rows with the same ones."""

    def __init__(self):
        rows = Decision.objects.values_list("id", "reason", "citation")
        self.why = {pk: (reason, citation) for pk, reason, citation in rows}

    def __missing__(self, codes: tuple) -> tuple[str, ...]:
        said = [words for _, _, words in _READ[_PLAIN:]]
        found = [words.get(code, code) for words, code in zip(said, codes, strict=False)]
        self[codes] = (*found, *self.why.get(codes[-1], ("", "")))
        return self[codes]


def worded(rows: QuerySet, disarmed: bool = False) -> Iterator[list[tuple]]:
    """Yield the cells of many lines at a time, in words and in the order of `HEADINGS`.

    Disarmed, they hold no text that a spreadsheet would run.
    """
    words = _Words()
    for piece in read_plainly(rows):
        found = map(_disarmed, piece) if disarmed else piece
        yield [_in_order(row[:_PLAIN] + words[row[_PLAIN:]]) for row in found]


def read_plainly(rows: QuerySet) -> Iterator[list[tuple]]:
    """Yield the rows as the driver gives them: a million need no conversion of every cell.

    Nothing else may be asked of the database meanwhile.
    """
    try:
        statement, parameters = rows.query.sql_with_params()
    except EmptyResultSet:
        return
    yield from bulk.stream_alone(statement, parameters, CHUNK)


def _disarmed(row: tuple) -> tuple:
    """Return the row with an apostrophe before every free text that a spreadsheet would run."""
    free = row[:_FREE]
    if "".join([text[:1] for text in free if text]).isalnum():
        return row
    return (*(text and without_formula(text) for text in free), *row[_FREE:])


def csv_rows(rows: QuerySet) -> Iterator[str]:
    """Yield the CSV file of lines in pieces; one that fails midway says so in its last line."""
    return whole_csv(HEADINGS, worded(rows, disarmed=True))


def whole_csv(headings: Sequence[str], pieces: Iterator[list[tuple]]) -> Iterator[str]:
    """Yield a CSV file in pieces; one that fails midway says so in its last line."""
    yield "\ufeff" + as_csv([headings])
    try:
        yield from map(as_csv, pieces)
    except Exception:
        yield as_csv([[INCOMPLETE]])
        raise


def geopackage(rows: QuerySet):
    """Return an open temporary GeoPackage of points (EPSG:4326), gone when it is closed.

    A line without a position has no geometry, but is in the table.
    """
    import pyarrow
    import pyogrio

    batches = (_batch(piece) for piece in worded(rows))
    with tempfile.TemporaryDirectory(prefix="inventory-") as folder:
        path = Path(folder) / "inventory.gpkg"
        pyogrio.write_arrow(
            pyarrow.RecordBatchReader.from_batches(_schema(), batches),
            path,
            layer="service_lines",
            driver="GPKG",
            geometry_name="geom",
            geometry_type="Point",
            crs="EPSG:4326",
        )
        return path.open("rb")  # readable until it is closed, though its folder goes


def _schema():
    import pyarrow

    kinds = dict.fromkeys(HEADINGS, pyarrow.string())
    kinds |= {"latitude": pyarrow.float64(), "longitude": pyarrow.float64()}
    kinds |= {field.headings[0]: pyarrow.int16() for field in OF_PREMISE if field.number}
    kinds |= {"year installed": pyarrow.int16()}
    kinds |= {"category since": pyarrow.date32()}
    return pyarrow.schema([*kinds.items(), ("geom", pyarrow.binary())])


def _batch(rows: list[tuple]):
    """Return rows as one piece of the table, with their points."""
    import pyarrow

    columns = dict(zip(HEADINGS, zip(*rows, strict=True), strict=True))
    columns["category since"] = pyarrow.array(columns["category since"]).cast(pyarrow.date32())
    columns["geom"] = _points(columns["longitude"], columns["latitude"])
    return pyarrow.record_batch(columns, schema=_schema())


def _points(longitudes: Sequence, latitudes: Sequence) -> list[bytes | None]:
    import numpy as np
    import shapely

    x, y = np.array(longitudes, dtype=float), np.array(latitudes, dtype=float)
    points = shapely.to_wkb(shapely.points(x, y))
    points[np.isnan(x) | np.isnan(y)] = None
    return list(points)
