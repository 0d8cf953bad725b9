"""Two plans side by side (constructed)."""

from dataclasses import replace

import pytest

from program.planning.scenarios import PlacedArea, Scenario, compare
from program.planning.solver import draw
from tests.program.planning.cases import small_case


@pytest.fixture(scope="module")
def pair():
    case = small_case()
    plan = draw(case)
    favored = tuple(
        replace(a, priority=a.priority * (20 if a.neighborhood == "H1" else 1)) for a in case.areas
    )
    other = replace(case, areas=favored)
    return scenario(case, plan), scenario(other, draw(other))


def scenario(case, plan):
    year_of = plan.year_of()
    areas = tuple(
        PlacedArea(a.id, a.neighborhood, a.jobs, a.cost, year_of.get(a.id)) for a in case.areas
    )
    return Scenario(areas, {row.year: row.cost for row in plan.years})


def moved(told):
    return sum(len(change.moved) for change in told.neighborhoods)


def test_a_plan_does_not_differ_from_itself(pair):
    told = compare(pair[0], pair[0])
    assert moved(told) == 0
    assert told.cost_before == told.cost_after
    assert all(c.sentence().endswith("does not change.") for c in told.neighborhoods)


def test_favored_neighborhood_comes_earlier(pair):
    told = compare(*pair)
    change = {c.neighborhood: c for c in told.neighborhoods}["H1"]
    assert change.mean_year_after < change.mean_year_before
    assert "earlier" in change.sentence()
    was, now = pair[0].years(), pair[1].years()
    assert moved(told) == sum(was[a] != now[a] for a in was)


def test_costs_and_jobs_are_those_of_the_areas(pair):
    told = compare(*pair)
    total = sum(area.cost for area in pair[0].areas)
    assert told.cost_before == pytest.approx(total)
    assert sum(row["jobs_after"] for row in told.rows()) == sum(area.jobs for area in pair[1].areas)
