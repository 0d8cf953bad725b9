"""A part's own history by the record: overloads, inspections, renewals, papers, tool sets."""

from contextlib import nullcontext
from datetime import date, datetime, timedelta

import pytest

from fixtures.pull_logs import Bump, synthetic_log
from replacements.domain.tool_strings import Fact, SizeGroup
from replacements.models import ComponentInspection, PullRecord
from replacements.operations.pulls import pull_withdraw
from replacements.operations.tools import (
    ToolError,
    component_add,
    component_correct,
    component_inspect,
    component_renew,
    rating_paper_attach,
    rating_paper_confirm,
    tool_record_withdraw,
    tool_set_add,
    tool_set_facts_enter,
    tool_string_propose,
    tool_string_record,
)
from replacements.queries.checklist import checklist_shown
from replacements.queries.gate import start_findings
from replacements.queries.planned_pull import tools_of
from services_inventory.asked_once import going_on_by_what_held
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.replacements.factories import (
    AT,
    DAY,
    FACING,
    LATER,
    contractor,
    order,
    photos,
    pull,
    safe_answers,
    string,
)
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db
NEXT = DAY + timedelta(days=2)
AFTER = LATER + timedelta(days=1)
WHO = {"by": "crew", "at": AFTER}


def over(work, seed=3):
    """Return a pull whose log went to 4,600 lb against the cable's 3,840 lb."""
    bump = Bump(12.0, 2.0, 4600)
    return pull(work, synthetic_log(35.2, bumps=(bump,), seed=seed))


@pytest.fixture
def company():
    return contractor("Quarry Lane Underground")


@pytest.fixture
def used(company):
    """Return an order whose string was overloaded, and its parts by kind."""
    work = order(company, joints=[])
    made = string(work)
    over(work)
    return work, {p.component.kind: p.component for p in made.parts.select_related("component")}


def looked(component, **changed):
    """Return a competent person's inspection after the overload."""
    values = {
        "inspected_on": DAY + timedelta(days=1), "inspected_by": "Rowan Fell", "passed": True,
        "by_competent_person": True, "looked_at": "every face and thread", **WHO,
    }  # fmt: skip
    return component_inspect(component=component, **(values | changed))


def spoiled(component, day=NEXT):
    return tools_of([component], day)[0].overloads


def recorded(work, parts):
    return tool_string_record(
        work_order=work, by="crew", at=AFTER + timedelta(days=1), pulled_end="THICK",
        parts=[(part, FACING.get(part.kind, "")) for part in parts.values()],
    )  # fmt: skip


def another(company):
    return order(company, line_of("LEAD", "LEAD"), joints=[])


def test_every_part_of_the_string_waits_but_not_the_puller(used):
    _, parts = used
    assert PullRecord.objects.get().gear_event == "OVER_ALLOWABLE"
    for kind, part in parts.items():
        assert bool(spoiled(part)) == (kind != "PULLER"), kind
    told = spoiled(parts["CABLE"])[0]
    assert (round(told.peak_lbf, -2), told.limit_lbf) == (4600, 3840)


def test_the_next_order_is_not_offered_them_nor_takes_them(used, company):
    """It was once offered the same cable, jaws, clevis and swivel as good."""
    _, parts = used
    work = another(company)
    proposed = tool_string_propose(work_order=work, as_of=NEXT)
    assert proposed.parts == () and "4,600 lb against 3,840 lb" in proposed.proposal.missing[0]
    with pytest.raises(ToolError, match="Out of use until a competent person"):
        recorded(work, parts)
    assert not work.tool_strings.exists()
    for part in parts.values():
        looked(part)
    assert recorded(work, parts).worst_level != "STOP"


def test_a_start_is_stopped_by_a_part_overloaded_since_the_string_was_recorded(company):
    first, second = order(company, joints=[]), another(company)
    made = string(first)
    parts = [part.component for part in made.parts.select_related("component")]
    string(second, parts)
    over(first)
    stops = [f for f in start_findings(second, safe_answers(NEXT), NEXT) if f.level == "STOP"]
    overloaded = [f for f in stops if f.rule == "OVERLOADED"]
    assert len(overloaded) == len(parts) - 1
    assert {f.who for f in overloaded} == {"the contractor's competent person"}


def test_only_a_competent_person_who_says_what_was_looked_at_passes_it(used):
    _, parts = used
    jaws = parts["JAW_SET"]
    with pytest.raises(ToolError, match="Only a competent person"):
        looked(jaws, by_competent_person=False)
    with pytest.raises(ToolError, match="what was looked at"):
        looked(jaws, looked_at=" ")
    with pytest.raises(ToolError, match="was before that"):
        looked(jaws, inspected_on=DAY - timedelta(days=1))
    assert looked(jaws, passed=False, by_competent_person=False) and spoiled(jaws)
    looked(jaws)
    assert not spoiled(jaws)


