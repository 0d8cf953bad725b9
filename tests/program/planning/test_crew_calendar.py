"""The crew calendar: days that are worked, paper that is in time, a year taken up again midway."""

import csv
import io
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from program.planning.charts import gantt_svg
from program.planning.crew_calendar import (
    BadCalendar,
    CrewArea,
    WorkDays,
    calendar,
    csv_rows,
    ics_bytes,
    replan,
    working_days,
)
from services_inventory.domain.days import day_told

FIRST, LAST = date(2028, 3, 1), date(2028, 12, 31)
SVG = "{http://www.w3.org/2000/svg}"
DAYS = WorkDays(jobs_per_day=2, weekdays=(0, 1, 2, 3), frost=((12, 15), (3, 14)))


def _areas(count=5, crew=1, jobs=30):
    return [CrewArea(f"A{crew}{k}", crew, jobs, 43.0, -88.0 + k / 1000) for k in range(count)]


def test_areas_follow_each_other_along_the_street():
    rows = calendar(_areas(), DAYS, FIRST, LAST)
    assert [row.area_id for row in rows] in (
        ["A10", "A11", "A12", "A13", "A14"],
        ["A14", "A13", "A12", "A11", "A10"],
    )
    assert [row.work_days for row in rows] == [15] * 5
    for before, after in zip(rows, rows[1:], strict=False):
        assert before.finish < after.start


def test_no_work_in_frost_on_holidays_or_off_days():
    open_days = set(working_days(DAYS, FIRST, LAST))
    rows = calendar(_areas(), DAYS, FIRST, LAST)
    # 14 March is the last day of frost; the 15th is a Wednesday.
    assert rows[0].start == date(2028, 3, 15)
    assert date(2028, 7, 4) not in open_days
    assert date(2028, 9, 4) not in open_days
    assert not any(day.weekday() >= 4 for day in open_days)
    assert date(2028, 12, 15) not in open_days
    assert date(2028, 12, 14) in open_days
    assert all({row.start, row.finish} <= open_days for row in rows)


def test_frost_may_lie_within_one_year():
    days = WorkDays(jobs_per_day=2, weekdays=(0,), frost=((1, 1), (2, 28)), federal_holidays=False)
    assert working_days(days, date(2027, 1, 1), date(2027, 3, 2)) == [date(2027, 3, 1)]


def test_paper_is_due_its_lead_time_before_the_start():
    row = calendar(_areas(1), DAYS, date(2028, 6, 1), LAST)[0]
    assert row.start == date(2028, 6, 1)
    assert row.consent_by == row.start - timedelta(42)
    assert row.permit_by == date(2028, 5, 2)
    # Three business days before Thursday 1 June, past Memorial Day (29 May): 26 May.
    assert row.locate_by == date(2028, 5, 26)
    assert "Consent letters should have gone by Apr 20, 2028." in row.notes


def test_area_that_must_wait_lets_the_next_go_first():
    areas = _areas(3)
    wait = date(2028, 8, 7)
    areas[0] = CrewArea("A10", 1, 30, 43.0, -88.0, not_before=wait)
    rows = calendar(areas, DAYS, FIRST, LAST)
    assert rows[-1].area_id == "A10"
    assert rows[-1].start == wait
    assert f"Waits for {day_told(wait)}." in rows[-1].notes


def test_closed_dates_are_left_free():
    closed = ((date(2028, 3, 20), date(2028, 4, 2)),)
    area = CrewArea("A", 1, 8, 43.0, -88.0, closed=closed)
    row = calendar([area], DAYS, FIRST, LAST)[0]
    # 15, 16 March, then 3, 4 April.
    assert (row.start, row.finish, row.work_days) == (date(2028, 3, 15), date(2028, 4, 4), 4)


def test_work_past_the_year_says_so():
    rows = calendar(_areas(20), DAYS, FIRST, LAST)
    assert f"Runs past {day_told(LAST)}." in rows[-1].notes
    assert len(rows) == 20


def test_plan_from_today_drops_what_is_done_and_goes_on_with_what_is_begun():
    areas = _areas(4)
    rows = replan(areas, {"A10": 30, "A12": 11}, DAYS, date(2028, 6, 5), LAST)
    assert {row.area_id for row in rows} == {"A11", "A12", "A13"}
    assert (rows[0].area_id, rows[0].jobs, rows[0].start) == ("A12", 19, date(2028, 6, 5))


def test_crews_have_calendars_of_their_own():
    rows = calendar(_areas(2, 1) + _areas(2, 2), DAYS, FIRST, LAST)
    starts = [row.start for row in rows if row.order == 1]
    assert starts == [date(2028, 3, 15)] * 2


