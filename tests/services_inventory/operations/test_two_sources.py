"""Two lists that tell of the same places otherwise: the later word stands, and nothing swings."""

from datetime import timedelta

import pytest

from services_inventory.models import Batch, Premise, PremiseChange, ServiceLine
from services_inventory.operations.buildings import building_record
from services_inventory.operations.undo import intake_undo

from .takes import APRIL, counted, take_in

pytestmark = pytest.mark.django_db
BILLING = ("location id", "address", "customer class")
SURVEY = ("location id", "address", "building type", "latitude", "longitude")
HOUSE = [("L1", "12 Mill St", "residential")]
FLATS = [("L1", "12 Mill St", "multi-family", "41.5", "-100.3")]
ORDER = iter(range(1, 1000))


def billing(folder, rows=HOUSE):
    return _fed(folder, rows, BILLING)


def survey(folder, rows=FLATS):
    return _fed(folder, rows, SURVEY)


def _fed(folder, rows, header):
    number = next(ORDER)
    at = APRIL + timedelta(days=number)
    return take_in(folder, rows, header=header, name=f"{number}.csv", at=at)


def kind() -> str:
    return Premise.objects.get().kind


def told() -> str:
    return " ".join(Batch.objects.order_by("-id")[0].result["notes"])


def test_both_lists_fed_again_change_nothing_and_say_what_was_left_out(tmp_path):
    assert billing(tmp_path) == counted(new=1)
    assert survey(tmp_path) == counted(changed=1)
    changes = PremiseChange.objects.count()
    for _ in range(2):
        assert billing(tmp_path) == counted(unchanged=1)
        assert "Kind of premise: 1 row repeats what another source has corrected" in told()
        assert survey(tmp_path) == counted(unchanged=1)
        assert "repeats" not in told()
    assert (kind(), PremiseChange.objects.count()) == ("MULTI_FAMILY", changes)


def test_what_a_list_had_not_said_before_is_followed(tmp_path):
    billing(tmp_path)
    survey(tmp_path)
    assert billing(tmp_path, [("L1", "12 Mill St", "school")]) == counted(changed=1)
    assert survey(tmp_path) == counted(unchanged=1)
    assert kind() == "SCHOOL"


def test_a_list_that_corrects_itself_is_followed_back(tmp_path):
    billing(tmp_path)
    assert billing(tmp_path, [("L1", "12 Mill St", "apartments")]) == counted(changed=1)
    assert billing(tmp_path) == counted(changed=1)
    assert kind() == "SINGLE_FAMILY"


def test_what_a_person_found_stands_against_the_old_word_of_a_list(tmp_path):
    billing(tmp_path)
    building_record(
        premise=Premise.objects.get(), kind="CHILD_CARE", building_year=None, plumbing="",
        plumbing_year=None,
        treatment="", source="visit", by="clerk", at=APRIL + timedelta(days=400),
    )  # fmt: skip
    assert billing(tmp_path) == counted(unchanged=1)
    assert kind() == "CHILD_CARE"


def test_a_list_taken_back_no_longer_stands_against_another(tmp_path):
    billing(tmp_path)
    survey(tmp_path)
    intake_undo(batch=Batch.objects.order_by("-id")[0], by="clerk", at=APRIL + timedelta(days=401))
    assert kind() == "SINGLE_FAMILY"
    assert survey(tmp_path) == counted(changed=1)
    assert kind() == "MULTI_FAMILY"


def test_positions_do_not_swing_either(tmp_path):
    first = ("location id", "address", "latitude", "longitude")
    old = [("L1", "12 Mill St", "41.5", "-100.3")]
    other = (*first, "customer side material")
    new = [("L1", "12 Mill St", "41.5009", "-100.3", "copper")]
    _fed(tmp_path, old, first)
    assert _fed(tmp_path, new, other) == counted(changed=1)
    assert _fed(tmp_path, old, first) == counted(unchanged=1)
    assert "Position: 1 row repeats" in told()
    assert _fed(tmp_path, new, other) == counted(unchanged=1)
    assert Premise.objects.get().latitude == 41.5009


def test_a_new_word_goes_in_beside_an_old_one(tmp_path):
    header = (*BILLING, "line use")
    _fed(tmp_path, [(*HOUSE[0], "domestic")], header)
    survey(tmp_path)
    assert _fed(tmp_path, [(*HOUSE[0], "irrigation")], header) == counted(changed=1)
    assert (kind(), ServiceLine.objects.get().use) == ("MULTI_FAMILY", "IRRIGATION")
