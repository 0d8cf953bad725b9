"""Where the program stands, in one sentence with its numbers; cases are constructed."""

from datetime import date
from fractions import Fraction

import pytest

from program.domain.deferral import deferral, deferred_deadline, standard_deadline
from program.domain.replacement_rate import YearRecord
from program.domain.standing import ProgramStatus, standing_of_program

THREE = [YearRecord(1000, 90), YearRecord(950, 95), YearRecord(900, 95)]


def standing(years, as_of, remaining=500, deadline=None):
    return standing_of_program(years, remaining, deadline or standard_deadline(), as_of)


def test_before_the_compliance_date():
    found = standing([], date(2027, 10, 31))
    assert found.status is ProgramStatus.NOT_STARTED
    assert "500 lead, GRR and unknown lines remain" in found.sentence
    assert found.sentence.endswith("As of Oct 31, 2027.")


def test_during_program_year_1():
    found = standing([YearRecord(1000, 20)], date(2028, 6, 1))
    assert found.status is ProgramStatus.NOT_ASSESSED
    assert (found.to_replace, found.to_replace_by) == (80, date(2028, 12, 31))


@pytest.mark.parametrize(
    ("as_of", "status"),
    [
        (date(2030, 12, 30), ProgramStatus.NOT_ASSESSED),
        (date(2030, 12, 31), ProgramStatus.FAILS),
    ],
)
def test_the_third_year_is_assessed_when_it_is_over(as_of, status):
    assert standing(THREE, as_of).status is status


def test_the_sentence_gives_every_number_it_rests_on():
    found = standing(THREE, date(2030, 12, 31))
    assert (found.numerator, found.denominator) == (95, 900)
    assert found.cumulative == Fraction(133, 1350)
    assert found.sentence == (
        "Program year 3: 95 of 900 lines replaced, 10.55%; cumulative average 9.85%, "
        "required 10% (ten-year deadline, Dec 31, 2037): fails the required rate. "
        "500 lead, GRR and unknown lines remain. As of Dec 31, 2030."
    )


def test_a_deferred_deadline_asks_for_less():
    deadline = deferred_deadline(deferral(500, 1000))
    assert standing(THREE, date(2030, 12, 31), deadline=deadline).status is ProgramStatus.MEETS


def test_what_the_running_year_still_needs():
    found = standing([*THREE, YearRecord(900, 30)], date(2031, 5, 1))
    needed = 900 * (Fraction(4, 10) - 3 * Fraction(133, 1350))
    assert found.to_replace == -(-needed // 1) - 30
    assert "more by Dec 31, 2031" in found.sentence


def test_a_year_without_figures_is_incomplete():
    found = standing(THREE[:2], date(2031, 1, 1))
    assert found.status is ProgramStatus.INCOMPLETE
    assert found.cumulative is None
    assert "missing" in found.sentence


def test_an_empty_pool_with_lines_left_is_a_contradiction():
    years = [*THREE[:2], YearRecord(0, 0)]
    assert standing(years, date(2030, 12, 31)).status is ProgramStatus.INCOMPLETE


def test_nothing_left_is_complete():
    found = standing(THREE, date(2031, 5, 1), remaining=0)
    assert found.status is ProgramStatus.COMPLETE
    assert found.to_replace is None


def test_figures_of_a_year_to_come_are_refused():
    with pytest.raises(ValueError, match="program year 3, which has not begun"):
        standing(THREE, date(2029, 12, 31))