def test_faulty_settings_are_told():
    with pytest.raises(BadCalendar, match="No weekday"):
        calendar(_areas(), WorkDays(weekdays=()), FIRST, LAST)
    with pytest.raises(BadCalendar, match="No working day is left"):
        calendar(_areas(), WorkDays(frost=((1, 1), (12, 31))), FIRST, LAST)
    with pytest.raises(BadCalendar, match="more than zero"):
        calendar(_areas(), WorkDays(jobs_per_day=0), FIRST, LAST)


def test_calendar_file_is_read_back_by_icalendar():
    from icalendar import Calendar

    rows = calendar(_areas(3), DAYS, FIRST, LAST)
    text = ics_bytes(rows, name="Crew 1", stamped=date(2028, 1, 3))
    assert text == ics_bytes(rows, name="Crew 1", stamped=date(2028, 1, 3))
    events = Calendar.from_ical(text).walk("VEVENT")
    assert [event["dtstart"].dt for event in events] == [row.start for row in rows]
    assert [event["dtend"].dt for event in events] == [r.finish + timedelta(1) for r in rows]
    assert len({str(event["uid"]) for event in events}) == 3


def test_csv_and_picture_carry_every_area():
    rows = calendar(_areas(3), DAYS, FIRST, LAST)
    read = list(csv.DictReader(io.StringIO(csv_rows(rows))))
    assert [line["area_id"] for line in read] == [row.area_id for row in rows]
    assert read[0]["start"] == "2028-03-15"
    picture = ElementTree.fromstring(gantt_svg(rows))
    text = " ".join(picture.itertext())
    assert all(row.area_id in text for row in rows)
    assert "No work is planned." in gantt_svg([])


def test_a_new_crew_does_half_of_its_jobs_on_its_first_days():
    areas = [*_areas(2), *_areas(2, crew=2)]
    plain = calendar(areas, DAYS, FIRST, LAST)
    slow = calendar(areas, DAYS, FIRST, LAST, {2: 20})
    assert [row.work_days for row in slow if row.crew == 1] == [15, 15]
    # Twenty days at one job are twenty; the other ten of the first thirty at two are five more.
    assert [row.work_days for row in slow if row.crew == 2] == [25, 15]
    assert sum(row.work_days for row in slow) == sum(row.work_days for row in plain) + 20 // 2
    done = replan(areas, {}, DAYS, FIRST, LAST, {2: 20})
    assert [row.finish for row in done] == [row.finish for row in slow]


def test_days_of_restoring_follow_an_area_and_parts_of_a_day_are_kept():
    days = replace(DAYS, restoring=0.25)  # fifteen days of replacing owe three and three quarters
    open_days = working_days(days, FIRST, LAST)
    rows = calendar(_areas(3), days, FIRST, LAST)
    at = {day: k for k, day in enumerate(open_days)}
    restored = [at[row.restored] - at[row.finish] for row in rows]
    assert restored == [3, 4, 5]  # 3.75, 7.5 and 11.25, the last rounded up
    for before, after in pairwise(rows):
        assert at[after.start] == at[before.restored] + 1
    assert next(csv.DictReader(io.StringIO(csv_rows(rows))))["restored"] == str(rows[0].restored)
    book = ics_bytes(rows, name="Crew 1", stamped=FIRST).decode().replace("\r\n ", "")
    assert f"Ground restored by {rows[0].restored}" in book


def test_ground_is_restored_while_the_street_is_closed_but_not_while_the_crew_is_away():
    days = WorkDays(jobs_per_day=2, restoring=0.5, weekdays=(0, 1, 2, 3, 4), federal_holidays=False)
    shut = (date(2028, 5, 5), date(2028, 12, 31))
    area = CrewArea("A", 1, 8, 43.0, -88.0, closed=(shut,))
    (row,) = calendar([area], days, date(2028, 5, 1), LAST)
    assert (row.finish, row.restored) == (date(2028, 5, 4), date(2028, 5, 8))
    gone = replace(area, away=((date(2028, 5, 5), date(2028, 5, 14)),))
    (row,) = calendar([gone], days, date(2028, 5, 1), LAST)
    assert row.restored == date(2028, 5, 16)


def test_a_number_stands_in_its_bar_or_behind_it():
    rows = calendar(_areas(3), DAYS, FIRST, LAST)
    narrow = replace(rows[0], finish=rows[0].start, jobs=12)
    late = replace(rows[1], start=LAST - timedelta(3), finish=LAST)
    for group in ElementTree.fromstring(gantt_svg([narrow, late])).iter(f"{SVG}g"):
        bar, number = group.find(f"{SVG}rect"), group.findall(f"{SVG}text")[-1]
        left, wide = float(bar.get("x")), float(bar.get("width"))
        at, room = float(number.get("x")), 8 * len(number.text)
        assert at > left + wide or at + room < left + wide
