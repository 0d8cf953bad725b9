"""Pages of what pulls taught: a factor and a set of constants put into use by name."""

from dataclasses import asdict

import pytest
from django.urls import reverse

from replacements.domain.pull_force import ParameterSet
from replacements.domain.tool_strings import StringLimits
from replacements.models import ForceConstants, ModelCalibration
from replacements.operations.completions import completion_accept
from replacements.operations.pulls import estimate_make
from services_inventory.today import now
from tests.replacements.factories import (
    AT,
    REVIEW,
    handed_in,
    order,
    pull,
    started,
    string,
    user,
)

pytestmark = pytest.mark.django_db
SOIL = "STIFF_CLAY"


@pytest.fixture
def manager(client):
    client.force_login(user("m", "Program manager"))
    return client


@pytest.fixture
def accepted():
    work = order(joints=[])
    string(work)
    estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    started(work)
    record = handed_in(work, pull=pull(work, seed=3))
    completion_accept(completion=record, by="r", at=REVIEW)
    return work


def test_the_manager_puts_a_factor_into_use_and_takes_it_out(manager, accepted):
    page = manager.get(reverse("learning", args=[SOIL])).content.decode()
    assert accepted.number in page and "Put " in page and "<svg" in page
    answer = manager.post(reverse("learning", args=[SOIL]), {"reason": ""}, follow=True)
    assert "This field is required" in answer.content.decode()
    manager.post(reverse("learning", args=[SOIL]), {"reason": "first pull"})
    row = ModelCalibration.objects.get()
    assert (row.put_in_use_by, row.pulls) == ("m", 1)
    listed = manager.get(reverse("learning_list")).content.decode()
    assert "from 1 pull, since" in listed
    manager.post(reverse("learning", args=[SOIL]), {"reason": "odd gauge", "out": "1"})
    assert ModelCalibration.objects.order_by("-id").first().result == {}


def test_a_soil_that_there_is_not_is_not_found(manager):
    assert manager.get(reverse("learning", args=["CHEESE"])).status_code == 404


def constants(**changed) -> dict:
    """Return the form as it stands in use, with changes."""
    fields = {
        f"{code}_{part}": getattr(parameter, part)
        for code, parameter in ParameterSet().parameters.items()
        for part in ("low", "default", "high")
    }
    limits = {f"limit_{name}": value for name, value in asdict(StringLimits()).items()}
    return fields | limits | {"reason": "blades measured"} | changed


def test_own_constants_go_into_use_with_name_and_reason(manager):
    thin = {f"BLADE_THICKNESS_{part}": 0.16 for part in ("low", "default", "high")}
    manager.post(reverse("force_constants"), constants(**thin))
    row = ForceConstants.objects.get()
    assert row.values == {"BLADE_THICKNESS": [0.16, 0.16, 0.16]}
    page = manager.get(reverse("force_constants")).content.decode()
    assert row.parameter_set in page and "blades measured" in page


def test_a_design_factor_of_the_utility_holds_every_string_from_then_on(manager):
    assert manager.post(reverse("force_constants"), constants(limit_design_factor=5))
    row = ForceConstants.objects.get()
    assert (row.values, row.string_limits) == ({}, {"design_factor": 5})
    work = order(joints=[])
    string(work)
    made = estimate_make(work_order=work, by="crew", at=now(), anchor_lbf=9000)
    # 14,400 lb through jaws of 0.8 at a design factor of 5
    assert made.result["limit_lbf"] == pytest.approx(2304)
    low = manager.post(reverse("force_constants"), constants(limit_design_factor=1.5))
    assert "below the floor of 2" in low.content.decode()


def test_a_constant_that_cannot_be_is_refused_in_a_sentence(manager):
    answer = manager.post(reverse("force_constants"), constants(FLOW_STRESS_low=9000))
    assert "must rise" in answer.content.decode()
    assert not ForceConstants.objects.exists()


def test_who_may_only_look_may_put_nothing_into_use(client, accepted):
    client.force_login(user("c", "Compliance staff"))
    page = client.get(reverse("learning", args=[SOIL]))
    assert page.status_code == 200 and b"Put " not in page.content
    assert client.post(reverse("learning", args=[SOIL]), {"reason": "x"}).status_code == 403
    assert client.post(reverse("force_constants"), constants()).status_code == 403
