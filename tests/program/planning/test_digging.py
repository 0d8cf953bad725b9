"""Lines near planned works: distances against plain arithmetic, and files of every kind."""

import json
import math
import random
from datetime import date

import geopandas
import numpy as np
import pytest
import shapely

from program.planning.digging import Timing, near_works
from program.planning.works_reading import _works
from services_inventory.intake.reading.table import UnreadableFile

LAT, LON = 41.5, -100.3


def _feet(lon, lat, start, end):
    """Distance of a point from a segment, in feet on a plane around it."""
    x_scale, y_scale = 364_813 * math.cos(math.radians(LAT)), 364_813
    px, py = (lon - LON) * x_scale, (lat - LAT) * y_scale
    (ax, ay), (bx, by) = (((p[0] - LON) * x_scale, (p[1] - LAT) * y_scale) for p in (start, end))
    along = (px - ax) * (bx - ax) + (py - ay) * (by - ay)
    length = (bx - ax) ** 2 + (by - ay) ** 2
    part = min(1.0, max(0.0, along / length)) if length else 0.0
    return math.hypot(px - ax - part * (bx - ax), py - ay - part * (by - ay))


@pytest.mark.parametrize("seed", range(5))
def test_lines_within_so_many_feet_are_those_that_arithmetic_finds(seed):
    draw = random.Random(seed)

    def spot():
        return LON + draw.uniform(-0.01, 0.01), LAT + draw.uniform(-0.01, 0.01)

    points = [spot() for _ in range(200)]
    ends = [(spot(), spot()) for _ in range(4)]
    works = [shapely.LineString(pair).wkt for pair in ends]
    lons, lats = np.array([p[0] for p in points]), np.array([p[1] for p in points])
    for found, (start, end) in zip(near_works(lons, lats, works, 300), ends, strict=True):
        away = [_feet(lon, lat, start, end) for lon, lat in points]
        assert {k for k, feet in enumerate(away) if feet < 297} <= set(found.lines)
        assert set(found.lines) <= {k for k, feet in enumerate(away) if feet < 303}


def test_a_line_in_the_year_of_the_work_is_together_a_later_one_after():
    timing = Timing()
    for year in (3, 4, 5, 6, None):
        timing.count(year, (4, 5), f"A{year}")
    told = (timing.before, timing.together, timing.after, timing.unplanned)
    assert told == (1, 2, 1, 1) and timing.areas_after == {"A6"}
    assert near_works(np.array([]), np.array([]), ["POINT (0 0)"], 10)[0].lines == []


def _files(folder):
    shapes = [
        shapely.LineString([(LON, LAT), (LON + 0.01, LAT)]),
        shapely.Point(LON, LAT).buffer(0.001),
    ]
    frame = geopandas.GeoDataFrame(
        {"name": ["Brine St", "Quay"], "year": [2032, 2033]}, geometry=shapes, crs="EPSG:4326"
    )
    frame.to_crs("EPSG:32614").to_file(folder / "works.gpkg", driver="GPKG", engine="pyogrio")
    frame.to_file(folder / "works.geojson", driver="GeoJSON", engine="pyogrio")
    rows = [f'"{name}",{year},"{shape.wkt}"' for name, year, shape in
            zip(frame.name, frame.year, shapes, strict=True)]  # fmt: skip
    (folder / "works.csv").write_text("\n".join(["Name,Year,WKT", *rows]), encoding="utf-8")
    return [folder / f"works.{ext}" for ext in ("gpkg", "geojson", "csv")]


def test_works_are_read_alike_from_every_kind_of_file(tmp_path):
    for path in _files(tmp_path):
        found = _works(path)
        assert [(work.name, work.first, work.last) for work in found] == [
            ("Brine St", date(2032, 1, 1), date(2032, 12, 31)),
            ("Quay", date(2033, 1, 1), date(2033, 12, 31)),
        ], path.suffix
        assert shapely.from_wkt(found[0].wkt).distance(shapely.Point(LON + 0.005, LAT)) < 1e-5


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (["name,year", "A,2032"], "no column WKT"),
        (["name,year,wkt", "A,2032,LINE 1 2"], "is no WKT"),
        (["name,year,wkt", "A,,\"LINESTRING (-100 41, -100 42)\""], "has no year"),
        (["name,year,wkt", "A,99,\"LINESTRING (-100 41, -100 42)\""], "has no year"),
        (["name,start,end,wkt", "A,2032-06-01,2031-06-01,\"LINESTRING (-100 41, -100 42)\""],
         "before it starts"),
        (["name,year,wkt", "A,2032,\"LINESTRING (500000 4600000, 500100 4600000)\""],
         "outside the earth"),
        (["name,year,wkt", "A,2032,LINESTRING EMPTY"], "no line or area"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_is_told_by_row(tmp_path, rows, told):
    path = tmp_path / "works.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    with pytest.raises(UnreadableFile, match=told):
        _works(path)


def test_a_table_without_shapes_is_refused(tmp_path):
    path = tmp_path / "works.geojson"
    features = [{"type": "Feature", "properties": {"year": 2032}, "geometry": None}]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    with pytest.raises(UnreadableFile):
        _works(path)
