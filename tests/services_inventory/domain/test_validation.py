"""The validation pool, the number, the draw, the judgment of a visit, the report."""

import tomllib
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.classification import Category
from services_inventory.domain.evidence import PoolStatus, Portion, PortionStanding
from services_inventory.domain.materials import Material
from services_inventory.domain.regulation import inventory_rules
from services_inventory.domain.validation import (
    Draw,
    VisitResult,
    deadline,
    draw,
    error_interval,
    judge,
    membership,
    points_missing,
    pool_digest,
    report,
    required_validations,
    to_visit,
)

S, C = Portion.SYSTEM, Portion.CUSTOMER
CASES = tomllib.loads((Path(__file__).parent / "cases" / "validation.toml").read_text())


def standing(portion, status, points=0, material=Material.COPPER) -> PortionStanding:
    return PortionStanding(portion, material, (1,), "constructed", status, points)


# The number


@pytest.mark.parametrize("case", CASES["required"], ids=lambda case: str(case["pool"]))
def test_required_number_on_both_sides_of_every_row(case):
    assert required_validations(case["pool"]) == case["required"]


@given(st.integers(0, 200_000))
def test_never_more_than_the_pool_and_never_falling(pool):
    assert 0 <= required_validations(pool) <= pool
    assert required_validations(pool + 1) >= required_validations(pool)


def test_negative_pool_is_refused():
    with pytest.raises(ValueError, match="cannot hold -1 lines"):
        required_validations(-1)


def test_state_value_changes_the_number():
    from dataclasses import replace

    rules = inventory_rules()
    row = rules.latest("VALIDATION_LARGEST_COUNT")
    own = replace(row, jurisdiction="STATE", value=500, author="A. Clerk", reason="State code")
    assert required_validations(60_000, rules.with_overrides([own])) == 500


def test_deadline_is_cited():
    assert deadline(date(2028, 1, 1)).value == date(2034, 12, 31)
    assert "141.84(b)(5)" in deadline(date(2028, 1, 1)).citation


# The pool


@pytest.mark.parametrize("case", CASES["pool"], ids=lambda case: case["says"])
def test_membership(case):
    portions = [
        standing(
            Portion(name),
            PoolStatus(side["status"]) if "status" in side else None,
            side.get("points", 0),
            Material(side.get("material", "COPPER")),
        )
        for name, side in case["portions"].items()
    ]
    found = membership(Category(case.get("category", "NON_LEAD")), portions)
    assert (found.in_pool, found.rule_id) == (case["in_pool"], case["rule"])
    assert found.reason.endswith(".")
    assert found.rule_id in inventory_rules().ids()


@pytest.mark.parametrize(
    ("points", "missing"),
    [
        ({S: 1, C: 1}, {}),
        ({S: 2, C: 0}, {C: 1}),
        ({S: 0, C: 0}, {S: 1, C: 1}),
        ({S: 1, C: 0}, {C: 1}),
        ({C: 1}, {C: 1}),
        ({C: 2}, {}),
        ({C: 0}, {C: 2}),
    ],
)
def test_points_missing(points, missing):
    assert points_missing(points) == missing


@given(st.dictionaries(st.sampled_from([S, C]), st.integers(0, 3), min_size=1))
def test_points_missing_are_enough(points):
    missing = points_missing(points)
    filled = {portion: seen + missing.get(portion, 0) for portion, seen in points.items()}
    assert points_missing(filled) == {}


# The draw


def test_draw_is_the_order_of_the_digests():
    ids = ["L-1", "L-2", "L-3", "L-4"]
    by_hand = sorted(ids, key=lambda line: sha256(f"2028:{line}".encode()).hexdigest())
    drawn = draw(ids, 2, 2028)
    assert [*drawn, *drawn.reserve] == by_hand
    # printf '%s' '2028:L-3' | sha256sum
    assert sha256(b"2028:L-3").hexdigest() == CASES["digest_of_2028_L_3"]


@given(st.sets(st.integers(), max_size=50), st.integers(0, 50), st.integers(), st.randoms())
def test_draw_is_reproducible_complete_and_without_replacement(ids, count, seed, random):
    count = min(count, len(ids))
    shuffled = list(ids)
    random.shuffle(shuffled)
    first, second = draw(ids, count, seed), draw(shuffled, count, seed)
    assert (first, first.reserve) == (second, second.reserve)
    assert len(first) == count
    assert sorted([*first, *first.reserve]) == sorted(ids)


