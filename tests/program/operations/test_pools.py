"""Pools frozen from a constructed town: what comes in, what goes out, what stays."""

from datetime import date

import pytest

from program.models import PoolFreeze, PoolLine
from program.operations.pools import pool_freeze, pools_freeze_due
from services_inventory.domain.validation import pool_digest
from services_inventory.refused import Refused

from .factories import NOW, found, line, lines, moment, replaced, standing_town

pytestmark = pytest.mark.django_db


def freeze(number, at=NOW, **said):
    return pool_freeze(program_year=number, by="manager", at=at, **said)


def test_the_pools_roll_forward_by_what_was_found():
    standing_town()
    made = pools_freeze_due(as_of=date(2030, 12, 31), by="manager", at=NOW)
    assert [(p.size, p.added, p.removed) for p in made] == [(20, 0, 0), (19, 0, 1), (20, 1, 0)]
    assert (made[0].lead, made[0].grr, made[0].unknown) == (10, 4, 6)
    assert [p.before for p in made] == [None, 20, 19]
    assert all(p.before + p.added - p.removed == p.size for p in made[1:])
    # 3 of 10 lead and 1 of 4 GRR lines are replaced in full, 1 line was found lead
    assert (made[2].lead, made[2].grr, made[2].unknown) == (8, 3, 5)


def test_a_replaced_line_stays_in_the_pool():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2028, 6, 7))
    second = pools_freeze_due(as_of=date(2029, 1, 1), by="m", at=NOW)[1]
    assert second.size == 1
    assert PoolLine.objects.get(freeze=second).category == "NON_LEAD"


def test_work_of_the_first_day_itself_is_in_the_pool_and_in_the_count():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2027, 11, 1))
    assert freeze(1).size == 1


def test_a_line_replaced_before_the_compliance_date_is_in_no_pool():
    one, two = lines([("LEAD", "LEAD", ""), ("LEAD", "LEAD", "")])
    replaced(one, date(2027, 10, 31), accepted=moment(date(2027, 10, 31)))
    assert list(PoolLine.objects.filter(freeze=freeze(1)).values_list("line_id", flat=True)) == [
        two.pk
    ]


def test_a_line_found_lead_and_replaced_in_the_same_year_comes_in():
    one, _ = lines([("COPPER", "COPPER", ""), ("LEAD", "LEAD", "")])
    freeze(1)
    found(one, "CUSTOMER", "LEAD", date(2028, 2, 1), moment(date(2028, 2, 2)))
    replaced(one, date(2028, 5, 5))
    second = freeze(2)
    assert (second.size, second.added) == (2, 1)
    assert PoolLine.objects.get(freeze=second, why="FOUND").line_id == one.pk


def test_a_frozen_pool_is_never_frozen_again():
    _, unknown = lines([("LEAD", "LEAD", ""), ("COPPER", "UNKNOWN", "")])
    first = freeze(1)
    found(unknown, "CUSTOMER", "COPPER", date(2028, 3, 1), moment(date(2028, 3, 2)))
    assert freeze(1).pk == first.pk
    first.refresh_from_db()
    assert (first.size, PoolLine.objects.filter(freeze=first).count()) == (2, 2)


def test_anybody_can_check_the_line_list():
    made = lines([("LEAD", "LEAD", ""), ("COPPER", "UNKNOWN", ""), ("COPPER", "COPPER", "")])
    ids = sorted(each.location_id for each in made[:2])
    assert freeze(1).line_list_sha256 == pool_digest(ids)


def test_an_empty_record_has_no_pool_and_the_sentence_says_what_to_do():
    line("LEAD", "LEAD", at=moment(date(2028, 2, 1)))
    with pytest.raises(Refused, match="No line was in the record on Nov 1, 2027"):
        freeze(1)
    assert freeze(1, baseline_day=date(2028, 2, 1)).size == 1


@pytest.mark.parametrize("number", [0, -1])
def test_there_is_no_such_program_year(number):
    with pytest.raises(Refused, match="There is no program year"):
        freeze(number)


def test_a_pool_is_not_frozen_ahead_of_its_day_nor_without_the_one_before():
    lines([("LEAD", "LEAD", "")])
    with pytest.raises(Refused, match="begins on Jan 1, 2032"):
        freeze(5)
    with pytest.raises(Refused, match="pool of program year 2 is frozen first"):
        freeze(3)
    assert not PoolFreeze.objects.exists()
