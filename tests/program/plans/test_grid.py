"""Scenarios around a plan: solved one by one, shown as they are, never between two of them."""

import json
import os
import shutil
import subprocess
import sys
import time

import pytest
from django.urls import reverse

from program.models import Utility
from program.operations.plans import plan_adopt, plan_draw
from program.operations.plans.grid import axes_of, grid_queue, grid_run
from program.planning.grid import budget_axis, crews_axis, inspections_axis, point_key, points
from program.queries.planning.grid import grid_of, point_of
from program.two_processes import two_at_a_time
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_claim, batch_open, batch_queue, batch_run
from tests.kept import kept

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, NOON, QUICK, WHO, two_hoods


def test_the_sliders_hold_values_around_the_plans_own():
    crews = crews_axis({1: 2, 2: 2})
    assert [value.label for value in crews.values] == ["1 crew", "2 crews", "3 crews", "4 crews"]
    assert crews.values[crews.own].settings == {"crews": 2, "crews_by_year": {}}
    one = crews_axis({1: 1, 2: 3})
    assert one.own == 0 and one.values[0].label == "crews as planned"
    assert one.values[2].settings == {"crews_by_year": {"1": 3, "2": 5}}
    money = budget_axis({1: 1_000.0, 2: None}, [900, 5], {"7": 3})
    assert money.values[money.own].settings == {}
    assert money.values[-1].settings == {"budget_by_year": {"7": 3, "1": 2_000}}
    free = budget_axis({1: None}, [400_000], {})
    assert [value.settings for value in free.values[-2:]] == [{"budget_per_year": 400_000}, {}]
    assert free.own == len(free.values) - 1
    looked = inspections_axis(3, 5, 10)
    assert [value.settings["unknown_years"] for value in looked.values] == [1, 2, 3, 4]
    assert looked.own == 2 and len(inspections_axis(3, 5, 0).values) == 1
    every = list(points((crews, money, looked)))
    assert every[0] == (1, 1, 2) and len(set(every)) == 4 * 4 * 4
    assert every[1] == (2, 1, 2)  # of the nearest the one with most crews


@pytest.fixture
@kept
def plan(db):
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    settings = {**QUICK, "crews": 2, "budget_per_year": 60_000, "unknown_years": 1}
    return plan_draw(settings=settings, as_of=BEFORE, name="Ours", **WHO)


def _solve(plan, only=None):
    batch = grid_queue(plan=plan, by="planner", at=NOON, as_of=BEFORE)
    if only:
        return batch
    return batch_run(batch=batch)


def test_every_scenario_is_what_drawing_with_it_gives(plan):
    batch = _solve(plan)
    assert batch.state == "APPLIED", batch.message
    grid = grid_of(plan)
    assert grid["solved"] == grid["every"] == len(batch.result["cells"])
    own = point_of(grid, {})
    assert own["own"] and own["found"]["cost"] == pytest.approx(
        sum(row["cost"] for row in plan.result["years"])
    )
    axes = axes_of(plan)
    states = set()
    for point in list(points(axes))[::5]:
        given = dict(zip(("crews", "budget", "inspections"), point, strict=True))
        cell = point_of(grid, given)
        changes = [axis.values[k].settings for axis, k in zip(axes, point, strict=True)]
        settings = {**plan.settings, **changes[0], **changes[1], **changes[2]}
        drawn = plan_draw(settings=settings, as_of=BEFORE, **WHO)
        states.add(cell["state"])
        assert (cell["state"] == "NONE") == bool(drawn.result["clash"])
        if cell["found"]:
            assert cell["found"]["complies"] == drawn.forecast["complies_throughout"]
            jobs = [[row["year"], row["jobs"]] for row in drawn.result["years"]]
            assert [row[:2] for row in cell["found"]["years"]] == jobs
    assert states == {"SOLVED", "NONE"}


