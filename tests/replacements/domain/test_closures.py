"""Which houses a closed block face covers, and how it is told."""

from datetime import date

import pytest

from replacements.domain.closures import ClosedFace, Side

DAYS = date(2032, 4, 1), date(2032, 6, 30)


def face(first, last, side=Side.BOTH):
    return ClosedFace("Brine St", first, last, side, *DAYS, "paved in 2031")


@pytest.mark.parametrize(
    ("first", "last", "side", "covered"),
    [
        (100, 106, Side.BOTH, {100, 101, 103, 106}),
        (100, 106, Side.EVEN, {100, 106}),
        (100, 106, Side.ODD, {101, 103}),
        (None, None, Side.BOTH, {99, 100, 101, 103, 106, 107, None}),
        (None, None, Side.ODD, {99, 101, 103, 107}),
    ],
)
def test_a_face_covers_its_houses_and_no_others(first, last, side, covered):
    houses = (99, 100, 101, 103, 106, 107, None)
    assert {number for number in houses if face(first, last, side).covers(number)} == covered


def test_both_days_belong_to_the_closure():
    closed = face(100, 106)
    days = [date(2032, 3, 31), DAYS[0], DAYS[1], date(2032, 7, 1)]
    assert [closed.closed_on(day) for day in days] == [False, True, True, False]


def test_a_face_is_told_in_words():
    assert face(100, 106, Side.EVEN).sentence == (
        "Brine St 100 to 106, even-numbered side: closed to digging from Apr 1, 2032 to "
        "Jun 30, 2032 (paved in 2031)"
    )
    assert face(None, None).where == "Brine St, both sides"
    assert face(7, 7).where == "Brine St 7, both sides"
