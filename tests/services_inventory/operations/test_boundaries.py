"""Boundaries come in any CRS; each premise gets one neighborhood; nothing is half applied."""

import json
import zipfile

import pytest

from services_inventory.models import Batch, Neighborhood, Premise
from services_inventory.operations.batches import batch_open, batch_run
from services_inventory.queries.counts import unplaced_lines
from tests.services_inventory.factories import MORNING, bare_line, line_of

pytestmark = pytest.mark.django_db


def square(west, south, name="Ropewalk", side=0.1):
    ring = [
        [west, south],
        [west + side, south],
        [west + side, south + side],
        [west, south + side],
        [west, south],
    ]
    return {
        "type": "Feature",
        "properties": {"name": name},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }


def geojson(tmp_path, *features, name="areas.geojson"):
    path = tmp_path / name
    path.write_text(json.dumps({"type": "FeatureCollection", "features": list(features)}))
    return path


def take(path, **parameters):
    batch = batch_open(kind="BOUNDARIES", by="m", at=MORNING, file=path, parameters=parameters)
    return batch_run(batch=batch)


def test_premises_get_their_neighborhood_and_those_outside_are_listed(tmp_path):
    inside, outside = line_of("COPPER", "COPPER"), line_of("LEAD", "COPPER")
    Premise.objects.filter(pk=inside.premise_id).update(latitude=41.55, longitude=-100.25)
    Premise.objects.filter(pk=outside.premise_id).update(latitude=45.0, longitude=-100.25)
    without = line_of("COPPER", "COPPER")
    Premise.objects.filter(pk=without.premise_id).update(latitude=None, longitude=None)
    batch = take(geojson(tmp_path, square(-100.3, 41.5)))
    assert batch.state == Batch.State.APPLIED, batch.message
    assert batch.counts == {
        "neighborhoods": 1, "new": 1, "inside": 1, "outside": 1, "no_position": 1,
    }  # fmt: skip
    inside.refresh_from_db()
    assert inside.neighborhood.name == inside.premise.neighborhood.name == "Ropewalk"
    assert [line.pk for line in unplaced_lines()] == [outside.pk, without.pk]


def test_a_geopackage_in_utm_and_a_zipped_shapefile_give_the_same_places(tmp_path):
    import geopandas

    line = bare_line()
    Premise.objects.filter(pk=line.premise_id).update(latitude=41.55, longitude=-100.25)
    frame = geopandas.read_file(geojson(tmp_path, square(-100.3, 41.5)))
    frame.to_crs("EPSG:32614").to_file(tmp_path / "areas.gpkg")
    batch = take(tmp_path / "areas.gpkg")
    assert batch.counts["inside"] == 1
    assert "EPSG:32614" in batch.result["notes"][0]
    frame.to_crs("EPSG:26914").to_file(tmp_path / "areas.shp")
    with zipfile.ZipFile(tmp_path / "areas.zip", "w") as archive:
        for part in tmp_path.glob("areas.s*"):
            archive.write(part, part.name)
        for part in ("areas.dbf", "areas.prj", "areas.cpg"):
            archive.write(tmp_path / part, part)
    batch = take(tmp_path / "areas.zip")
    assert (batch.state, batch.counts["inside"], batch.counts["new"]) == ("APPLIED", 1, 0)
    with zipfile.ZipFile(tmp_path / "noprj.zip", "w") as archive:
        for part in ("areas.shp", "areas.shx", "areas.dbf"):
            archive.write(tmp_path / part, part)
    batch = take(tmp_path / "noprj.zip")
    assert batch.state == Batch.State.REFUSED
    assert ".prj file is missing" in batch.message


def test_a_polygon_that_crosses_itself_is_refused_with_its_name_and_place(tmp_path):
    bow = square(-100.3, 41.5, "Tannery Hill")
    ring = bow["geometry"]["coordinates"][0]
    ring[1], ring[2] = ring[2], ring[1]
    batch = take(geojson(tmp_path, square(-101, 41.5), bow))
    assert batch.state == Batch.State.REFUSED
    assert "Feature 2 ('Tannery Hill')" in batch.message
    assert "Self-intersection" in batch.message
    assert Neighborhood.objects.count() == 0


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda f: f["properties"].update(name=None), "has no name"),
        (lambda f: f["geometry"].update(type="Point", coordinates=[-100, 41]), "not an area"),
        (lambda f: f.update(geometry=None), "no geometry"),
    ],
)
def test_a_feature_that_cannot_be_a_neighborhood_is_named(tmp_path, change, sentence):
    spoilt = square(-100.3, 41.5, "B")
    change(spoilt)
    batch = take(geojson(tmp_path, square(-101, 41.5, "A"), spoilt))
    assert batch.state == Batch.State.REFUSED
    assert sentence in batch.message


def test_without_a_name_field_the_fields_are_listed_to_choose_from(tmp_path):
    one, two = square(-100.3, 41.5), square(-101, 41.5)
    for number, feature in enumerate((one, two)):
        feature["properties"] = {"ward": f"w{number}", "code": f"c{number}"}
    path = geojson(tmp_path, one, two)
    assert "ward, code" in take(path).message
    assert take(path, name_field="ward").counts["new"] == 2


def test_each_border_point_belongs_to_one_neighborhood_only(tmp_path):
    line = bare_line()
    Premise.objects.filter(pk=line.premise_id).update(latitude=41.55, longitude=-100.2)
    batch = take(geojson(tmp_path, square(-100.3, 41.5, "A"), square(-100.2, 41.5, "B")))
    assert batch.counts["inside"] == 1
    line.refresh_from_db()
    assert line.neighborhood.name == "A"
