"""What is carried away from a package: print pack, record form, GeoJSON, GPX; and by whom."""

import re
from datetime import UTC, datetime
from io import BytesIO
from xml.etree import ElementTree

import pytest
from gpx import validate_text
from openpyxl import load_workbook
from pypdf import PdfReader
from shapely.geometry import shape

from replacements.models import WorkOrder, WorkPackage
from replacements.packages.map_files import GPX, geojson_of, gpx_of
from replacements.packages.print_pack import print_pack
from replacements.packages.record_form import form_of_orders
from tests.kept import kept
from tests.replacements.factories import (
    AT,
    DAY,
    contractor,
    handed_in,
    order,
    started,
    string,
    user,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
@kept
def jobs(db):
    company = contractor("Fell & Daughters")
    package = WorkPackage.objects.create(
        name="Spring 1", contractor=company, year=2028, created_by="planner", created_at=AT
    )
    made = [order(company, package=package) for _ in range(3)]
    string(made[0])
    return made


@pytest.fixture
def package(jobs):
    return jobs[0].package


@pytest.fixture
def company(jobs):
    return jobs[0].contractor


def test_the_pack_has_cover_list_and_two_sheets_an_order_with_bookmarks(package, jobs):
    pack = PdfReader(BytesIO(print_pack(package, jobs, DAY)))
    assert len(pack.pages) == 3 + 2 * 3
    cover, listed, chart, job, parts = (pack.pages[n].extract_text() for n in range(5))
    assert "Spring 1" in cover
    assert "Fell & Daughters" in cover
    assert all(each.number in listed for each in jobs)
    assert f"Job sheet {jobs[0].number}" in job
    assert "3/4 in. lead" in job.lower() or "0.75" in job
    assert "Parts, from the puller" in parts
    assert [item.title.split()[1] for item in pack.outline][1:] == [o.number for o in jobs]


def test_the_form_is_filled_with_the_orders_has_lists_and_units(jobs):
    book = load_workbook(BytesIO(form_of_orders(jobs, "Spring 1")))
    sheet = book["Records"]
    headings = [cell.value for cell in sheet[2]]
    assert [sheet.cell(row, 1).value for row in (3, 4, 5)] == [each.number for each in jobs]
    assert {"Test pressure, psi", "Length laid, ft", "Dose, mg/L", "Rod, in."} <= set(headings)
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    outcome = rules["F3:F5"]
    column = re.fullmatch(r"Lists!\$(\w+)\$2:\$\w+\$(\d+)", outcome.formula1)
    choices = [book["Lists"][f"{column[1]}{n}"].value for n in range(2, int(column[2]) + 1)]
    assert choices == [
        "replaced", "found not to be lead", "no access", "pull stopped, not finished"
    ]  # fmt: skip
    assert book["Lists"].sheet_state == "hidden"


def test_geojson_keeps_to_rfc_7946(jobs):
    premise = jobs[2].line.premise
    premise.latitude = premise.longitude = None
    premise.save()
    jobs[2].line.refresh_from_db()
    made = geojson_of(jobs, "Spring 1")
    assert made["type"] == "FeatureCollection"
    # Section 4: the reference system is WGS 84 and a `crs` member is no longer written.
    assert "crs" not in made
    for feature in made["features"]:
        # Section 3.2: geometry and properties are there, null where unknown.
        assert set(feature) >= {"type", "geometry", "properties"}
    assert made["features"][2]["geometry"] is None
    # Section 3.1.1: longitude first.
    assert made["features"][0]["geometry"]["coordinates"] == [-100.3, 41.5]
    assert shape(made["features"][0]["geometry"]).is_valid


def test_gpx_keeps_to_the_schema_of_gpx_1_1(jobs):
    premise = jobs[0].line.premise
    premise.address = "12 <Mill> & Sons\x0b St"
    premise.save()
    jobs[0].line.refresh_from_db()
    text = gpx_of(jobs, "Spring", datetime(2028, 4, 10, 9, tzinfo=UTC))
    # The rules of gpx.xsd, version 1.1, by the package `gpx`: names, order, number, types.
    assert validate_text(text).issues == []
    out_of_order = re.sub(rb"(<name>[^<]*</name>)(\s*)(<cmt>[^<]*</cmt>)", rb"\3\2\1", text)
    assert out_of_order != text
    assert validate_text(out_of_order).issues, "the checker sees a wrong order"

    root = ElementTree.fromstring(text)
    assert root[0].find(f"{{{GPX}}}time").text == "2028-04-10T09:00:00Z"
    points = root.findall(f"{{{GPX}}}wpt")
    assert len(points) == 3
    assert points[0].find(f"{{{GPX}}}cmt").text == "12 <Mill> & Sons St"


ADDRESSES = ("", "pack.pdf", "form.xlsx", "orders.geojson", "orders.gpx")


@pytest.mark.parametrize("ending", ADDRESSES)
def test_own_company_and_utility_see_it_others_find_nothing(client, company, package, jobs, ending):
    address = f"/work/packages/{package.pk}/{ending}"
    assert client.get(address).status_code == 302
    client.force_login(user("crew", "Contractor", company))
    assert client.get(address).status_code == 200
    client.force_login(user("manager", "Program manager"))
    assert client.get(address).status_code == 200
    client.force_login(user("rival", "Contractor", contractor()))
    assert client.get(address).status_code == 404


def test_a_contractor_never_sees_planned_orders(client, company, package, jobs):
    planned = order(company, package=package, released=False)
    client.force_login(user("crew", "Contractor", company))
    assert planned.number not in client.get(f"/work/packages/{package.pk}/").content.decode()
    assert jobs[0].number in client.get(f"/work/packages/{package.pk}/").content.decode()
    listed = client.get("/work/packages/").content.decode()
    assert "Spring 1" in listed


def test_the_map_files_are_read_by_an_independent_reader(jobs, tmp_path):
    """GDAL's own readers of GeoJSON and GPX find every order at its place (pyogrio, WGS 84)."""
    import json

    import pyogrio

    (tmp_path / "orders.geojson").write_text(json.dumps(geojson_of(jobs, "Spring 1")))
    (tmp_path / "orders.gpx").write_bytes(gpx_of(jobs, "Spring 1", AT))
    shapes = pyogrio.read_dataframe(tmp_path / "orders.geojson")
    points = pyogrio.read_dataframe(tmp_path / "orders.gpx", layer="waypoints")
    assert shapes.crs.to_epsg() == points.crs.to_epsg() == 4326
    assert list(shapes["number"]) == list(points["name"]) == [job.number for job in jobs]
    for job, drawn, waypoint in zip(jobs, shapes.geometry, points.geometry, strict=True):
        place = job.line.premise.longitude, job.line.premise.latitude
        assert (drawn.x, drawn.y) == pytest.approx(place, abs=1e-6)
        assert (waypoint.x, waypoint.y) == pytest.approx(place, abs=1e-6)


def test_the_pack_holds_what_is_to_be_done_with_consent_hazards_and_a_map(
    client, company, package, jobs
):
    done, called_off, far = jobs
    handed_in(started(done))
    WorkOrder.objects.filter(pk=called_off.pk).update(state="CALLED_OFF")
    waiting = order(company, package=package, other_lines_looked_for_on=None)
    client.force_login(user("manager", "Program manager"))
    answer = client.get(f"/work/packages/{package.pk}/pack.pdf")
    pages = PdfReader(BytesIO(answer.content)).pages
    words = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert far.number in words and waiting.number in words
    assert done.number not in words and called_off.number not in words
    assert "2 orders" in words and "Where they are" in words and "North is up" in words
    assert "OTHER LINES NOT LOOKED FOR" in words
    assert "Consent" in words
