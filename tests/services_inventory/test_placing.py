"""Points in polygons: equal to what GeoPandas finds, and each border point in exactly one."""

import geopandas
import numpy
import shapely

from services_inventory.placing import assign


def squares(across: int) -> list:
    """Return unit squares side by side, `across` by `across`, from (0, 0)."""
    return [shapely.box(x, y, x + 1, y + 1) for y in range(across) for x in range(across)]


def test_the_same_as_a_spatial_join_inside_and_none_outside():
    chance = numpy.random.default_rng(7)
    polygons = [
        shapely.Point(x, y).buffer(r)
        for x, y, r in chance.uniform((0, 0, 0.1), (10, 10, 0.4), (80, 3))
    ]
    polygons = [p for n, p in enumerate(polygons) if not any(p.intersects(q) for q in polygons[:n])]
    lon, lat = chance.uniform(-1, 11, (2, 20_000))
    points = geopandas.GeoDataFrame(geometry=geopandas.points_from_xy(lon, lat))
    joined = points.sjoin(geopandas.GeoDataFrame(geometry=polygons), how="left", predicate="within")
    expected = joined["index_right"].fillna(-1).astype(int).to_numpy()
    assert (expected >= 0).sum() > 1000
    assert (assign(lat, lon, polygons) == expected).all()


def test_a_point_on_a_border_goes_to_the_first_of_the_polygons_that_meet_there():
    lon, lat = [1.0, 1.0, 0.5, 2.0], [0.5, 1.0, 1.0, 2.0]
    assert assign(lat, lon, squares(2)).tolist() == [0, 0, 0, 3]
    assert assign(lat, lon, squares(2)[::-1]).tolist() == [2, 0, 1, 0]


def test_points_without_a_position_and_polygons_without_a_shape_are_passed_over():
    found = assign(
        [None, 0.5, float("nan")], [0.5, 0.5, 0.5], [None, shapely.Polygon(), *squares(1)]
    )
    assert found.tolist() == [-1, 2, -1]
    assert assign([], [], squares(2)).tolist() == []
    assert assign([0.5], [0.5], []).tolist() == [-1]