def test_a_line_more_leaves_the_others_in_their_order():
    small, large = draw(range(100), 100, 1), draw(range(101), 101, 1)
    assert [line for line in large if line != 100] == small


def test_another_seed_gives_another_draw():
    assert draw(range(1000), 20, 1) != draw(range(1000), 20, 2)


@pytest.mark.parametrize(
    ("ids", "count", "words"),
    [([1, 1], 1, "occurs twice"), ([1, 2], 3, "from a pool of 2"), ([1], -1, "cannot be drawn")],
)
def test_impossible_draw_is_refused(ids, count, words):
    with pytest.raises(ValueError, match=words):
        draw(ids, count, 1)


def test_pool_digest_does_not_depend_on_order():
    assert pool_digest([3, 1, 2]) == pool_digest([1, 2, 3]) != pool_digest([1, 2])


# Visits and report


@pytest.mark.parametrize(
    ("found", "points", "accessible", "outcome"),
    [
        ("LEAD", {S: 1}, True, "FOUND_LEAD"),
        ("GRR", {S: 0, C: 1}, True, "FOUND_GRR"),
        ("NON_LEAD", {S: 1, C: 1}, True, "CONFIRMED"),
        ("NON_LEAD", {S: 2, C: 0}, True, "OPEN"),
        ("NON_LEAD", {C: 1}, True, "OPEN"),
        ("NON_LEAD", {C: 2}, True, "CONFIRMED"),
        ("UNKNOWN", {S: 1, C: 1}, True, "OPEN"),
        ("NON_LEAD", {C: 0}, False, "NO_ACCESS"),
        ("LEAD", {C: 1}, False, "FOUND_LEAD"),
        ("NON_LEAD", {}, True, "OPEN"),
    ],
)
def test_judgment_of_a_visit(found, points, accessible, outcome):
    assert judge(Category(found), points, accessible) == VisitResult(outcome)


def test_reserve_follows_in_order_even_for_a_line_called_nought():
    drawn = Draw(["a", "b"], reserve=[0, "c"])
    assert to_visit(drawn, {}) == ["a", "b"]
    assert to_visit(drawn, {"b": VisitResult.NO_ACCESS}) == ["a", "b", 0]
    no_access = {"b": VisitResult.NO_ACCESS, 0: VisitResult.NO_ACCESS}
    assert to_visit(drawn, no_access) == ["a", "b", 0, "c"]
    assert to_visit(drawn, {**no_access, "c": VisitResult.NO_ACCESS}) == ["a", "b", 0, "c"]


def test_report_counts_the_required_number_whatever_the_access():
    drawn = draw(range(100), 20, 7)
    outcomes = dict.fromkeys(drawn, VisitResult.CONFIRMED)
    outcomes[drawn[0]] = VisitResult.NO_ACCESS
    outcomes[drawn[1]] = VisitResult.FOUND_LEAD
    outcomes[drawn[2]] = VisitResult.FOUND_GRR
    found = report(100, drawn, outcomes, date(2030, 1, 1))
    assert (found.required, found.validated, found.still_to_validate) == (20, 19, 1)
    assert (found.no_access, found.found_lead, found.found_grr) == (1, (drawn[1],), (drawn[2],))
    assert not found.is_complete
    outcomes[drawn.reserve[0]] = VisitResult.CONFIRMED
    assert report(100, drawn, outcomes, date(2030, 1, 1)).is_complete


def test_report_refuses_lines_that_were_not_drawn():
    drawn = draw(range(100), 20, 7)
    with pytest.raises(ValueError, match="neither drawn nor next in the reserve"):
        report(100, drawn, {drawn.reserve[0]: VisitResult.CONFIRMED}, date(2030, 1, 1))


@pytest.mark.parametrize("bad", [(0, 0), (3, 2), (-1, 5)])
def test_interval_of_no_share_is_refused(bad):
    with pytest.raises(ValueError, match="is not a share"):
        error_interval(*bad)
    with pytest.raises(ValueError, match="between 0 and 1"):
        error_interval(1, 10, confidence=95)


def test_why_a_line_is_out_of_the_pool_is_said_of_each_portion():
    """One portion's reason may not speak for the other."""
    portions = [
        PortionStanding(Portion.SYSTEM, Material.COPPER, (), "", PoolStatus.OUT_BAN, 0),
        PortionStanding(Portion.CUSTOMER, Material.COPPER, (), "", PoolStatus.OUT_REPLACED, 0),
    ]
    assert membership(Category.NON_LEAD, portions).reason == (
        "System side: records show that it was laid after the lead ban; customer side: it was "
        "replaced."
    )
