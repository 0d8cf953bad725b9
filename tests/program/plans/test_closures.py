"""Closed block faces: entered in words, by crossings or from a file; plans and orders obey."""

from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from program.models import Utility
from program.operations.plans import plan_draw
from program.operations.plans.works import works_take_back
from replacements.models import Contractor, StreetClosure, WorkOrder
from replacements.operations.closures import closure_record, closure_withdraw
from replacements.operations.visits import appointment_book
from replacements.queries.closures import closure_findings, closures_from, lines_on
from replacements.queries.gate import findings_on_record
from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import batch_run
from services_inventory.refused import Refused

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, NOON, QUICK, WHO, street, two_hoods

pytestmark = pytest.mark.django_db
# Program year 2 is 2029.
YEAR_2 = {"first_day": date(2029, 1, 1), "last_day": date(2029, 12, 31)}
FACE = {"street": "Alder St", "start": "1", "end": "6", "side": "EVEN", **YEAR_2}
MORE = {**QUICK, "crews": 2, "budget_per_year": 90_000}


@pytest.fixture
def town():
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    return two_hoods()


def close(**changed):
    return closure_record(**{**FACE, **changed}, **WHO)


def covered(closure) -> list[int]:
    found = lines_on(closure).values_list("premise__house_number", flat=True)
    return sorted(found)


@pytest.mark.parametrize(
    ("start", "end", "side", "numbers"),
    [
        ("1", "6", "EVEN", [2, 4, 6]),
        ("6", "1", "ODD", [1, 3, 5]),
        ("4", "5", "BOTH", [4, 5]),
        ("", "", "ODD", [1, 3, 5, 7, 9, 11]),
    ],
)
def test_a_face_is_closed_by_house_numbers(town, start, end, side, numbers):
    assert covered(close(start=start, end=end, side=side)) == numbers


def test_a_face_is_closed_between_two_crossings(town):
    """Alder St runs east, a house every 0.0002 degrees; two streets cross it north to south."""
    for name, lon in (("WELL LN", -100.29945), ("MILL LN", -100.29845)):
        street(None, name, 0, ["LEAD"] * 2, longitude=lon, latitude=41.50005)
    # Between -100.29945 and -100.29845 lie the houses 3 to 7.
    assert covered(close(start="Well Ln", end="Mill Ln", side="BOTH")) == [3, 4, 5, 6, 7]
    with pytest.raises(Refused, match="does not cross"):
        close(start="Well Ln", end="Cedar St")
    with pytest.raises(Refused, match="not one of each"):
        close(start="Well Ln", end="7")


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"street": "Aldr St"}, "Is ALDER ST"),
        ({"street": ""}, "No place of the inventory"),
        ({"end": ""}, "Give both ends"),
        ({"last_day": date(2028, 12, 31)}, "before the first"),
        ({"side": "LEFT"}, "A side is one of both, even, odd"),
        ({"end": "99999999999"}, "no house number"),
    ],
)
def test_what_cannot_be_closed_says_why(town, changed, words):
    with pytest.raises(Refused, match=words):
        close(**changed)
    assert not StreetClosure.objects.exists()


def test_a_face_is_closed_once_and_opened_with_a_reason(town):
    closure = close()
    with pytest.raises(Refused, match="already"):
        close()
    with pytest.raises(Refused, match="Write why"):
        closure_withdraw(closure=closure, reason=" ", **WHO)
    closure_withdraw(closure=closure, reason="permit", **WHO)
    with pytest.raises(Refused, match="before"):
        closure_withdraw(closure=closure, reason="again", **WHO)
    assert closures_from(BEFORE) == [] and close().pk != closure.pk


def test_a_plan_works_around_the_face_and_goes_on_beside_it(town):
    every = plan_draw(settings=MORE, as_of=BEFORE, **WHO)
    close(first_day=BEFORE, last_day=YEAR_2["last_day"])
    plan = plan_draw(settings={**MORE, "based_on": every.pk}, as_of=BEFORE, **WHO)
    face = plan.areas.get(key__contains=" face ")
    numbers = face.lines.values_list("line__premise__house_number", flat=True)
    assert sorted(numbers) == [2, 4, 6]
    last = YEAR_2["last_day"].isoformat()
    assert last in {row[1] for row in face.closed}
    assert face.program_year not in (1, 2)
    parent = plan.areas.get(key=face.key.split(" face ")[0])
    assert parent.lines.count() + 3 == every.areas.get(key=parent.key).lines.count()
    assert last not in {row[1] for row in parent.closed}
    assert plan.area_lines.count() == every.area_lines.count()
    close(street="Alder St", start="8", end="9", side="BOTH")
    again = plan_draw(settings={**MORE, "based_on": plan.pk}, as_of=BEFORE, **WHO)
    assert again.area_lines.count() == every.area_lines.count()
    assert again.areas.filter(key__contains=" face ").count() == 2
    assert any("3 open lines lie on block faces closed" in note for note in plan.result["notes"])


