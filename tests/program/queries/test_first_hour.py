"""The first hour: what is done, passed over, doubted, and what is next for each role."""

import pytest
from django.urls import reverse

from program.models import FirstHourSkip, OwnValue, Utility
from program.queries.first_hour import first_hour, next_things
from tests.services_inventory.operations.takes import MILL, take_in
from tests.services_inventory.people import CREW, MANAGER, STAFF, browser_of

pytestmark = pytest.mark.django_db
SYSTEM = {"name": "Samplewater", "pwsid": "OH1234567", "state": "OH", "time_zone": "",
          "connections": "50"}  # fmt: skip


def standing() -> dict[str, str]:
    """Return how each step stands."""
    return {
        step.key: "done" if step.done else "skipped" if step.skipped else
        "next" if step.here else "" for step in first_hour()
    }  # fmt: skip


def test_an_empty_record_begins_with_the_system_and_its_facts_need_no_rehearsal():
    assert standing()["system"] == "next"
    staff, page = browser_of(STAFF), reverse("first_hour")
    wrong = staff.post(page, SYSTEM | {"connections": "many"})
    assert wrong.status_code == 422 and b'value="many"' in wrong.content
    assert b'value="OH"' in wrong.content and b'value="ZZ"' not in wrong.content
    assert not Utility.objects.exists()
    staff.post(page, SYSTEM)
    utility = Utility.objects.get()
    assert (utility.pwsid, utility.connections) == ("OH1234567", 50)
    assert set(OwnValue.objects.values_list("reason", flat=True)) == {
        "Entered in the first hour, before any line was in the record."
    }
    assert standing()["system"] == "done"


def test_with_lines_in_the_record_the_facts_are_rehearsed_first(tmp_path):
    take_in(tmp_path, [MILL])
    answer = browser_of(STAFF).post(reverse("first_hour"), SYSTEM)
    assert "/rehearsals/" in answer["Location"]
    assert not Utility.objects.exists()


def test_a_step_is_passed_over_and_taken_up_again():
    manager = browser_of(MANAGER)
    for step in ("system", "people", "nonsense"):
        manager.post(reverse("first_hour_skip", args=[step]), {"act": "skip"})
    assert [skip.step for skip in FirstHourSkip.objects.order_by("id")] == ["system", "people"]
    assert standing()["boundaries"] == "next"
    manager.post(reverse("first_hour_skip", args=["system"]), {"act": "take_up"})
    assert standing()["system"] == "next"
    assert manager.post(reverse("first_hour"), SYSTEM).status_code in (302, 403)
    assert not Utility.objects.exists()  # a manager doesn't enter it


def test_counts_are_held_against_the_connections_that_were_stated(tmp_path):
    take_in(tmp_path, [MILL])
    Utility.objects.create(name="S", pwsid="OH1234567", state="OH", connections=50)
    counts = first_hour()[-1]
    assert counts.done and "49 are in no file yet" in counts.doubts[0]


def test_each_role_is_told_what_is_next(tmp_path):
    from django.contrib.auth.models import User

    for role in (MANAGER, STAFF, CREW):
        page = browser_of(role).get(reverse("next_things")).content.decode()
        user = User.objects.get(username=role.split()[0].lower())
        told = [sentence for sentence, _ in next_things(user)]
        assert told and all(sentence in page for sentence in told)
    take_in(tmp_path, [MILL])
    Utility.objects.create(name="S", pwsid="OH1234567", state="OH", connections=50)
    told = next_things(User.objects.get(username="program"))
    assert told == [
        ("Take in the boundaries of your neighborhoods; the plan is drawn by them.", "batch_list")
    ]
