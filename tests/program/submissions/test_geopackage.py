"""The GeoPackage, read by GDAL through pyogrio."""

import pyogrio
import pytest

from program.submissions.geopackage import POINTS, WITHOUT_LOCATION, write_geopackage

from .factories import facts, line, town


def test_two_layers_add_up_to_the_line_list(tmp_path):
    lines = town()[0]
    filed = write_geopackage(tmp_path / "a.gpkg", facts(lines), lines, chunk=25)
    points = pyogrio.read_info(filed.path, layer=POINTS)
    rest = pyogrio.read_info(filed.path, layer=WITHOUT_LOCATION)
    assert (points["features"], rest["features"]) == (59, 1)
    assert filed.rows == {POINTS: 59, WITHOUT_LOCATION: 1}
    assert points["crs"] == "EPSG:4326"
    assert points["geometry_type"] == "Point"
    assert rest["geometry_type"] is None
    assert list(points["fields"]) == list(lines[0]._fields)


def test_each_point_lies_where_the_line_does_and_dates_are_dates(tmp_path):
    lines = [line(1, address="=1+1 Élan 🚰"), line(2)]
    filed = write_geopackage(tmp_path / "a.gpkg", facts(lines), lines)
    frame = pyogrio.read_dataframe(filed.path, layer=POINTS)
    assert [(p.x, p.y) for p in frame.geometry] == [(row.longitude, row.latitude) for row in lines]
    assert frame.address[0] == "=1+1 Élan 🚰"
    assert str(frame.since[0])[:10] == "2029-05-04"
    assert frame.total_bounds.tolist() == [-80.0002, 40.0001, -80.0001, 40.0002]


def test_the_same_input_gives_the_same_bytes(tmp_path):
    lines = town()[0]
    hashes = {
        write_geopackage(tmp_path / name / "a.gpkg", facts(lines), lines, chunk=20).sha256
        for name in "ab"
    }
    assert len(hashes) == 1


def test_an_empty_inventory_has_both_layers(tmp_path):
    filed = write_geopackage(tmp_path / "a.gpkg", facts(), [])
    assert sorted(name for name, _ in pyogrio.list_layers(filed.path)) == [POINTS, WITHOUT_LOCATION]


def test_a_place_off_the_globe_is_a_sentence_and_leaves_nothing(tmp_path):
    with pytest.raises(ValueError, match="Line L00001 lies at latitude 140"):
        write_geopackage(tmp_path / "a.gpkg", facts(), [line(1, latitude=140.0)])
    assert list(tmp_path.iterdir()) == []
