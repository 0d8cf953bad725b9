"""The replacement pool and its movement; P1 and P2 are constructed from the formula."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.regulation import RULES
from program.domain.replacement_pool import (
    CategoryStep,
    PoolBasis,
    PoolLine,
    PoolMovement,
    freeze,
    movement,
    next_snapshot,
)
from services_inventory.domain.classification import Category
from tests.program.domain.test_calendar import override

LEAD, GRR, NON_LEAD, UNKNOWN = Category.LEAD, Category.GRR, Category.NON_LEAD, Category.UNKNOWN
IN_YEAR_1 = date(2028, 6, 1)


def step(line_id, before, after, day=IN_YEAR_1, replaced=False):
    return CategoryStep(line_id, before, after, day, replaced)


def baseline():
    return freeze(
        [
            PoolLine("lead", LEAD),
            PoolLine("grr", GRR),
            PoolLine("unknown", UNKNOWN),
            PoolLine("no access", LEAD, under_control=False),
            PoolLine("copper", NON_LEAD),
        ],
        program_year=1,
    )


def test_the_pool_is_frozen_on_the_first_day_with_both_bases():
    pool = baseline()
    assert pool.frozen_on == date(2027, 11, 1)
    assert pool.line_ids == {"lead", "grr", "unknown", "no access"}
    assert (pool.size, pool.size_on(PoolBasis.UNDER_CONTROL)) == (4, 3)


def test_the_basis_is_a_setting():
    controlled = RULES.with_overrides([override("POOL_BASIS", "UNDER_CONTROL")])
    lines = [PoolLine(1, LEAD), PoolLine(2, LEAD, under_control=False)]
    assert freeze(lines, 1).size == 2
    assert freeze(lines, 1, controlled).size == 1


def test_a_line_listed_twice_is_refused():
    with pytest.raises(ValueError, match="twice"):
        freeze([PoolLine(1, LEAD), PoolLine(1, GRR)], 1)


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        ([step("copper", NON_LEAD, LEAD)], {"found_lead_or_grr": {"copper"}}),
        ([step("copper", NON_LEAD, GRR)], {"found_lead_or_grr": {"copper"}}),
        ([step("unknown", UNKNOWN, NON_LEAD)], {"found_non_lead": {"unknown"}}),
        ([step("unknown", UNKNOWN, LEAD)], {}),
        ([step("lead", LEAD, NON_LEAD, replaced=True)], {}),
        ([step("lead", LEAD, NON_LEAD)], {"lead_found_wrong": {"lead"}}),
        ([step("copper", NON_LEAD, UNKNOWN)], {"now_unknown": {"copper"}}),
        ([step("new", None, LEAD)], {"found_lead_or_grr": {"new"}}),
        (
            [
                step("unknown", UNKNOWN, LEAD, date(2028, 2, 1)),
                step("unknown", LEAD, NON_LEAD, date(2028, 3, 1)),
            ],
            {"found_non_lead": {"unknown"}},
        ),
        (
            [
                step("unknown", UNKNOWN, LEAD, date(2028, 2, 1)),
                step("unknown", LEAD, NON_LEAD, date(2028, 3, 1), replaced=True),
            ],
            {},
        ),
        (
            [
                step("copper", NON_LEAD, LEAD, date(2028, 2, 1)),
                step("copper", LEAD, NON_LEAD, date(2028, 3, 1), replaced=True),
            ],
            {"found_lead_or_grr": {"copper"}},
        ),
    ],
    ids=[
        "non-lead found lead comes in",
        "non-lead found GRR comes in",
        "unknown found non-lead goes out",
        "unknown found lead stays",
        "a replaced line stays",
        "lead found wrong stays and is named",
        "non-lead now unknown is named",
        "a line nobody had listed comes in",
        "a year's changes count together",
        "found lead and replaced in the same year stays",
        "found lead and replaced in the same year comes in",
    ],
)
def test_what_a_finding_does_to_the_pool(steps, expected):
    assert movement(baseline(), steps) == PoolMovement(
        1, **{name: frozenset(ids) for name, ids in expected.items()}
    )


@pytest.mark.parametrize(
    ("day", "moves"),
    [
        (date(2027, 10, 31), False),
        (date(2027, 11, 1), True),
        (date(2028, 12, 31), True),
        (date(2029, 1, 1), False),
    ],
)
def test_only_the_years_own_findings_move_it(day, moves):
    found = movement(baseline(), [step("copper", NON_LEAD, LEAD, day)])
    assert bool(found.found_lead_or_grr) is moves


def test_the_next_pool_is_this_one_plus_a_minus_b():
    pool = baseline()
    moved = movement(pool, [step("copper", NON_LEAD, LEAD), step("unknown", UNKNOWN, NON_LEAD)])
    following = next_snapshot(pool, moved)
    assert following.program_year == 2
    assert following.frozen_on == date(2029, 1, 1)
    assert following.line_ids == {"lead", "grr", "no access", "copper"}
    assert following.under_control_ids == {"lead", "grr", "copper"}
    regained = next_snapshot(pool, moved, under_control=["no access", "lead", "elsewhere"])
    assert regained.under_control_ids == {"no access", "lead"}
    with pytest.raises(ValueError, match="program year 1"):
        next_snapshot(following, moved)


@given(st.sets(st.integers(0, 99)), st.sets(st.integers(0, 199)))
def test_the_line_list_agrees_with_the_formula(in_pool, touched):
    pool = freeze([PoolLine(n, UNKNOWN) for n in in_pool], 1)
    steps = [
        step(n, UNKNOWN, NON_LEAD) if n in in_pool else step(n, NON_LEAD, LEAD) for n in touched
    ]
    moved = movement(pool, steps)
    a, b = len(moved.found_lead_or_grr), len(moved.found_non_lead)
    assert next_snapshot(pool, moved).size == pool.size + a - b
    assert a + b == len(touched)