def test_what_waits_says_so_and_nothing_of_it(plan, manager):  # noqa: F811
    assert (
        "None is solved yet" in manager.get(reverse("plan_grid", args=[plan.pk])).content.decode()
    )
    manager.post(reverse("plan_grid_act", args=[plan.pk]))
    batch = Batch.objects.get(kind="SCENARIOS")
    # Something else that waits goes first, and the scenarios go on behind it.
    other = batch_queue(batch=batch_open(kind="PLAN", by="x", at=NOON, parameters={}))
    assert batch_claim() == other
    assert batch_claim() == batch
    third = batch_queue(batch=batch_open(kind="PLAN", by="x", at=NOON, parameters={}))
    batch.refresh_from_db()
    assert batch_run(batch=batch).state == "QUEUED"
    grid = grid_of(plan)
    assert grid["solved"] == 1 < grid["every"]
    page = reverse("plan_grid", args=[plan.pk])
    own = manager.get(page)
    assert own.context["point"]["state"] == "SOLVED" and "as planned" in own.content.decode()
    other_point = manager.get(page, {"crews": "99", "budget": "0"}).context["point"]
    assert other_point["state"] == "WAITS" and other_point["found"] is None
    told = manager.get(page, {"crews": "3", "budget": "0"}).content.decode()
    assert "not solved yet, so nothing is said of it" in told
    assert f"1 of {grid['every']} scenarios are solved." in told
    refused = manager.post(reverse("plan_grid_act", args=[plan.pk]), {"draw": "1", "crews": "3"})
    assert refused["Location"] == page
    again = manager.post(reverse("plan_grid_act", args=[plan.pk]), follow=True).content.decode()
    assert "are being solved already" in again
    # Taken up again it goes on where it was, and stopped it keeps what is solved.
    third.state = "STOPPED"
    third.save()
    seen = []

    def report(done, total):
        seen.append(done)
        if done == 4:
            raise InterruptedError

    with pytest.raises(InterruptedError):
        grid_run(batch=batch_claim(), report=report)
    assert seen == [1, 2, 3, 4] and grid_of(plan)["solved"] == 4


def test_a_scenario_is_drawn_as_a_plan_and_an_adopted_plan_keeps_its_areas(plan, manager):  # noqa: F811
    plan_adopt(plan=plan, reason="the first", **WHO)
    batch = _solve(plan)
    solved = [key for key, found in batch.result["cells"].items() if found]
    point = next(key for key in solved if key != point_key(next(points(axes_of(plan)))))
    crews, budget, looked = point.split("-")
    sent = {"draw": "1", "crews": crews, "budget": budget, "inspections": looked}
    manager.post(reverse("plan_grid_act", args=[plan.pk]), sent)
    asked = Batch.objects.filter(kind="PLAN").latest("pk")
    assert asked.parameters["settings"]["based_on"] == plan.pk
    assert asked.parameters["name"].startswith("Ours, ")
    ended = batch_run(batch=asked)
    drawn = type(plan).objects.get(pk=ended.result["plan"])
    cost = sum(row["cost"] for row in drawn.result["years"])
    assert cost == pytest.approx(batch.result["cells"][point]["cost"])


@pytest.mark.one_engine
def test_two_at_a_time_give_what_one_gives_and_a_kill_loses_nothing_kept(tmp_path, migrated):
    shutil.copy(migrated, tmp_path)
    here = {**os.environ, "DATA_DIR": str(tmp_path), "DATABASE_URL": ""}

    def run(what):
        command = [sys.executable, "-m", "tests.program.plans.two_grids", what]
        return subprocess.run(command, env=here, capture_output=True, text=True, timeout=300)

    killed = run("killed")
    assert killed.returncode == -9, killed.stderr
    helpers = json.loads(killed.stdout)
    assert len(helpers) == 2
    for _ in range(100):
        left = [pid for pid in helpers if os.path.exists(f"/proc/{pid}")]
        if not left:
            break
        time.sleep(0.1)
    assert not left, "helpers outlive the worker that began them"
    gone_on = run("on")
    assert gone_on.returncode == 0, gone_on.stderr
    found = json.loads(gone_on.stdout)
    assert found["kept"] == 3 and len(found["both"]) > 10
    assert found["both"] == found["alone"]


def test_what_has_begun_is_still_kept_when_something_else_waits():
    asked, begun = [(number,) for number in range(9)], iter((True, True))
    found = dict(two_at_a_time(abs, asked, "", lambda: next(begun, False)))
    assert len(found) in (3, 4)  # two at first; then as many as had ended by the second time
    assert found == {(number,): number for number in range(len(found))}
