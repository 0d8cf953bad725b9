"""A device clears the whole gate by itself: string, checklist, estimate, start; by each method."""

import pytest

from replacements.models import ForceEstimateRecord
from replacements.operations.access import consent_record
from replacements.operations.tools import component_add, component_inspect
from replacements.queries.gate import findings_on_record
from replacements.queries.stored import plain
from tests.replacements.api.test_api import bearer, post
from tests.replacements.factories import (
    LATER,
    contractor,
    good_answers,
    order,
    safe_answers,
    string,
    tools,
)
from tests.services_inventory.factories import MORNING

pytestmark = pytest.mark.django_db
ASKED = {"plate_area_ft2": 4.5, "soil_psf": 2000, "resin": "PE4710", "temperature_f": 73,
         "minutes": 60}  # fmt: skip


def moment():
    """Return the moment the requests are made at."""
    return LATER


@pytest.fixture
def company(settings):
    settings.NOW, settings.TODAY = f"{__name__}.moment", ""
    return contractor()


def rods(company):
    """Return rods and a puller that takes them, inspected."""
    made = []
    for kind, figures in (("PULLER", {"fits_rod_in": [0.625]}),
                          ("ROD", {"outside_in": 0.625, "length_ft": 80})):  # fmt: skip
        tool = component_add(contractor=company, kind=kind, mark=f"{kind}-R", dimensions=figures,
                             rated_lbf=20_000, by="office", at=MORNING)  # fmt: skip
        component_inspect(component=tool, inspected_on=MORNING.date(), inspected_by="Rowan Fell",
                          passed=True, findings={}, by="office", at=MORNING)  # fmt: skip
        made.append(tool)
    return made


def of_method(company, method):
    """Return the company's tools that a method takes, in order."""
    own = tools(company)
    if method == "PULL_OUT":
        return [t for t in own if t.kind not in ("BLADE", "PRE_EXPANDER", "SPACER")]
    if method == "ROD_SPLIT":
        rest = [t for t in own if t.kind not in ("PULLER", "CABLE", "JAW_SET", "RETAINING_NUT")]
        return [*rods(company), *rest]
    return own


@pytest.mark.parametrize("method", ["SPLIT", "PULL_OUT", "ROD_SPLIT"])
def test_a_device_clears_the_gate_of_each_method_with_that_method_s_string(method, client, company):
    run = {"length_ft": 20.0, "soil": "MEDIUM_SAND", "groundwater": False}
    work, headers = order(company, method=method, **run), bearer(company)
    consent_record(line=work.line, answer="GIVEN", answered_on=LATER.date(), given_by="The owner",
                   by="clerk", recorded_at=LATER)  # fmt: skip
    base = f"work-orders/{work.pk}"
    facts = plain(safe_answers(LATER.date()))
    refused = post(client, f"{base}/start/", facts, headers)
    assert {"NO_STRING", "NO_ESTIMATE"} <= {f["rule"] for f in refused.json()["findings"]}
    parts = [
        {"component": t.pk, "orientation": "FLAT_TO_OLD_PIPE" if t.kind == "BLADE" else ""}
        for t in of_method(company, method)
    ]
    sent = {"parts": parts} | ({} if method == "ROD_SPLIT" else {"pulled_end": "THICK"})
    made = post(client, f"{base}/tool-strings/", sent, headers).json()
    assert [f["rule"] for f in made["findings"] if f["level"] == "STOP"] == []
    rows = good_answers("PE", method)
    post(client, f"tool-strings/{made['id']}/answers/", {"answers": rows}, headers)
    estimated = post(client, f"{base}/estimates/", ASKED, headers)
    assert estimated.status_code == 201, estimated.json()
    assert estimated.json()["verdict"] != "NO_GO", estimated.json()["findings"]
    started = post(client, f"{base}/start/", facts, headers)
    assert started.status_code == 200, started.json()
    assert client.get(f"/api/v1/{base}/", headers=headers).json()["started_on"]


@pytest.mark.parametrize(
    ("strung", "method", "rule"),
    [("SPLIT", "PULL_OUT", "PART_WRONG"), ("SPLIT", "ROD_SPLIT", "PART_MISSING"),
     ("PULL_OUT", "SPLIT", "PART_MISSING")],
)  # fmt: skip
def test_the_gate_stops_a_string_of_another_method(strung, method, rule, company):
    work = order(company, method=strung)
    string(work, of_method(company, strung))
    type(work).objects.filter(pk=work.pk).update(method=method)
    work.refresh_from_db()
    assert rule in {f.rule for f in findings_on_record(work, LATER.date())}


def test_an_open_cut_is_asked_for_neither_string_nor_estimate(company):
    work = order(company, method="OPEN_CUT")
    asked = {f.rule for f in findings_on_record(work, LATER.date())}
    assert not asked & {"NO_STRING", "NO_ESTIMATE", "PART_MISSING", "ASSEMBLY_OPEN"}


def test_what_was_left_out_is_counted_the_unfavorable_way_and_told(client, company):
    work, headers = order(company), bearer(company)
    string(work)
    made = post(client, f"work-orders/{work.pk}/estimates/", {}, headers).json()
    assert made["verdict"] == "NO_GO"
    assert "NO_RATING_ANCHOR" in {f["rule"] for f in made["findings"]}
    assumed = {row["name"] for row in made["inputs"] if row["assumed"]}
    assert {"Resin", "Wall of the new pipe", "Time under tension"} <= assumed
    assert made["drag"]["high_lbf"] < made["total"]["high_lbf"]
    listed = client.get(f"/api/v1/work-orders/{work.pk}/estimates/", headers=headers).json()
    assert listed["results"] == [made]


@pytest.mark.parametrize(
    ("sent", "status", "said"),
    [
        ({"temperature_f": 500}, 400, "/temperature_f"),
        ({"minutes": 20_000}, 400, "/minutes"),
        ({"resin": "PE9999"}, 400, "/resin"),
        ({"measured": {"LUCK": 1}}, 400, "/measured"),
        ({"measured": {"BLADE_THICKNESS": -1}}, 400, "/measured"),
    ],
)
def test_what_the_page_refuses_the_device_is_refused_by_its_name(
    sent, status, said, client, company
):
    work = order(company)
    answer = post(client, f"work-orders/{work.pk}/estimates/", ASKED | sent, bearer(company))
    assert answer.status_code == status
    assert any(said in error["pointer"] for error in answer.json()["errors"]), answer.json()
    assert not ForceEstimateRecord.objects.exists()


def test_an_order_without_its_length_says_what_to_enter_and_keeps_nothing(client, company):
    work = order(company, length_ft=None)
    answer = post(client, f"work-orders/{work.pk}/estimates/", ASKED, bearer(company))
    assert (answer.status_code, answer.json()["type"]) == (422, "urn:problem:estimate-refused")
    assert "enter the length" in answer.json()["detail"]
    assert not ForceEstimateRecord.objects.exists()
