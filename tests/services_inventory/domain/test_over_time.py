"""The picture of categories over time: days that are few, figures that are those of its rows."""

import re
from datetime import date, timedelta

import pytest

from services_inventory.domain.over_time import (
    MOST_DAYS,
    day_by_day,
    days_between,
    over_time,
    told_over_time,
)

FIRST, LAST = date(2030, 3, 5), date(2031, 1, 15)


def counts(lead=0, grr=0, unknown=0, non_lead=0):
    return {"LEAD": lead, "GRR": grr, "UNKNOWN": unknown, "NON_LEAD": non_lead}


@pytest.mark.parametrize("days", [1, 40, 48, 49, 300, 337, 900, 4_000, 20_000, 60_000])
def test_days_begin_and_end_the_time_and_are_few(days):
    first = LAST - timedelta(days)
    found = days_between(first, LAST)
    assert found[0] == first and found[-1] == LAST and found == sorted(set(found))
    assert len(found) <= MOST_DAYS + 3


def test_days_between_are_ends_of_months():
    found = days_between(date(2029, 1, 31), date(2030, 3, 31))
    assert date(2029, 2, 28) in found and date(2030, 2, 28) in found
    assert all((day + timedelta(1)).day == 1 for day in found)


def test_the_last_change_of_a_day_holds():
    changes = [(FIRST, "LEAD"), (FIRST, "UNKNOWN"), (LAST, "UNKNOWN"), (LAST, None)]
    assert list(day_by_day(changes)) == [(None, "UNKNOWN", FIRST), ("UNKNOWN", None, LAST)]


@pytest.mark.parametrize(
    ("before", "now", "said"),
    [
        (counts(1, 0, 0, 5), counts(0, 0, 0, 6), "1 line was lead"),
        (counts(2, 3, 4), counts(1, 2, 3), "and 6 on Jan 15, 2031: 3 fewer."),
        (counts(2), counts(2, 0, 1_000), "and 1,002 on Jan 15, 2031: 1,000 more."),
        (counts(2), counts(0, 0, 2), "and 2 on Jan 15, 2031: as many."),
    ],
)
def test_the_sentence_leaves_out_what_is_not_lead(before, now, said):
    assert said in told_over_time([(FIRST, before), (LAST, now)])


def test_every_category_has_its_strip_with_its_last_figure_inside_the_picture():
    rows = [(FIRST, counts(7, 0, 1_000_000, 20)), (LAST, counts(3, 0, 900_001, 30))]
    svg = over_time(rows)
    for words in ("Lead<", "Galvanized requiring replacement", "Lead status unknown", "Non-lead"):
        assert words in svg
    assert "lead 7, then 3" in svg and "unknown 1,000,000, then 900,001" in svg
    width = float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1])
    ends = [float(x) for x in re.findall(r'<text x="([\d.]+)"[^>]*>900,001<', svg)]
    assert ends and all(x + 9 * len("900,001") <= width for x in ends)


def test_a_line_falls_where_its_count_falls():
    svg = over_time([(FIRST, counts(lead=9)), (LAST, counts(lead=0))])
    way = re.search(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)"[^>]*stroke-width="4', svg)
    x, y, to_x, to_y = map(float, way.groups())
    assert to_x > x and to_y - y == pytest.approx(48)