def test_a_withdrawn_inspection_puts_it_out_of_use_again(used):
    _, parts = used
    jaws, made = parts["JAW_SET"], looked(parts["JAW_SET"])
    given = {"component": jaws, "kind": "inspection", "number": made.pk, **WHO}
    with pytest.raises(Refused, match="Say why"):
        tool_record_withdraw(reason=" ", **given)
    tool_record_withdraw(reason="wrong jaw set", **given)
    assert spoiled(jaws) and ComponentInspection.objects.get(pk=made.pk).withdrawn_by == "crew"
    with pytest.raises(Refused, match="before"):
        tool_record_withdraw(reason="again", **given)
    with pytest.raises(ToolError, match="no such record"):
        tool_record_withdraw(reason="x", **(given | {"component": parts["SWIVEL"]}))


def test_an_inspection_before_anybody_knew_of_the_overload_does_not_clear_it(company):
    """The log came in late: the inspector did not know what to look for."""
    work = order(company, joints=[])
    made = string(work)
    jaws = made.parts.get(component__kind="JAW_SET").component
    early = LATER - timedelta(hours=3)
    looked(jaws, inspected_on=DAY, at=early)
    over(work)
    assert spoiled(jaws)


def test_withdrawing_the_log_does_not_heal_the_parts_reading_it_again_may(used):
    work, parts = used
    made = PullRecord.objects.get()
    pull_withdraw(pull=made, by="crew", at=AFTER, reason="wrong house")
    assert spoiled(parts["CABLE"])
    PullRecord.objects.filter(pk=made.pk).update(log=photos(work.contractor)[0])
    right = pull(work, seed=9)
    assert spoiled(parts["CABLE"])
    PullRecord.objects.filter(pk=right.pk).update(log=PullRecord.objects.get(pk=made.pk).log)
    assert not spoiled(parts["CABLE"])


def test_a_rating_corrected_downward_finds_the_pulls_that_were_over_it(company):
    work = order(company, joints=[])
    made = string(work)
    swivel = made.parts.get(component__kind="SWIVEL").component
    pull(work, seed=5)
    peak = PullRecord.objects.get().peak_lbf
    assert not spoiled(swivel) and not spoiled(made.parts.get(component__kind="JAW_SET").component)
    component_correct(component=swivel, rated_lbf=peak - 10, reason="a zero too many", **WHO)
    (found,) = spoiled(swivel)
    assert found.limit_lbf == pytest.approx(peak - 10)
    pull_withdraw(pull=PullRecord.objects.get(), by="crew", at=AFTER, reason="wrong house")
    assert spoiled(swivel)  # the swivel bore it, whatever became of the log


@pytest.mark.parametrize("going_on", [nullcontext, going_on_by_what_held])
def test_pulls_are_counted_since_the_last_inspection(company, going_on):
    work = order(company, joints=[])
    made = string(work)
    jaws = made.parts.get(component__kind="JAW_SET").component
    with going_on():
        for count, seed in enumerate((4, 5, 6), start=1):
            pull(work, seed=seed)
            assert tools_of([jaws], NEXT)[0].pulls_since == count
        looked(jaws)
        assert tools_of([jaws], NEXT)[0].pulls_since == 0
        assert tools_of([jaws], DAY - timedelta(days=1))[0].pulls_since == 0


def test_a_renewed_wear_part_is_good_from_its_day_until_taken_back(used):
    _, parts = used
    cable = parts["CABLE"]
    component_inspect(
        component=cable, inspected_on=DAY, inspected_by="R", passed=False,
        findings={"wear": {"TIP": "BROKEN"}}, **WHO,
    )  # fmt: skip
    assert tools_of([cable], NEXT)[0].wear["TIP"] == "BROKEN"
    told = {"component": cable, "done_by": "Rowan Fell", **WHO}
    with pytest.raises(ToolError, match="not come yet"):
        component_renew(part="TIP", done_on=date(2029, 1, 1), **told)
    with pytest.raises(ToolError, match="is one of"):
        component_renew(part="PAINT", done_on=DAY, **told)
    made = component_renew(part="TIP", done_on=DAY + timedelta(days=1), **told)
    assert tools_of([cable], NEXT)[0].wear["TIP"] == "GOOD"
    tool_record_withdraw(component=cable, kind="renewal", number=made.pk, reason="x", **WHO)
    assert tools_of([cable], NEXT)[0].wear["TIP"] == "BROKEN"


# ---- ratings --------------------------------------------------------------------------------


@pytest.fixture
def strong(company):
    """Return a cable entered with one zero too many."""
    return component_add(
        contractor=company, kind="CABLE", mark="C-9", by="crew", at=AT,
        dimensions={"pulling_end_in": 0.375, "length_ft": 100, "construction": "7X19 GALVANIZED",
                    "breaking_force_lbf": 144_000},
    )  # fmt: skip


