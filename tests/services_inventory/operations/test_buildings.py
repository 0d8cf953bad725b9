"""The building's kind and plumbing: recorded with a source, corrected, put back, never lost."""

from datetime import UTC, datetime

import pytest

from services_inventory.domain.plumbing import (
    Plumbing,
    Treatment,
    read_plumbing,
    read_treatment,
)
from services_inventory.models import PremiseChange
from services_inventory.operations.buildings import building_put_back, building_record
from services_inventory.refused import Refused
from tests.services_inventory.factories import line_of

AT = datetime(2028, 9, 10, 15, tzinfo=UTC)
WHO = {"by": "clerk", "at": AT}


def record(premise, **given):
    said = {
        "kind": "SINGLE_FAMILY",
        "building_year": 1931,
        "plumbing": "COPPER",
        "plumbing_year": 1962,
        "treatment": "",
        "source": "seen at a visit",
    }
    return building_record(premise=premise, **(said | WHO | given))


@pytest.fixture
def premise():
    return line_of("COPPER", "COPPER").premise


@pytest.mark.django_db
def test_a_correction_and_putting_it_back_leave_every_step_readable(premise):
    record(premise)
    second = record(premise, plumbing="COPPER_LEAD_SOLDER", source="swab")
    assert (second.before, second.after) == (
        {"plumbing": "COPPER"}, {"plumbing": "COPPER_LEAD_SOLDER"},
    )  # fmt: skip
    building_put_back(change=second, reason="other house", **WHO)
    premise.refresh_from_db()
    assert (premise.plumbing, premise.plumbing_year) == ("COPPER", 1962)
    said = PremiseChange.objects.order_by("id").values_list("source", flat=True)
    assert list(said) == ["seen at a visit", "swab", "other house"]


@pytest.mark.django_db
def test_what_a_later_change_moved_on_from_is_not_put_back_over_it(premise):
    first = record(premise)
    record(premise, plumbing="LEAD")
    with pytest.raises(Refused, match="later change"):
        building_put_back(change=first, reason="slip", **WHO)
    with pytest.raises(Refused, match="Say why"):
        building_put_back(change=first, reason=" ", **WHO)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"plumbing_year": 19}, "write a year from 1800 to 2028"),
        ({"plumbing_year": 20255}, "write a year from 1800 to 2028"),
        ({"building_year": 2029}, "The building's year is 2029; write a year from 1800 to 2028"),
        ({"plumbing_year": 2029}, "write a year from 1800 to 2028"),
        ({"plumbing": ""}, "say which pipe is inside"),
        ({"source": " "}, "Say how it is known"),
    ],
)
def test_what_cannot_be_is_refused_and_the_record_stays(premise, given, sentence):
    with pytest.raises(Refused, match=sentence):
        record(premise, **given)
    premise.refresh_from_db()
    assert (premise.plumbing, PremiseChange.objects.count()) == ("", 0)


@pytest.mark.django_db
def test_what_is_on_record_already_is_not_recorded_twice(premise):
    record(premise)
    with pytest.raises(Refused, match="already"):
        record(premise)


def test_every_code_is_read_back_from_its_own_label():
    """A list that was downloaded can be taken in again."""
    assert {code: read_plumbing(code.label).code for code in Plumbing} == {c: c for c in Plumbing}
    assert {code: read_treatment(code.label).code for code in Treatment} == {
        c: c for c in Treatment
    }


@pytest.mark.parametrize("text", ["solder", "steel", "softener", "yes"])
def test_words_that_could_mean_two_things_are_left_to_a_person(text):
    reading = read_plumbing(text) if text in ("solder", "steel") else read_treatment(text)
    assert reading.code is None and reading.reason
