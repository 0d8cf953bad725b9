"""What a request reads once: the same within it, anew after a write in it, never beyond it."""

from datetime import date, timedelta

import pytest
from django.db import connection, transaction
from django.http import StreamingHttpResponse
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from program.clock import today
from program.models import OwnValue, Utility
from program.rules import never_had_lead, rules_in_force
from program.utility import the_utility
from services_inventory.asked_once import (
    ask_once_a_request,
    asking_once,
    going_on_by_what_held,
    until_written,
)

pytestmark = pytest.mark.django_db
STANDS, MOVED = date(2028, 3, 1), date(2029, 9, 9)


@pytest.fixture
def utility():
    return Utility.objects.create(name="Willow Water", clock_stands_at=STANDS)


def _override(years: int) -> OwnValue:
    return OwnValue.objects.create(
        value_id="DISPUTE_RESPONSE_DAYS", value=years, effective_from=date(2027, 11, 1),
        jurisdiction="UTILITY", author="A. Clerk", reason="constructed", recorded_at=timezone.now(),
    )  # fmt: skip


def _days() -> int:
    return rules_in_force().value("DISPUTE_RESPONSE_DAYS", STANDS)


def test_a_request_reads_the_utility_and_the_overrides_once(utility):
    with asking_once(), CaptureQueriesContext(connection) as asked:
        for _ in range(5):
            today(), never_had_lead(), rules_in_force(), the_utility()
    assert len(asked) == 2


def test_outside_a_request_nothing_is_kept(utility):
    assert today() == STANDS
    Utility.objects.update(clock_stands_at=MOVED)
    assert today() == MOVED
    assert never_had_lead() is False
    Utility.objects.update(never_had_lead=True)
    assert never_had_lead() is True


def test_the_next_request_reads_again(utility):
    with asking_once():
        assert today() == STANDS
    Utility.objects.update(clock_stands_at=MOVED)
    with asking_once():
        assert today() == MOVED


def test_a_day_moved_inside_the_request_holds_at_once(utility):
    with asking_once():
        assert today() == STANDS
        utility.clock_stands_at = MOVED
        utility.save()
        assert today() == MOVED


def test_a_utility_deleted_or_set_up_inside_the_request_is_seen(utility):
    with asking_once():
        assert the_utility() == utility
        utility.delete()
        assert the_utility() is None
        made = Utility.objects.create(name="Aspen Water")
        assert the_utility() == made


def test_a_value_set_inside_the_request_is_in_force_at_once():
    with asking_once():
        before = _days()
        row = _override(before + 4)
        assert _days() == before + 4
        row.delete()
        assert _days() == before


def test_what_was_rolled_back_is_not_believed(utility):
    with asking_once():
        with pytest.raises(ZeroDivisionError), transaction.atomic():
            utility.clock_stands_at = MOVED
            utility.save()
            assert today() == MOVED
            raise ZeroDivisionError
        assert today() == STANDS


def test_the_rules_as_known_at_a_moment_are_not_mixed_up_with_those_of_now():
    row = _override(7)
    with asking_once():
        assert _days() == 7
        earlier = rules_in_force(row.recorded_at - timedelta(seconds=1))
        assert earlier.value("DISPUTE_RESPONSE_DAYS", STANDS) != 7
        assert _days() == 7


def test_a_request_that_fails_leaves_nothing_behind(utility, rf):
    def fails(_request):
        assert today() == STANDS
        raise LookupError

    with pytest.raises(LookupError):
        ask_once_a_request(fails)(rf.get("/"))
    Utility.objects.update(clock_stands_at=MOVED)
    assert today() == MOVED


def test_an_answer_that_is_still_being_sent_asks_the_record(utility, rf):
    def view(_request):
        today()
        return StreamingHttpResponse(str(today()) for _ in range(1))

    answer = ask_once_a_request(view)(rf.get("/"))
    Utility.objects.update(clock_stands_at=MOVED)
    assert b"".join(answer) == str(MOVED).encode()


def test_a_long_operation_goes_on_by_what_held_as_it_began(utility):
    with going_on_by_what_held():
        before = _days()
        row = _override(before + 4)
        with asking_once():
            assert _days() == before
        assert today() == STANDS
        Utility.objects.update(clock_stands_at=MOVED)
        assert today() == MOVED  # no rule
    assert _days() == row.value


@until_written(Utility)
def _stands() -> date | None:
    return Utility.objects.get().clock_stands_at


def _told(asked: int) -> date | None:
    with CaptureQueriesContext(connection) as queries:
        told = _stands()
    assert len(queries) == asked
    return told


def test_what_rests_on_a_table_is_asked_again_once_that_is_written_or_undone(utility):
    with going_on_by_what_held():
        assert _told(asked=1) == STANDS
        _override(3)
        assert _told(asked=0) == STANDS
        with pytest.raises(LookupError), transaction.atomic():
            Utility.objects.update(clock_stands_at=MOVED)
            assert _told(asked=1) == MOVED
            raise LookupError
        assert _told(asked=1) == STANDS
    assert _told(asked=1) == STANDS


@pytest.mark.django_db(transaction=True)
def test_where_a_whole_transaction_may_be_undone_unseen_the_record_is_asked(utility):
    with going_on_by_what_held():
        with pytest.raises(LookupError), transaction.atomic():
            Utility.objects.update(clock_stands_at=MOVED)
            assert _told(asked=1) == MOVED
            raise LookupError
        assert _told(asked=1) == STANDS
