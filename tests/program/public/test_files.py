"""The public files, read by other people's readers: csv, shapely, GDAL (pyogrio). Constructed."""

import csv
import io
import json
import re

import pyogrio
import pytest
import shapely
from django.core.cache import cache
from django.urls import reverse

from program.models import Inquiry, Utility
from replacements.models import Consent, ContactAttempt
from services_inventory.models import Premise
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _utility():
    cache.clear()
    Utility.objects.create(name="Quillwater Water")


@pytest.fixture
def lines():
    made = [
        line_of("LEAD", "COPPER", address='=HYPERLINK("http://x")'),
        line_of("COPPER", "COPPER", address="14 Mill St \U0001f600"),
        line_of("COPPER", "GALVANIZED", address="16 Mill St"),
    ]
    Premise.objects.filter(pk=made[2].premise_id).update(latitude=None, longitude=None)
    return made


def body(client, name):
    return b"".join(client.get(reverse(f"public:{name}")).streaming_content)


def test_csv_holds_every_line_and_no_formula(client, lines):
    rows = list(csv.DictReader(io.StringIO(body(client, "csv").decode())))
    assert [row["location_id"] for row in rows] == [line.location_id for line in lines]
    assert rows[0]["address"].startswith("'=")
    assert [row["category"] for row in rows] == ["LEAD", "NON_LEAD", "GRR"]


def test_geojson_is_geojson_with_null_for_no_place(client, lines):
    data = json.loads(body(client, "geojson"))
    assert [f["geometry"] is None for f in data["features"]] == [False, False, True]
    point = shapely.from_geojson(json.dumps(data["features"][0]["geometry"]))
    assert (point.x, point.y) == (-100.3, 41.5)


def test_gdal_reads_the_geopackage_with_its_crs(client, lines, tmp_path):
    path = tmp_path / "public.gpkg"
    path.write_bytes(body(client, "geopackage"))
    placed = pyogrio.read_info(path, layer="service_lines")
    assert (placed["features"], placed["crs"]) == (2, "EPSG:4326")
    assert pyogrio.read_info(path, layer="service_lines_without_location")["features"] == 1
    frame = pyogrio.read_dataframe(path, layer="service_lines")
    assert sorted(frame["category"]) == ["LEAD", "NON_LEAD"]


def test_an_empty_inventory_still_gives_whole_files(client):
    assert json.loads(body(client, "geojson"))["features"] == []
    assert body(client, "geopackage").startswith(b"SQLite format 3")
    assert len(body(client, "csv").splitlines()) == 1


def test_the_dictionary_names_every_column_of_the_csv(client, lines):
    header = next(csv.reader(io.StringIO(body(client, "csv").decode())))
    rows = list(csv.DictReader(io.StringIO(body(client, "dictionary").decode())))
    assert [row["column"] for row in rows] == header


def test_names_phones_and_refusals_never_appear(client, lines):
    line = lines[0]
    Inquiry.objects.create(
        line=line, kind="WRONG_CATEGORY", address_given="x", name="Zebulon Quirk",
        contact="555-0199", message="Zebulon", received_on=MORNING.date(),
    )  # fmt: skip
    Consent.objects.create(
        line=line, answer="REFUSED", given_by="Zebulon Quirk", answered_on=MORNING.date(),
        note="Zebulon refused", recorded_by="c", recorded_at=MORNING,
    )  # fmt: skip
    ContactAttempt.objects.create(
        line=line, at=MORNING, method="PHONE", outcome="Zebulon, 555-0199", recorded_by="c",
        recorded_at=MORNING,
    )  # fmt: skip
    page = reverse("public:line", kwargs={"language": "en", "location_id": line.location_id})
    texts = [body(client, name).decode("latin-1") for name in ("csv", "geojson", "geopackage")]
    texts += [client.get(page).text, client.get("/ogc/collections/service_lines/items").text]
    assert not [text for text in texts if re.search("Zebulon|555-0199|REFUSED", text)]


def test_the_dictionary_is_in_both_languages_and_says_what_each_code_means(client):
    address = reverse("public:dictionary")
    for language, column, lead in (
        ("en", "column", "LEAD: Lead;"),
        ("es", "columna", "LEAD: Plomo;"),
    ):
        text = b"".join(client.get(address, {"language": language}).streaming_content).decode()
        rows = {row[column]: row for row in csv.DictReader(io.StringIO(text))}
        assert lead in str(rows["category"])
    page = client.get(reverse("public:download", kwargs={"language": "es"})).text
    assert "Código postal." in page and "ZIP code." not in page
