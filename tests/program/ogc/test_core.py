"""OGC API - Features, Part 1: Core (OGC 17-069r4): one test for each requirement it names.

The inventory behind it is constructed. The API definition is checked by OpenAPI's own rules as
schemathesis reads them, and every answer against GeoJSON (RFC 7946) read by shapely.
"""

import json
import re
from datetime import date

import pytest
import shapely

from program.models import Utility
from program.ogc import views
from services_inventory.models import Premise, ServiceLine
from tests.kept import kept
from tests.services_inventory.factories import line_of, neighborhood

pytestmark = pytest.mark.django_db

ITEMS = "/ogc/collections/service_lines/items"
CONF = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/"


@pytest.fixture(autouse=True)
@kept
def lines(db):
    Utility.objects.create(name="Quillwater Water", clock_stands_at=date(2028, 3, 10))
    made = []
    for number in range(7):
        line = line_of(
            "LEAD" if number < 3 else "COPPER",
            "COPPER",
            address=f"{number + 1} Mill St",
            in_neighborhood=neighborhood("Ropewalk" if number % 2 else "Fernside"),
        )
        Premise.objects.filter(pk=line.premise_id).update(longitude=-100 - number / 10)
        made.append(line)
    return made


def links(body) -> dict:
    return {link["rel"]: link for link in body["links"]}


def test_req_core_root_success(client):
    answer = client.get("/ogc/")
    assert answer.status_code == 200
    found = links(answer.json())
    assert {"service-desc", "conformance", "data"} <= set(found)
    for link in found.values():
        assert client.get(link["href"]).status_code == 200, link


def test_req_core_api_definition_success_and_req_oas30(client):
    answer = client.get(links(client.get("/ogc/").json())["service-desc"]["href"])
    assert answer.headers["Content-Type"] == "application/vnd.oai.openapi+json;version=3.0"
    import schemathesis

    schema = schemathesis.openapi.from_dict(answer.json())
    schema.validate()
    paths = set(answer.json()["paths"])
    assert {"/", "/conformance", "/collections", "/collections/service_lines/items"} <= paths


def test_req_core_conformance_success(client):
    conforms = client.get("/ogc/conformance").json()["conformsTo"]
    assert set(conforms) == {CONF + "core", CONF + "oas30", CONF + "geojson"}


def test_req_core_fc_md_links_and_items_links(client):
    body = client.get("/ogc/collections").json()
    assert "self" in links(body)
    (one,) = body["collections"]
    items = links(one)["items"]
    assert items["type"] == "application/geo+json" and items["href"].endswith(ITEMS)


def test_req_core_sfc_md_success_and_fc_md_extent(client, lines):
    body = client.get("/ogc/collections/service_lines").json()
    (whole,) = client.get("/ogc/collections").json()["collections"]
    assert body == whole
    west, south, east, north = body["extent"]["spatial"]["bbox"][0]
    shapes = shapely.points([(-100 - n / 10, 41.5) for n in range(7)])
    assert (west, south, east, north) == tuple(shapely.total_bounds(shapes))
    assert body["extent"]["temporal"]["interval"][0][1] is None
    assert client.get("/ogc/collections/pipes").status_code == 404


def test_req_core_fc_op_and_fc_response(client, lines):
    answer = client.get(ITEMS)
    body = answer.json()
    assert answer.headers["Content-Type"] == "application/geo+json"
    assert body["type"] == "FeatureCollection" and "self" in links(body)
    assert {f["id"] for f in body["features"]} == {line.pk for line in lines}
    for feature in body["features"]:
        assert shapely.from_geojson(json.dumps(feature["geometry"])).geom_type == "Point"


def test_req_core_fc_time_stamp_number_matched_number_returned(client):
    body = client.get(ITEMS, {"limit": 2}).json()
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", body["timeStamp"])
    assert (body["numberMatched"], body["numberReturned"]) == (7, 2)
    assert len(body["features"]) == 2


def test_very_many_are_not_counted(client, monkeypatch):
    """The standard lets a server leave the number out (Requirement 30, fc-numberMatched)."""
    monkeypatch.setattr(views, "MOST_COUNTED", 2)
    body = client.get(ITEMS, {"bbox": "-180,-90,180,90"}).json()
    assert "numberMatched" not in body and body["numberReturned"] == 7
    assert client.get(ITEMS).json()["numberMatched"] == 7


def test_req_core_fc_links_lead_through_every_feature_once(client, lines):
    address, seen = f"{ITEMS}?limit=3&category=LEAD", []
    address = f"{ITEMS}?limit=3"
    while address:
        body = client.get(address).json()
        seen += [f["id"] for f in body["features"]]
        address = links(body).get("next", {}).get("href")
    assert seen == [line.pk for line in lines]


def test_the_next_page_keeps_the_filter(client):
    body = client.get(ITEMS, {"limit": 2, "category": "LEAD"}).json()
    second = client.get(links(body)["next"]["href"]).json()
    assert [f["properties"]["category"] for f in second["features"]] == ["LEAD"]
    assert "next" not in links(second)


