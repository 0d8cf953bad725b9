"""The weeks of a running program year, against sums worked out day by day."""

import random
from datetime import date, timedelta

import pytest

from program.planning.pace import PlannedJobs, idle_days, weeks_of

FIRST, LAST = date(2031, 1, 1), date(2031, 12, 31)
WORK_DAYS = [
    day for k in range(365) if (day := FIRST + timedelta(k)).weekday() < 4
]  # fmt: skip


def strip(**changes):
    values = {
        "done": {}, "needed": 73, "areas": [], "work_days": WORK_DAYS, "drawn_on": FIRST,
        "ends": None,
    } | changes  # fmt: skip
    return weeks_of(FIRST, LAST, values.pop("as_of", date(2031, 3, 5)), **values)


def test_the_year_is_parted_into_weeks_with_today_among_them():
    weeks = strip()
    assert [week.last_day for week in weeks[:2]] == [date(2031, 1, 7), date(2031, 1, 14)]
    assert weeks[-1].last_day == LAST and weeks[-1].number == 53
    today = [week for week in weeks if week.last_day == date(2031, 3, 5)]
    assert len(today) == 1 and today[0].number == 10
    assert [week.done is None for week in weeks] == [w.last_day > date(2031, 3, 5) for w in weeks]


def test_the_need_rises_evenly_to_that_of_the_year():
    weeks = strip()
    assert weeks[-1].needed == 73 and weeks[0].needed == pytest.approx(73 * 7 / 365)
    assert {week.needed for week in strip(needed=None)} == {None}


@pytest.mark.parametrize("seed", range(6))
def test_planned_jobs_are_those_of_the_days_gone(seed):
    draw = random.Random(seed)
    areas = []
    for _ in range(8):
        start = draw.randrange(len(WORK_DAYS) - 20)
        end = start + draw.randrange(20)
        areas.append(PlannedJobs(draw.randint(1, 40), WORK_DAYS[start], WORK_DAYS[end]))
    for week in strip(areas=areas):
        told = 0.0
        for area in areas:
            own = [day for day in WORK_DAYS if area.first <= day <= area.last]
            told += area.jobs * sum(day <= week.last_day for day in own) / len(own)
        assert week.planned == pytest.approx(told)


def test_the_plan_begins_with_what_was_done_and_the_fan_opens_with_its_jobs():
    done = {date(2031, 1, 10): 2, date(2031, 2, 20): 3}
    areas = [PlannedJobs(8, date(2031, 2, 3), date(2031, 2, 6)), PlannedJobs(2, None, None)]
    weeks = strip(done=done, areas=areas, drawn_on=date(2031, 2, 1), ends=(5.0, 12.0))
    by_day = {week.last_day: week for week in weeks}
    assert by_day[date(2031, 1, 7)].planned is None
    before = by_day[date(2031, 2, 4)]
    assert before.planned == 2 + 4  # two of the four days of the first area are gone
    assert (before.low, before.high) == (2 + 5 * 0.4, 2 + 12 * 0.4)
    assert (weeks[-1].planned, weeks[-1].low, weeks[-1].high) == (12, 7, 14)
    assert by_day[date(2031, 3, 5)].done == 5


def test_a_crew_is_idle_on_working_days_without_an_area():
    until = date(2031, 1, 16)
    past = [day for day in WORK_DAYS if day <= until]
    busy = {1: [(past[0], past[3])], 2: [(past[0], until)]}
    assert idle_days(busy, 2, WORK_DAYS, until) == len(past) - 4
    assert idle_days({}, 0, WORK_DAYS, until) == 0
