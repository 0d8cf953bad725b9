"""The next steps of a plan: tried by the worker, ranked for dollars entered, done by a button."""

import pytest
from django.urls import reverse

from program.models import Plan, Utility
from program.operations.plans import PlanError, next_steps, plan_adopt, plan_draw
from program.operations.plans.advice import drawn_from
from program.operations.plans.case import Record
from program.operations.plans.next_steps import _consents
from program.operations.plans.odds import forecast_case
from program.planning.forecast.steps import success
from program.queries.planning.asked import PlanAsked
from replacements.models import Consent
from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import batch_run
from tests.kept import kept

from .test_advice import big_town
from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, NOON, QUICK, WHO

pytestmark = pytest.mark.django_db
TIGHT = {"jobs_per_crew_day": 0.22, "crews": 1, "windows": [
    {"place": "West", "kind": "CLOSED", "first": "2027-11-01", "last": "2029-12-31"},
]}  # fmt: skip


@pytest.fixture
@kept
def plan():
    big_town()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    return plan_draw(settings={**QUICK, **TIGHT}, as_of=BEFORE, **WHO)


def test_each_step_is_the_plan_with_that_one_change(plan):
    assert not plan.result["clash"]
    found = next_steps(plan=plan, as_of=BEFORE)
    kinds = {step["kind"] for step in found["steps"]}
    assert {"Inspect", "Hire", "Pave later"} <= kinds
    assert len(found["points"]) == len(found["steps"]) == len(found["covariance"])
    # A step that is a change of the settings gives the odds of the plan drawn with it.
    hire = next(k for k, step in enumerate(found["steps"]) if step["kind"] == "Hire")
    settings = {**plan.settings, **found["steps"][hire]["settings"]}
    after = plan_draw(settings=settings, as_of=BEFORE, **WHO)
    both = [
        min(one.forecast["complies_throughout"], one.forecast["finishes"]) for one in (plan, after)
    ]
    assert found["points"][hire] >= 0 and both[1] >= both[0]
    assert Plan.objects.get(pk=plan.pk).result["next_steps"] == found


def test_consent_asked_for_lets_crews_begin_sooner(plan):
    """A plan drawn within the running year: some owners have answered, the others are asked."""
    given = {"answer": "GIVEN", "answered_on": BEFORE, "recorded_by": "x", "recorded_at": NOON}
    Consent.objects.bulk_create(
        Consent(line=line, **given)
        for line in ServiceLine.objects.filter(location_id__startswith="ALDER")
    )
    asked = PlanAsked.of({**plan.settings, "consent_lead_days": 400})
    draft, drawn = drawn_from(BEFORE, asked, Record.read(1, BEFORE))
    case = forecast_case(draft, drawn)
    steps = list(_consents(BEFORE, draft, drawn, case))
    answered = {line.location_id for line in ServiceLine.objects.filter(consents__isnull=False)}
    for step in steps:
        area = next(one for one in draft.grouping.areas if one.id == step.area)
        assert step.number == len(set(area.line_ids) - answered)
        assert step.case.parts[0] >= case.parts[0] and step.case.parts[1:] == case.parts[1:]
        assert success(step.case).mean() >= success(case).mean()
    assert steps


def test_the_page_ranks_for_the_dollars_entered_and_draws_with_a_step(plan, manager):  # noqa: F811
    page = reverse("plan_next", args=[plan.pk])
    assert "No next step was tried" in manager.get(page).content.decode()
    answer = manager.post(reverse("plan_next_try", args=[plan.pk]))
    batch = Batch.objects.latest("pk")
    batch_run(batch=batch)
    assert manager.get(answer.url).url == page
    found = manager.get(page).context["found"]
    rows = found["rows"] + found["unseen"]
    assert len(rows) == len(found["steps"])
    dear = manager.get(page, {"inspection": 1, "owner": 1, "crew-year": 9_000_000, "closure": 1})
    costs = {row["kind"]: row["cost"] / row["number"] for row in dear.context["found"]["rows"]}
    costs |= {row["kind"]: row["cost"] / row["number"] for row in dear.context["found"]["unseen"]}
    assert costs["Hire"] == 9_000_000 and costs["Inspect"] == 1
    wrong = manager.get(page, {"inspection": 0, "owner": 1, "crew-year": 1, "closure": 1})
    assert wrong.status_code == 422 and "starting figures" in wrong.content.decode()
    csv = manager.get(page, {"csv": 1}).content.decode()
    assert csv.count("\n") == len(rows) + 1
    hire = next(row for row in rows if row["kind"] == "Hire")
    manager.post(reverse("plan_advice", args=[plan.pk]), {"step": hire["index"] + 1})
    wanted = Batch.objects.latest("pk").parameters["settings"]
    assert wanted == {**plan.settings, **hire["settings"]}
    inspect = next(row for row in rows if row["kind"] == "Inspect")
    answer = manager.post(
        reverse("plan_advice", args=[plan.pk]), {"step": inspect["index"] + 1}, follow=True
    )
    assert "choose again" in answer.content.decode()


def test_an_adopted_plan_keeps_its_areas_while_its_steps_are_tried(plan):
    plan_adopt(plan=plan, reason="the first", **WHO)
    areas = list(plan.areas.order_by("key").values_list("key", "program_year", "jobs"))
    assert next_steps(plan=plan, as_of=BEFORE)["steps"]
    assert list(plan.areas.order_by("key").values_list("key", "program_year", "jobs")) == areas
    plan.refresh_from_db()
    assert plan.state == Plan.State.ADOPTED


def test_a_plan_that_cannot_hold_has_no_next_steps(plan):
    Plan.objects.filter(pk=plan.pk).update(settings={**plan.settings, "jobs_per_crew_day": 0.08})
    plan.refresh_from_db()
    with pytest.raises(PlanError, match="what would help"):
        next_steps(plan=plan, as_of=BEFORE)
