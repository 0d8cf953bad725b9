"""Money bound to places in the planning model, against trying every plan."""

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from program.planning.solver import BoundMoney, draw
from tests.program.planning.cases import small_case
from tests.program.planning.enumerated import every_plan, payable


def _bound_case(seed):
    """Years in which a part of the money, drawn at random, may only be spent in some places."""
    rng, case = random.Random(seed), small_case(seed=seed, move_weight=0.0, rate=Fraction(1, 20))
    areas = tuple(replace(a, neighborhood=f"H{k % 3}") for k, a in enumerate(case.areas))
    years = []
    for year in case.years:
        bound = tuple(
            BoundMoney(
                year.budget * rng.uniform(0.1, 0.4),
                frozenset(rng.sample(["H0", "H1", "H2"], rng.randint(1, 2))),
            )
            for _ in range(rng.randint(1, 2))
        )
        budget = year.budget * rng.uniform(0.75, 1.05)
        years.append(replace(year, budget=budget, set_aside=budget * 0.03, bound=bound))
    return replace(case, areas=areas, years=tuple(years))


@pytest.mark.parametrize("seed", range(12))
def test_money_bound_to_places_is_spent_there_and_no_plan_is_missed(seed):
    """Enumeration of all years; what may be paid for, by Hall's condition on all sets."""
    case = _bound_case(seed)
    plan, best = draw(case), every_plan(case)
    if best is None:
        assert plan.status == "INFEASIBLE"
    else:
        assert plan.objective == pytest.approx(best, rel=1e-9)
        years = plan.year_of()
        for year in case.years:
            assert payable(year, [a for a in case.areas if years[a.id] == year.year])


def test_some_of_these_plans_would_be_others_if_the_money_could_go_anywhere():
    free = [
        replace(case, years=tuple(replace(year, bound=()) for year in case.years))
        for case in map(_bound_case, range(12))
    ]
    told = [(draw(_bound_case(k)).objective, draw(case).objective) for k, case in enumerate(free)]
    assert any(bound is None and other is not None for bound, other in told)
    assert any(bound and bound > other + 1e-6 for bound, other in told if other is not None)
