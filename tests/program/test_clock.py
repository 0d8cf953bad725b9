"""The program's clock: the real one, or a scenario's day, on which it is afternoon."""

from datetime import UTC, date, datetime

import pytest
import time_machine
from django.utils.timezone import localtime

from program.clock import now, today
from program.models import Utility

pytestmark = pytest.mark.django_db
DAY = date(2031, 1, 15)


def test_without_a_scenario_the_real_clock_runs():
    with time_machine.travel(datetime(2029, 5, 6, 7, tzinfo=UTC), tick=False):
        assert now() == datetime(2029, 5, 6, 7, tzinfo=UTC)
        assert today() == date(2029, 5, 6)


def test_what_is_recorded_now_is_later_than_a_scenarios_morning_and_in_order():
    """Else a correction made before eight would be older than the submission that it corrects."""
    Utility.objects.create(name="Quillwater", clock_stands_at=DAY)
    seen = []
    for hour in (5, 9, 14, 23):  # midnight is at 5 in the winter of the tests' time zone
        with time_machine.travel(datetime(2029, 1, 6, hour, tzinfo=UTC), tick=False):
            seen.append(localtime(now()))
    assert {moment.date() for moment in seen} == {DAY}
    assert seen == sorted(seen)
    assert seen[0].hour == 12
