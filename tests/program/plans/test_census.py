"""Census areas laid over neighborhoods: by hand, against shapely's own areas, and on the pages."""

import csv
import io

import numpy as np
import pytest
import shapely
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from program.operations.plans import plan_draw
from program.planning.census import CensusArea, laid_by_ground, laid_by_lines
from program.queries.planning.census import census_in_force
from services_inventory.models import Batch, Neighborhood
from services_inventory.operations.batches import batch_run

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, QUICK, WHO, two_hoods

LEFT, RIGHT = shapely.box(-100.2, 41.0, -100.1, 41.1), shapely.box(-100.1, 41.0, -100.0, 41.1)


def _area(name, shape, **figures):
    return CensusArea(name, figures, shape.wkt)


def test_an_area_counts_with_its_share_of_the_lines():
    areas = [
        _area("A", LEFT, median_income=30_000, children=10),
        _area("B", RIGHT, median_income=60_000, children=None),
    ]
    lons = [-100.15, -100.14, -100.05, -100.1, -101.0]  # on the border it is A's; far off nobody's
    laid = laid_by_lines(areas, lons, [41.05] * 5, ["H"] * 4 + ["Far"])
    assert laid["H"].parts == (("A", 0.75), ("B", 0.25))
    assert laid["H"].figures == {"median_income": 37_500, "children": 10}
    assert laid["H"].covered == 1
    assert laid["Far"].figures == {} and laid["Far"].covered == 0


def test_less_than_half_of_a_neighborhood_is_too_little_for_a_figure():
    area = [_area("A", LEFT, median_income=30_000)]
    some = laid_by_lines(area, [-100.15, -100.05, -100.04], [41.05] * 3, ["H"] * 3)
    assert some["H"].figures == {} and some["H"].covered == pytest.approx(1 / 3, abs=1e-4)
    half = laid_by_lines(area, [-100.15, -100.05], [41.05] * 2, ["H"] * 2)
    assert half["H"].figures == {"median_income": 30_000}


@pytest.mark.parametrize("seed", range(4))
def test_by_ground_the_shares_are_those_of_the_areas(seed):
    """Against shapely on a plane of its own (degrees shrunk by the cosine of the latitude)."""
    rng = np.random.default_rng(seed)
    west, south, width, height = rng.uniform([0.02, 0.0, 0.05, 0.03], [0.08, 0.05, 0.09, 0.05])
    hood = shapely.box(-100.2 + west, 41 + south, -100.2 + west + width, 41 + south + height)
    laid = laid_by_ground(
        [_area("A", LEFT, children=8), _area("B", RIGHT, children=2)], {"H": hood}
    )
    shares = dict(laid["H"].parts)
    flat = [shapely.transform(one, lambda p: p * [0.754, 1]) for one in (hood, LEFT, RIGHT)]
    for name, shape in zip("AB", flat[1:], strict=True):
        wanted = flat[0].intersection(shape).area / flat[0].area
        assert shares.get(name, 0) == pytest.approx(wanted, abs=2e-3)


EAST = "POLYGON ((-100.31 41.499, -100.28 41.499, -100.28 41.51, -100.31 41.51, -100.31 41.499))"
CSV = f'name,Med income,pct old,wkt\nTract 1,"$41,000",62.5%,"{EAST}"\n'


def _take_in(manager, text, **asked):  # noqa: F811
    file = SimpleUploadedFile("tracts.csv", text.encode())
    answer = manager.post(
        reverse("plan_census_new"),
        {"by": "LINES", "median_income": "Med income", "old_housing": "pct old", "file": file}
        | asked,
    )
    assert answer.status_code == 302
    batch = Batch.objects.latest("pk")
    batch_run(batch=batch)
    batch.refresh_from_db()
    return batch


@pytest.mark.django_db
def test_a_file_is_taken_in_ranks_is_taken_back_and_brought_back(manager):  # noqa: F811
    two_hoods()  # East lies in the tract; West, half a mile north, in none
    batch = _take_in(manager, CSV)
    assert batch.state == "APPLIED", batch.message
    page = manager.get(reverse("plan_census")).content.decode()
    assert "$41,000" in page and "62.5%" in page and "by its share of the lines there" in page
    rows = {row[0]: row[1:] for row in csv.reader(
        io.StringIO(manager.get(reverse("plan_census") + "?csv=1").content.decode("utf-8-sig"))
    )}  # fmt: skip
    assert rows["East"] == ["41000.0", "62.5", "", "100.0", "Tract 1 100.0%"]
    asked = {**QUICK, "crews": 1, "weights": {"median_income": 30, "old_housing": 10}}

    def figures(plan):
        return {r["place"]: r["median_income_divided"] for r in plan.result["priority"]}

    plan = plan_draw(settings=asked, as_of=BEFORE, **WHO)
    assert figures(plan) == {"East": 41_000, "West": None}
    told = " ".join(plan.result["notes"])
    assert "those of tracts.csv" in told and "Less than half of West lies in census areas" in told
    # What the utility says of a place itself goes before it.
    own = {**asked, "figures": {"East": {"median_income": 39_000}}}
    assert figures(plan_draw(settings=own, as_of=BEFORE, **WHO))["East"] == 39_000
    twice = _take_in(manager, CSV)
    assert twice.state == "REFUSED" and "taken in before" in twice.message
    back = reverse("plan_works_back", args=[batch.pk])
    assert manager.post(back)["Location"] == reverse("plan_census")
    assert census_in_force() is None
    assert figures(plan_draw(settings=asked, as_of=BEFORE, **WHO))["East"] is None
    manager.post(back, {"again": "1"})
    assert census_in_force()["batch"] == batch


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("text", "asked", "told"),
    [
        (CSV.replace("41,000", "much"), {}, "med income '$much' is no number"),
        (CSV.replace("62.5%", "1250"), {}, "pct old 1250 is no percent"),
        (CSV, {"median_income": "Incmoe"}, "no column 'incmoe'. It has: name, med income"),
        (CSV.replace("POLYGON ((", "LINESTRING (").replace("))", ")"), {}, "is no area"),
        (CSV.replace("-100.", "-10."), {}, "No figure of its 1 area covers half"),
        (CSV.replace("$41,000", "-666666666").replace("62.5%", ""), {}, "No figure of its 1 area"),
        (CSV, {"median_income": "", "old_housing": ""}, "say which columns they are"),
    ],
)
def test_a_file_that_says_nothing_is_refused_with_the_reason(manager, text, asked, told):  # noqa: F811
    two_hoods()
    batch = _take_in(manager, text, **asked)
    assert batch.state == "REFUSED" and told in batch.message
    assert census_in_force() is None
    assert told.split(".")[0] in manager.get(reverse("plan_census")).content.decode().replace(
        "&#x27;", "'"
    )


@pytest.mark.django_db
def test_by_ground_it_needs_boundaries(manager):  # noqa: F811
    two_hoods()
    assert "has a boundary yet" in _take_in(manager, CSV, by="GROUND").message
    shape = shapely.box(-100.31, 41.499, -100.26, 41.51)  # three fifths are the tract's
    Neighborhood.objects.filter(name="East").update(boundary_wkb=shapely.to_wkb(shape))
    batch = _take_in(manager, CSV, by="GROUND")
    assert batch.state == "APPLIED", batch.message
    assert census_in_force()["hoods"]["East"]["covered"] == pytest.approx(0.6, abs=0.01)
