"""Plans side by side: the figures are those of each plan, scales are shared."""

from xml.etree import ElementTree

import pytest
from django.urls import reverse

from program.models import Plan, Utility
from program.operations.plans import plan_adopt, plan_draw
from program.queries.planning.side_by_side import MOST, side_by_side

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, QUICK, WHO, two_hoods

pytestmark = pytest.mark.django_db


@pytest.fixture
def plans():
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    first = plan_draw(settings={**QUICK, "crews": 1}, as_of=BEFORE, name="First", **WHO)
    plan_adopt(plan=first, reason="the first", **WHO)
    rich = {"crews": 2, "budget_per_year": 400_000.0}
    second = plan_draw(settings={**QUICK, **rich}, as_of=BEFORE, name="Second <b>", **WHO)
    return [first, second]


def test_the_adopted_plan_stands_first_and_the_others_tell_how_they_differ(plans, manager):  # noqa: F811
    page = manager.get(reverse("plan_side_by_side"))
    columns = page.context["found"]["columns"]
    assert [column["plan"] for column in columns] == plans
    told = columns[1]["differs"]
    assert told.startswith("Other than First: ") and "crews 2, not 1" in told
    assert "budget per year 400,000, not none" in told
    for column in columns:
        years = column["plan"].result["years"]
        assert column["cost"] == sum(row["cost"] for row in years)
        assert len(column["spots"]) == column["plan"].areas.exclude(program_year=None).count()
    body = page.content.decode()
    assert "Second <b>" not in body and "Second &lt;b&gt;" in body


def test_pictures_of_a_kind_share_their_scale(plans, manager):  # noqa: F811
    page = manager.get(reverse("plan_side_by_side"))
    kinds = zip(*(column["pictures"] for column in page.context["found"]["columns"]), strict=True)
    for pair in list(kinds)[1:]:  # fans and costs; the map has no axis
        levels = []
        for one in pair:
            words = ElementTree.fromstring(one).iter("{http://www.w3.org/2000/svg}text")
            levels.append([w.text for w in words if w.get("text-anchor") == "end"])
        assert levels[0] == levels[1] and len(levels[0]) > 2


def test_no_more_than_five_are_shown_and_the_rest_is_said(plans, manager):  # noqa: F811
    more = [Plan.objects.get(pk=plans[1].pk) for _ in range(5)]
    for plan in more:
        plan.pk = None
        plan.save()
    asked = [plan.pk for plan in (*plans, *more)]
    page = manager.get(reverse("plan_side_by_side"), {"plan": asked})
    assert len(page.context["found"]["columns"]) == MOST
    assert "2 more were chosen" in page.content.decode()
    gone = manager.get(reverse("plan_side_by_side"), {"plan": [plans[1].pk, 99_999_999]})
    assert gone.context["chosen"] == [plans[1].pk]
    assert "Asked the same" in side_by_side(more[:2])["columns"][1]["differs"]


def test_without_a_plan_it_says_so(manager):  # noqa: F811
    assert "No plan is drawn yet" in manager.get(reverse("plan_side_by_side")).content.decode()