def test_no_start_and_no_work_visit_on_a_closed_day(town):
    close()
    line = ServiceLine.objects.get(location_id="ALDER ST-002")
    other = ServiceLine.objects.get(location_id="ALDER ST-003")
    day, after = YEAR_2["last_day"], YEAR_2["last_day"] + timedelta(days=1)
    assert [found.rule for found in closure_findings(line, day)] == ["STREET_CLOSED"]
    assert not closure_findings(line, after) and not closure_findings(other, day)
    order = WorkOrder.objects.create(
        number="W-1", line=line, contractor=Contractor.objects.create(name="Tern"),
        state="RELEASED", created_by="x", created_at=NOON,
    )  # fmt: skip
    assert "STREET_CLOSED" in {found.rule for found in findings_on_record(order, day)}
    assert "STREET_CLOSED" not in {found.rule for found in findings_on_record(order, after)}
    when = NOON.replace(year=2029, month=5, day=7)
    visit = {"line": line, "starts_at": when, "ends_at": when + timedelta(hours=1), "by": "x",
             "at": when - timedelta(days=9)}  # fmt: skip
    with pytest.raises(Refused, match="closed to digging"):
        appointment_book(purpose="WORK", **visit)
    assert appointment_book(purpose="CONSENT", **visit).pk


def test_the_page_shows_what_a_closure_touches_before_it_is_kept(town, manager):  # noqa: F811
    new = reverse("plan_closure_new")
    asked = {"street": "alder st", "start": "1", "end": "6", "side": "EVEN", "years": "2",
             "reason": "new paving"}  # fmt: skip
    shown = manager.post(new, asked)
    touched = shown.context["touched"]
    assert (touched.lines, touched.still_open) == (3, 3)
    assert (touched.first_address, touched.last_address) == ("2 ALDER ST", "6 ALDER ST")
    assert not StreetClosure.objects.exists()
    kept = manager.post(new, {**asked, "keep": "1"}, follow=True).content.decode()
    closure = StreetClosure.objects.get()
    assert (closure.first_day, closure.last_day) == tuple(YEAR_2.values())
    assert "Alder St 1 to 6, even-numbered side" in kept
    faces = manager.get(reverse("plan_closure_shapes")).json()["features"]
    assert [len(one["geometry"]["coordinates"]) for one in faces] == [3]
    wrong = manager.post(new, {**asked, "first_day": "2029-01-01"})
    assert wrong.status_code == 422 and "not both" in wrong.content.decode()
    strange = manager.post(new, {**asked, "street": "Oak"})
    assert strange.status_code == 422 and "No place of the inventory" in strange.content.decode()
    back = reverse("plan_closure_back", args=[closure.pk])
    assert "Write why" in manager.post(back, {}, follow=True).content.decode()
    assert "is open again" in manager.post(back, {"reason": "permit"}, follow=True).content.decode()


def _take_in(manager, text):  # noqa: F811
    file = SimpleUploadedFile("closed.csv", text.encode())
    manager.post(reverse("plan_works_new"), {"works": "CLOSED", "file": file})
    batch = Batch.objects.latest("pk")
    batch_run(batch=batch)
    batch.refresh_from_db()
    return batch


def test_faces_come_from_a_file_all_or_none(town, manager):  # noqa: F811
    head = "street,from_street,to_street,side,year,reason\n"
    bad = _take_in(manager, f"{head}Alder St,1,6,even,2029,paved\nNowhere St,1,2,,2029,\n")
    assert bad.state == "REFUSED" and "Row 2: No place" in bad.message
    assert not StreetClosure.objects.exists()
    good = _take_in(manager, f"{head}Alder St,1,6,even,2029,paved\nBirch St,,,,2030,\n")
    assert good.state == "APPLIED", good.message
    assert [covered(one) for one in closures_from(BEFORE)] == [[2, 4, 6], list(range(1, 13))]
    assert manager.get(reverse("plan_works")).context["files"][0]["number"] == 2
    works_take_back(batch=good, by="x", at=NOON)
    assert closures_from(BEFORE) == []
    with pytest.raises(Refused, match="take the file in again"):
        works_take_back(batch=good, by="x", at=NOON, back=True)


def test_a_face_of_a_file_may_be_a_line_on_the_map(town, manager):  # noqa: F811
    # From -100.2995 to -100.2985 along Alder St lie the houses 3 to 7.
    line = '"LINESTRING (-100.2995 41.5, -100.2985 41.5)"'
    batch = _take_in(manager, f"street,year,wkt\nAlder St,2029,{line}\n")
    assert batch.state == "APPLIED", batch.message
    assert covered(StreetClosure.objects.get()) == [3, 4, 5, 6, 7]
