"""The line list as a GeoPackage: points in EPSG:4326, and beside them the lines without a place.

Rows are written in chunks, so memory does not grow with the list. A line without coordinates
stands in a layer of attributes alone, so that the two layers add up to the line list.
"""

from collections.abc import Iterable
from pathlib import Path

from program.submissions.cell_text import Notes, clean
from program.submissions.digest import WrittenFile, put_in_place, written
from program.submissions.facts import SubmissionFacts
from program.submissions.layouts import STANDARD, Layout
from program.submissions.rows import LineRow
from program.submissions.tables import LINES, Column
from services_inventory.domain.reporting import Report

POINTS = "service_lines"
WITHOUT_LOCATION = "service_lines_without_location"
CRS = "EPSG:4326"
CHUNK = 10_000


def write_geopackage(
    path: Path,
    facts: SubmissionFacts,
    lines: Iterable[LineRow],
    *,
    layout: Layout = STANDARD,
    report: Report | None = None,
    chunk: int = CHUNK,
) -> WrittenFile:
    """Write both layers; `rows` of the result counts each.

    Raises:
        ValueError: a latitude or longitude is not on the globe; names the line.

    """
    with put_in_place(path) as unfinished:
        columns = layout.full_columns("lines")
        writer = _Writer(unfinished, facts, columns, report, chunk)
        for line in lines:
            writer.add(line)
        writer.finish()
    return written(path, writer.rows, writer.notes.lines())


class _Writer:
    """Two layers in the making, each with its own buffer."""

    def __init__(
        self, path: Path, facts: SubmissionFacts, columns: tuple[Column, ...],
        report: Report | None, chunk: int,
    ):  # fmt: skip
        fields = LINES.row._fields
        self.columns = [(column, fields.index(column.key)) for column in columns]
        self.path, self.report, self.chunk, self.total = path, report, chunk, facts.totals["A5"]
        self.as_of, self.notes = facts.as_of, Notes()
        self.buffers: dict[str, list[LineRow]] = {POINTS: [], WITHOUT_LOCATION: []}
        self.rows = dict.fromkeys(self.buffers, 0)

    def add(self, line: LineRow) -> None:
        """Take one line, writing a chunk when it is full."""
        layer = POINTS if _has_location(line) else WITHOUT_LOCATION
        self.buffers[layer].append(line)
        if len(self.buffers[layer]) >= self.chunk:
            self.flush(layer)

    def finish(self) -> None:
        """Write what is left; both layers exist even when one is empty."""
        for layer in self.buffers:
            if self.buffers[layer] or not self.rows[layer]:
                self.flush(layer)

    def flush(self, layer: str) -> None:
        """Write one chunk to its layer."""
        import pyogrio  # slow to import, and only this export needs it

        rows, started = self.buffers[layer], self.rows[layer] > 0
        points = layer == POINTS
        # The format stores the time of writing; the submission's own day keeps the bytes the same.
        stamp = f"{self.as_of.isoformat()}T00:00:00.000Z"
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": stamp})
        try:
            pyogrio.write_arrow(
                self._table(rows, points),
                self.path,
                layer=layer,
                driver="GPKG",
                append=started or self.path.exists(),
                geometry_name="geometry" if points else None,
                geometry_type="Point" if points else None,
                crs=CRS if points else None,
            )
        finally:
            pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
        self.rows[layer] += len(rows)
        self.buffers[layer] = []
        if self.report:
            self.report(sum(self.rows.values()), self.total)

    def _table(self, rows: list[LineRow], points: bool):
        import pyarrow as pa

        kinds = {"text": pa.string(), "int": pa.int32(), "number": pa.float64()}
        kinds["date"] = pa.date32()
        arrays, names = [], []
        by_column = list(zip(*rows, strict=True)) or [()] * len(LINES.columns)
        for column, place in self.columns:
            values = by_column[place]
            if column.kind == "text":
                values = [self._text(value, column.heading) for value in values]
            arrays.append(pa.array(values, type=kinds[column.kind]))
            names.append(column.key)
        if points:
            arrays.append(pa.array(_points(rows), type=pa.binary()))
            names.append("geometry")
        return pa.table(arrays, names=names)

    def _text(self, value: str | None, heading: str) -> str | None:
        if not value:
            return None
        return value if value.isprintable() else clean(value, self.notes, f"GeoPackage {heading}")


def _has_location(line: LineRow) -> bool:
    if line.latitude is None or line.longitude is None:
        return False
    if not (-90 <= line.latitude <= 90 and -180 <= line.longitude <= 180):
        raise ValueError(
            f"Line {line.location_id} lies at latitude {line.latitude}, longitude "
            f"{line.longitude}, which is not on the globe: correct its location."
        )
    return True


def _points(rows: list[LineRow]):
    import shapely

    if not rows:
        return []
    places = [(line.longitude, line.latitude) for line in rows]
    return shapely.to_wkb(shapely.points(places)).tolist()