@pytest.mark.parametrize("limit, status", [("0", 400), ("-1", 400), ("x", 400), ("1", 200)])
def test_req_core_fc_limit_definition(client, limit, status):
    assert client.get(ITEMS, {"limit": limit}).status_code == status


def test_req_core_fc_limit_response_a_limit_too_large_is_no_error(client):
    assert client.get(ITEMS, {"limit": 10**9}).json()["numberReturned"] == 7


def test_req_core_fc_bbox_response(client, lines):
    box = "-100.25,41,-100.05,42"
    found = client.get(ITEMS, {"bbox": box}).json()
    west, south, east, north = map(float, box.split(","))
    area = shapely.box(west, south, east, north)
    expected = [
        line.pk
        for n, line in enumerate(lines)
        if area.intersects(shapely.Point(-100 - n / 10, 41.5))
    ]
    assert [f["id"] for f in found["features"]] == expected and len(expected) == 2
    with_heights = client.get(ITEMS, {"bbox": "-100.25,41,0,-100.05,42,9"}).json()
    assert with_heights["numberMatched"] == 2
    around = client.get(ITEMS, {"bbox": "170,41,-170,42"}).json()
    assert around["numberMatched"] == 0


@pytest.mark.parametrize("box", ["1,2,3", "a,b,c,d", "0,50,1,40", "0,nan,1,2", "0,0,200,1"])
def test_req_core_fc_bbox_definition_refuses_what_is_no_box(client, box):
    assert client.get(ITEMS, {"bbox": box}).status_code == 400


@pytest.mark.parametrize(
    "time, number",
    [
        ("2028-03-01", 7), ("2028-02-29", 0), ("2028-03-01T10:00:00Z", 7), ("../2028-02-01", 0),
        ("2028-03-01/..", 7), ("2020-01-01/2030-01-01", 7), ("/2028-03-01", 7),
    ],
)  # fmt: skip
def test_req_core_fc_time_response(client, lines, time, number):
    ServiceLine.objects.update(category_since=date(2028, 3, 1))
    assert client.get(ITEMS, {"datetime": time}).json()["numberMatched"] == number


@pytest.mark.parametrize("time", ["yesterday", "2028-13-01", "2029-01-01/2028-01-01", "1/2/3"])
def test_req_core_fc_time_definition_refuses_what_is_no_time(client, time):
    assert client.get(ITEMS, {"datetime": time}).status_code == 400


def test_rec_core_fc_filters(client):
    found = client.get(ITEMS, {"category": "LEAD", "neighborhood": "Ropewalk"}).json()
    assert [f["properties"]["address"] for f in found["features"]] == ["2 Mill St"]
    refused = client.get(ITEMS, {"category": "LEDA"})
    assert refused.status_code == 400 and "NON_LEAD" in refused.json()["description"]


@pytest.mark.parametrize("path", ["/ogc/", "/ogc/conformance", "/ogc/collections", ITEMS])
def test_req_core_query_param_unknown(client, path):
    answer = client.get(path, {"color": "blue"})
    assert answer.status_code == 400 and "color" in answer.json()["description"]


def test_req_core_f_op_and_f_links(client, lines):
    answer = client.get(f"{ITEMS}/{lines[0].pk}")
    body = answer.json()
    assert answer.headers["Content-Type"] == "application/geo+json"
    assert body["id"] == lines[0].pk
    assert links(body)["self"]["href"].endswith(f"/items/{lines[0].pk}")
    assert client.get(links(body)["collection"]["href"]).json()["id"] == "service_lines"
    assert body["properties"]["location_id"] == lines[0].location_id


@pytest.mark.parametrize("wrong", ["0", "x", "99999999999999999999", "1.5"])
def test_a_feature_that_is_not_there_is_404(client, wrong):
    assert client.get(f"{ITEMS}/{wrong}").status_code == 404


def test_rec_core_cross_origin(client):
    assert client.get(ITEMS).headers["Access-Control-Allow-Origin"] == "*"
    assert client.options(ITEMS).headers["Access-Control-Allow-Origin"] == "*"


def test_features_say_their_reference_system(client):
    """OGC API - Features part 2, /req/crs/ogc-crs-header: CRS84 where nothing else is asked."""
    answer = client.get("/ogc/collections/service_lines/items")
    assert answer.headers["Content-Crs"] == "<http://www.opengis.net/def/crs/OGC/1.3/CRS84>"


def test_req_core_http_read_only(client):
    answer = client.post(ITEMS, {})
    assert answer.status_code == 405 and "GET" in answer.headers["Allow"]


def test_a_line_without_a_place_has_null_geometry_and_is_in_no_box(client, lines):
    Premise.objects.filter(pk=lines[0].premise_id).update(latitude=None, longitude=None)
    assert client.get(f"{ITEMS}/{lines[0].pk}").json()["geometry"] is None
    assert client.get(ITEMS, {"bbox": "-180,-90,180,90"}).json()["numberMatched"] == 6
