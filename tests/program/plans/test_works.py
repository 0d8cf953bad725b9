"""Paving and main works on the pages: taken in, taken back, brought back, and what a plan does."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from program.models import Utility
from program.operations.plans import plan_draw
from program.operations.plans.works import works_take_back
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_run
from services_inventory.refused import Refused

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, NOON, QUICK, WHO, two_hoods

pytestmark = pytest.mark.django_db
ALDER = '"LINESTRING (-100.31 41.5001, -100.29 41.5001)"'  # 36 ft north of Alder St


@pytest.fixture
def plan():
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    settings = {**QUICK, "crews": 1, "budget_per_year": 100_000}
    return plan_draw(settings=settings, as_of=BEFORE, **WHO)


def _take_in(manager, year, works="PAVING", shape=ALDER):  # noqa: F811
    text = f"name,year,wkt\nAlder St,{year},{shape}\n"
    file = SimpleUploadedFile(f"works{year}.csv", text.encode())
    manager.post(reverse("plan_works_new"), {"works": works, "file": file})
    batch = Batch.objects.latest("pk")
    batch_run(batch=batch)
    batch.refresh_from_db()
    return batch


def test_a_file_is_taken_in_once_taken_back_and_brought_back(plan, manager):  # noqa: F811
    batch = _take_in(manager, 2030)
    page = manager.get(reverse("plan_works"))
    assert [work["name"] for work in page.context["works"]] == ["Alder St"]
    twice = _take_in(manager, 2030)
    assert twice.state == "REFUSED" and "taken in before" in twice.message
    back = reverse("plan_works_back", args=[batch.pk])
    assert "taken back" in manager.post(back, follow=True).content.decode()
    assert manager.get(reverse("plan_works")).context["works"] == []
    assert "already" in manager.post(back, follow=True).content.decode()
    assert manager.get(reverse("plan_digging", args=[plan.pk])).context["found"] is None
    manager.post(back, {"again": "1"})
    assert len(manager.get(reverse("plan_works")).context["works"]) == 1
    with pytest.raises(Refused, match="no file of works or areas"):
        works_take_back(batch=twice, by="x", at=NOON)


def test_a_file_that_cannot_be_read_says_why(manager):  # noqa: F811
    batch = _take_in(manager, 2030, shape="nowhere")
    assert batch.state == "REFUSED" and "is no WKT" in batch.message
    assert "is no WKT" in manager.get(reverse("plan_works")).content.decode()
    empty = manager.post(reverse("plan_works_new"), {"works": "PAVING"})
    assert empty.status_code == 422


def test_a_plan_tells_what_it_does_near_the_work_and_what_it_ignores(plan, manager):  # noqa: F811
    batch = _take_in(manager, 2027)  # before most of the plan's years
    found = manager.get(reverse("plan_digging", args=[plan.pk]), {"feet": 60, "saved": 100})
    row = found.context["found"]["rows"][0]
    alder = plan.area_lines.filter(line__location_id__startswith="ALDER")
    years = list(alder.values_list("area__program_year", flat=True))
    assert row["lines"] == len(years) == 12
    assert row["timing"].together == years.count(1)
    assert row["timing"].after == sum(year > 1 for year in years)
    assert row["could_save"] == 100 * row["missed"] and row["saves"] == 100 * years.count(1)
    if row["missed"]:
        assert "It ignores Alder St" in found.content.decode()
        assert (
            "It ignores Alder St" in manager.get(reverse("plan", args=[plan.pk])).content.decode()
        )
    near = manager.get(reverse("plan_digging", args=[plan.pk]), {"feet": 20, "saved": 100})
    assert near.context["found"]["rows"] == []  # the work lies 36 ft away
    wrong = manager.get(reverse("plan_digging", args=[plan.pk]), {"feet": 0, "saved": 1})
    assert wrong.status_code == 422 and "starting figures" in wrong.content.decode()
    csv = manager.get(reverse("plan_digging", args=[plan.pk]), {"csv": 1}).content.decode()
    assert csv.count("\n") == 2 and "Alder St,paving" in csv
    works_take_back(batch=batch, by="x", at=NOON)
    assert manager.get(reverse("plan", args=[plan.pk])).context["digging"] is None


def test_work_that_is_over_is_no_opportunity(plan, manager):  # noqa: F811
    _take_in(manager, 2026)
    assert manager.get(reverse("plan_digging", args=[plan.pk])).context["found"] is None


def test_before_a_main_is_renewed_the_street_opens_twice(plan, manager):  # noqa: F811
    _take_in(manager, 2035, works="MAIN")
    row = manager.get(reverse("plan_digging", args=[plan.pk])).context["found"]["rows"][0]
    assert row["timing"].before == row["lines"] == row["missed"]
    Batch.objects.update(parameters={"works": "PAVING"})
    row = manager.get(reverse("plan_digging", args=[plan.pk])).context["found"]["rows"][0]
    assert (row["timing"].before, row["missed"]) == (12, 0)