def paper_of(component):
    document = photos(component.contractor)[0]
    return rating_paper_attach(component=component, document=document, by="crew", at=AT)


def test_a_second_person_reads_the_figure_off_the_paper(strong):
    paper = paper_of(strong)
    assert not tools_of([strong])[0].rating_confirmed
    with pytest.raises(ToolError, match="second person"):
        rating_paper_confirm(paper=paper, read_lbf=144_000, by="crew", at=AT)
    with pytest.raises(ToolError, match="You read 14,400 lb, the entry says 144,000 lb"):
        rating_paper_confirm(paper=paper, read_lbf=14_400, by="foreman", at=AT)
    rating_paper_confirm(paper=paper, read_lbf=144_000, by="foreman", at=AT)
    assert tools_of([strong])[0].rating_confirmed
    with pytest.raises(ToolError, match="already"):
        rating_paper_confirm(paper=paper, read_lbf=144_000, by="foreman", at=AT)


def test_a_confirmation_ends_with_the_entry_it_was_for_or_with_its_paper(strong):
    paper = paper_of(strong)
    rating_paper_confirm(paper=paper, read_lbf=144_000, by="foreman", at=AT)
    right = strong.dimensions | {"breaking_force_lbf": 20_000}
    component_correct(component=strong, dimensions=right, reason="read again", by="crew", at=AT)
    assert not tools_of([strong])[0].rating_confirmed
    fresh = paper_of(strong)
    rating_paper_confirm(paper=fresh, read_lbf=20_000, by="foreman", at=AT)
    assert tools_of([strong])[0].rating_confirmed
    tool_record_withdraw(component=strong, kind="paper", number=fresh.pk, reason="x", **WHO)
    assert not tools_of([strong])[0].rating_confirmed


@pytest.mark.parametrize(
    ("kind", "dimensions"),
    [
        ("CABLE", {"construction": "7X19 GALVANISED"}),
        ("CABLE", {"termination": "KNOT"}),
        ("PIPE_PULLER", {"grip": "HAND"}),
        ("PIPE_PULLER", {"fits_new_types": ["CTS", "PVC"]}),
    ],
)
def test_what_tables_list_is_taken_from_the_lists(company, kind, dimensions):
    with pytest.raises(ToolError, match="that the tables list"):
        component_add(contractor=company, kind=kind, mark="X", dimensions=dimensions, by="c", at=AT)
    other = {name: ["OTHER"] if isinstance(v, list) else "OTHER" for name, v in dimensions.items()}
    assert component_add(contractor=company, kind=kind, mark="X", dimensions=other, by="c", at=AT)


# ---- tool sets ------------------------------------------------------------------------------


def test_the_checklist_is_the_tool_sets_and_what_is_done_keeps_what_it_had(company):
    work = order(company, joints=[])
    made = string(work)
    jaws = made.parts.get(component__kind="JAW_SET").component
    own = tool_set_add(contractor=company, name="Blue case")
    with pytest.raises(ToolError, match="already"):
        tool_set_add(contractor=company, name="Blue case")
    component_correct(component=jaws, tool_set=own, reason="it is of this case", by="c", at=AT)
    facts = {"CABLE_TAIL": Fact(0.375, 0.5)}
    told = {"tool_set": own, "by": "crew", "at": AT}
    with pytest.raises(ToolError, match="instructions"):
        tool_set_facts_enter(instructions=" ", facts=facts, **told)
    with pytest.raises(ToolError, match="between 0 and 1"):
        tool_set_facts_enter(instructions="p. 4", facts={"CABLE_TAIL": Fact(3.75, 5)}, **told)
    entry = tool_set_facts_enter(
        instructions="Instructions, 3rd edition, p. 4", facts=facts,
        groups=[SizeGroup((0.75,), (1.0,))], **told,
    )  # fmt: skip

    def tail():
        rows = {
            check.check: check
            for check in (row["check"] for row in checklist_shown(work, made)["rows"])
        }
        return rows["CABLE_TAIL"].low, rows["CABLE_TAIL"].high

    assert tail() == (0.375, 0.5)
    assert tools_of([jaws])[0].setup.groups == (SizeGroup((0.75,), (1.0,)),)
    take_back(row=entry, reason="of another set", by="crew", at=AFTER)
    assert tail() == (0.125, 0.25)
    work.state = "ACCEPTED"
    assert tail() == (0.125, 0.25)
    with pytest.raises(ToolError, match="another company"):
        other = tool_set_add(contractor=contractor("Else"), name="Red")
        component_correct(component=jaws, tool_set=other, reason="x", by="c", at=AT)


def test_two_inspections_of_one_moment_do_no_harm(used):
    _, parts = used
    looked(parts["CABLE"], at=datetime.combine(NEXT, LATER.timetz()))
    looked(parts["CABLE"], at=datetime.combine(NEXT, LATER.timetz()))
    assert not spoiled(parts["CABLE"])
