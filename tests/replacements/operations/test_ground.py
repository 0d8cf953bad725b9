"""Lines near a run: recorded by whoever saw them, corrected, withdrawn, and what they forbid."""

import pytest

from replacements.domain.findings import Level
from replacements.domain.ground import OtherLine, UtilityKind
from replacements.domain.method_advice import unknowns
from replacements.operations.ground import nearby_line_record, nearby_line_withdraw
from replacements.operations.pulls import StartRefused, estimate_make, pull_start
from replacements.operations.work_orders import (
    ReleaseBlocked,
    WorkOrderError,
    work_order_change,
    work_order_release,
)
from replacements.queries.ground import ground_findings, site_of
from services_inventory.refused import Refused
from tests.replacements.factories import AT, DAY, LATER, order, safe_answers, started

pytestmark = pytest.mark.django_db

GAS = UtilityKind.GAS
SEWER = UtilityKind.SEWER


def recorded(work, kind=GAS, separation_in=8.0, **more):
    """Return a line on record near an order's run."""
    line = OtherLine(kind, separation_in, **{"at_ft": 14.0, **more})
    return nearby_line_record(work_order=work, line=line, by="crew", at=AT)


def rules(work) -> list[str]:
    """Return the rules that speak at an order, notes left out."""
    return [f.rule for f in ground_findings(work, DAY) if f.level is not Level.NOTE]


def test_a_line_to_dig_up_holds_back_the_start_and_not_the_order():
    work = order(released=False)
    first = recorded(work)
    work_order_release(work_order=work, by="p", at=AT)
    with pytest.raises(StartRefused) as refused:
        pull_start(work_order=work, facts=safe_answers(), by="crew", at=LATER, on=DAY)
    assert "EXPOSE_FIRST" in [f.rule for f in refused.value.findings]
    line = OtherLine(GAS, 26.0, exposed=True, at_ft=14.0)
    second = nearby_line_record(work_order=work, line=line, by="crew", at=AT, instead_of=first)
    started(work)
    first.refresh_from_db()
    assert (first.withdrawn_by, first.withdrawn_reason) == ("crew", "Corrected.")
    assert list(work.nearby_lines.standing()) == [second]


def test_a_line_within_reach_of_the_ground_pushed_aside_blocks_the_release():
    work = order(released=False)
    recorded(work, separation_in=3.0, exposed=True)
    with pytest.raises(ReleaseBlocked, match="gas line crossing at 14 ft lies 3 in. away"):
        work_order_release(work_order=work, by="p", at=AT)


def test_a_line_recorded_after_the_release_stops_the_start_and_turns_the_estimate():
    work = order()
    started(work)
    assert estimate_make(work_order=work, by="crew", at=AT).result["findings"]
    recorded(work, separation_in=None)
    with pytest.raises(StartRefused) as refused:
        pull_start(work_order=work, facts=safe_answers(), by="crew", at=LATER, on=DAY)
    assert "SEPARATION_UNKNOWN" in [f.rule for f in refused.value.findings]
    made = estimate_make(work_order=work, by="crew", at=AT)
    assert made.verdict == "NO_GO"
    assert "UNVERIFIED_CROSSING" in [f["rule"] for f in made.result["findings"]]


def test_nothing_recorded_is_not_the_same_as_nothing_there():
    work = order()
    assert rules(work) == ["OTHER_LINES_NOT_LOOKED_FOR"]
    work_order_change(work_order=work, by="p", at=AT, other_lines_looked_for_on=DAY)
    assert rules(work) == []


def test_a_withdrawn_line_stays_on_record_and_counts_no_more():
    work = order()
    made = recorded(work, SEWER)
    with pytest.raises(Refused, match="Say why"):
        nearby_line_withdraw(nearby=made, by="crew", at=AT, reason="  ")
    nearby_line_withdraw(nearby=made, by="crew", at=AT, reason="It was the neighbor's drain.")
    assert rules(work) == ["OTHER_LINES_NOT_LOOKED_FOR"]
    assert work.nearby_lines.count() == 1
    with pytest.raises(Refused, match="already"):
        nearby_line_withdraw(nearby=made, by="crew", at=AT, reason="again")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"at_ft": 36.0}, "outside the run of 35 ft"),
        ({"exposed": True, "separation_in": None}, "write it down"),
        ({"relieved": True}, "only beside a line that is exposed"),
        ({"separation_in": 5000.0}, "cannot be measured"),
    ],
)
def test_a_record_that_cannot_be_is_refused_with_the_reason(changed, said):
    work = order()
    with pytest.raises(Refused, match=said):
        recorded(work, **changed)
    assert not work.nearby_lines.exists()


def test_an_open_trench_is_not_held_to_the_reach_of_an_expander():
    work = order(method="OPEN_CUT", released=False)
    recorded(work)
    assert "DIG_BY_HAND" in rules(work)
    work_order_release(work_order=work, by="p", at=AT)
    assert work.state == "RELEASED"


def test_ground_that_cannot_be_widened_or_is_frozen_blocks_the_pull():
    work = order(released=False, frozen_to_ft=4.5, ground_conditions=["FLOWABLE_FILL"])
    with pytest.raises(ReleaseBlocked) as refused:
        work_order_release(work_order=work, by="p", at=AT)
    assert ["Flowable fill" in s or "frozen" in s for s in refused.value.sentences] == [True, True]
    made = estimate_make(work_order=work, by="p", at=AT)
    found = {f["rule"] for f in made.result["findings"]}
    assert {"FROZEN_GROUND", "FLOWABLE_FILL"} <= found
    site = site_of(work, DAY)
    assert (site.frozen, site.hard_fill) == (True, True)


def test_the_site_for_the_choice_of_method_knows_what_was_ticked():
    work = order(
        surfaces=["DRIVEWAY"],
        ground_conditions=["LEAD_MUST_LEAVE", "NO_NEW_ROUTE", "NOT_THREADABLE", "ROAD_CROSSING"],
    )
    site = site_of(work, DAY)
    assert (site.paved, site.lead_must_leave, site.new_route) == (True, True, False)
    assert (site.threadable, site.road_crossing) == (False, True)
    assert "other lines" in unknowns(site)[-1]


def test_a_wavy_line_bends_the_cable_all_along():
    straight, wavy = order(joints=[]), order(joints=[], snaking_deg_per_10_ft=15.0)
    made = [estimate_make(work_order=work, by="p", at=AT) for work in (straight, wavy)]
    # Three waves of 15 degrees before the head: e to the 0.2 times 45 degrees is 1.17.
    start = [record.result["start_lbf"] for record in made]
    assert start[1] == pytest.approx(1.17 * start[0], rel=0.01)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"surfaces": ["LAVA"]}, "no surface 'LAVA'"),
        ({"ground_conditions": ["HAUNTED"]}, "no condition of the ground 'HAUNTED'"),
        ({"frozen_to_ft": -1.0}, "Frost to -1 ft"),
        ({"snaking_deg_per_10_ft": 120.0}, "0 to 90 degrees"),
        ({"required_cover_ft": 0.0}, "required cover must be above zero"),
    ],
)
def test_ground_that_cannot_be_is_refused(changed, said):
    with pytest.raises(WorkOrderError, match=said):
        order(**changed)
