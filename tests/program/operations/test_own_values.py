"""Values of one's own: rehearsed before they are kept, told right, ended, taken back, restated."""

from datetime import date, datetime, timedelta
from fractions import Fraction

import pytest

from program.models import OwnValue, Utility
from program.operations.deadlines import deadline_done
from program.operations.own_values import (
    KIND,
    OwnValueRefused,
    ending_proposal,
    fact_proposals,
    rehearsal_confirm,
    rehearsal_leave,
    rehearsal_open,
    value_proposal,
    withdrawal_proposal,
)
from program.operations.submission_content import kept_now
from program.queries.deadlines import deadlines_on
from program.rules import WrongValues, rules_in_force, rules_known, utility_facts_on
from services_inventory.models import Batch, CategoryChange, Evidence, ServiceLine
from services_inventory.operations.batches import batch_claim, batch_run
from services_inventory.operations.evidence import evidence_record_many
from services_inventory.operations.standings import standings_compare
from tests.program.operations.factories import (
    NOW,
    TODAY,
    line,
    lines,
    moment,
    own_value,
    recorded,
    standing_town,
    utility,
)
from tests.services_inventory.factories import bare_line, neighborhood

pytestmark = pytest.mark.django_db
GALVANIZED = [("GALVANIZED", "COPPER", "LEAD")] * 3


def proposed(
    value_id="CONNECTORS_MAKE_GRR", text="yes", day=date(2028, 1, 1), jurisdiction="STATE"
):
    return value_proposal(
        value_id=value_id, text=text, jurisdiction=jurisdiction, effective_from=day, today=TODAY
    )


def rehearsed(*proposals, at: datetime = NOW) -> Batch:
    return rehearsal_open(
        proposals=proposals, title="constructed", by="clerk", author="A. Clerk", at=at
    )


def facts(at: datetime = NOW, day: date = TODAY, **texts):
    proposals = fact_proposals(texts=texts, effective_from=day, today=TODAY)
    return recorded(proposals, at, "counted anew")


def section(batch: Batch, name: str) -> dict[str, tuple[str, str]]:
    return {what: (was, now) for what, was, now in batch.result[name]}


def seen_by(*said: dict) -> None:
    """Record a line whose system and customer side are known as told."""
    one = bare_line(f"{said}"[:80], in_neighborhood=neighborhood())
    rows = [
        {"line_id": one.pk, "portion": portion, "source": "card", **row}
        for portion, row in zip(("SYSTEM", "CUSTOMER"), said, strict=True)
    ]
    evidence_record_many(rows=rows, by="clerk", recorded_at=moment(date(2028, 2, 1)))


# Rehearsal


def test_a_rehearsal_counts_what_restating_then_moves_and_writes_nothing_itself():
    utility()
    lines(GALVANIZED + [("LEAD", "LEAD", "")])
    codes = list(Evidence.objects.order_by("id").values_list("fact_code", flat=True))
    before = dict(ServiceLine.objects.values_list("id", "category"))
    batch = rehearsed(proposed())
    assert dict(ServiceLine.objects.values_list("id", "category")) == before
    assert list(Evidence.objects.order_by("id").values_list("fact_code", flat=True)) == codes
    assert not OwnValue.objects.exists()
    assert section(batch, "lines")["Galvanized requiring replacement"] == ("0", "3")
    assert section(batch, "pool")["Lines in the pool's categories"] == ("1", "4")
    assert batch.result["moves"] == [
        ["non-lead", "galvanized requiring replacement", 3]
    ] or batch.result["moves"] == [("non-lead", "galvanized requiring replacement", 3)]
    assert len(batch.result["examples"]) == 3
    restated = rehearsal_confirm(batch=batch, reason="letter 7", author="A. Clerk", at=NOW)
    batch_run(batch=batch_claim())
    restated.refresh_from_db()
    assert restated.result["changed"] == 3
    assert ServiceLine.objects.filter(category="GRR").count() == 3
    assert standings_compare(recorded_at=NOW)["differences"] == 0


@pytest.mark.parametrize(
    ("value_id", "text"),
    [("LEAD_BAN_DATE_STATE", "1980-06-01"), ("NONLEAD_INSTALL_CUTOFF", "1980-01-01"),
     ("APPROVED_BASES", "AFFIDAVIT"), ("POOL_OUT_TWO_POINTS", "1"), ("VALIDATION_POINTS", "4"),
     ("DIAMETER_NONLEAD_OVER_IN", "1.5")],
)  # fmt: skip
def test_a_rehearsal_of_each_value_that_weighs_agrees_with_the_restatement(value_id, text):
    utility()
    lines([("COPPER", "COPPER", ""), ("UNKNOWN", "COPPER", ""), ("LEAD", "LEAD", "")])
    copper = {"material": "COPPER", "basis": "VISUAL_INSPECTION", "points_seen": 1}
    for system, customer in (
        ({"basis": "INSTALL_DATE", "installed_year": 1983, "material": "NON_LEAD"}, {}),
        ({"basis": "DIAMETER", "diameter_in": 2, "material": "NON_LEAD"}, {}),
        ({"basis": "AFFIDAVIT", "material": "COPPER"}, {}),
        (copper, copper),
        ({"material": "NONE", "basis": "RECORD_TAP_CARD"}, copper),
    ):
        seen_by(system, customer or copper | {"points_seen": 2})
    batch = rehearsed(proposed(value_id, text))
    rehearsal_confirm(batch=batch, reason="letter", author="A. Clerk", at=NOW)
    batch_run(batch=batch_claim())
    counted = {
        name: f"{ServiceLine.objects.filter(category=category).count():,}"
        for category, name in (("LEAD", "Lead"), ("UNKNOWN", "Unknown"), ("NON_LEAD", "Non-lead"))
    }
    told = section(batch, "lines")
    moved = [was != now for was, now in (*told.values(), *section(batch, "pool").values())]
    assert any(moved), "the case is one that the value bears on"
    assert {name: told[name][1] for name in counted} == counted
    in_pool = ServiceLine.objects.filter(category="NON_LEAD", validation="IN").count()
    assert section(batch, "pool")["Non-lead lines in the validation pool"][1] == f"{in_pool:,}"
    assert standings_compare(recorded_at=NOW)["differences"] == 0


def test_a_value_that_weighs_nothing_says_so_and_restates_nothing():
    standing_town()
    batch = rehearsed(proposed("REQUIRED_RATE", "1/5"))
    assert not batch.result["weighs"] and batch.result["moves"] == []
    assert section(batch, "rate")["Required average rate"] == ("1/10 (10%)", "1/5 (20%)")
    assert rehearsal_confirm(batch=batch, reason="x", author="A. Clerk", at=NOW) is None
    assert not Batch.objects.filter(kind="RESTATE").exists()


def test_deadlines_that_move_are_named_with_their_old_and_new_day():
    standing_town()
    batch = rehearsed(proposed("ANNUAL_UPDATE_DAY", "01-15"))
    days = batch.result["days"]
    moved = {what: (was, now) for what, was, now in days}
    report = "Inventory update and replacement report, program year 3"
    assert moved[report] == ("Jan 30, 2031", "Jan 15, 2031")
    assert batch.result["days_moved"] == len(days)
    earlier = rehearsed(proposed("REPLACEMENT_DEADLINE", "2032-12-31"))
    moved = {what: (was, now) for what, was, now in earlier.result["days"]}
    assert moved["Every lead and GRR line replaced"] == ("Dec 31, 2037", "Dec 31, 2032")
    assert section(earlier, "rate")["Required average rate"] == ("1/10 (10%)", "1/5 (20%)")


def test_a_value_that_begins_later_is_rehearsed_for_its_day_and_restated_on_it():
    utility()
    lines(GALVANIZED)
    later = TODAY + timedelta(days=40)
    batch = rehearsed(proposed(day=later))
    assert batch.result["on"] == later.isoformat()
    assert section(batch, "lines")["Galvanized requiring replacement"] == ("0", "3")
    rehearsal_confirm(batch=batch, reason="letter", author="A. Clerk", at=NOW)
    assert batch_claim() is None, "the worker waits for the day"
    Utility.objects.update(clock_stands_at=later)
    batch_run(batch=batch_claim())
    assert ServiceLine.objects.filter(category="GRR").count() == 3


def test_many_lines_are_the_workers_and_few_are_counted_while_the_page_waits(monkeypatch):
    utility()
    lines(GALVANIZED)
    monkeypatch.setattr("program.operations.own_values.AT_ONCE", 2)
    batch = rehearsed(proposed())
    assert batch.state == "QUEUED"
    assert rehearsed(proposed("REQUIRED_RATE", "1/5")).state == "CHECKED"
    batch_run(batch=batch_claim())
    batch.refresh_from_db()
    assert batch.state == "CHECKED"
    assert section(batch, "lines")["Galvanized requiring replacement"] == ("0", "3")


# Refusals


@pytest.mark.parametrize(
    ("value_id", "text", "words"),
    [
        ("REPLACEMENT_DEADLINE", "2027-10-01", "COMPLIANCE_DATE is 2027-11-01"),
        ("PROGRAM_YEAR_1_END", "2026-12-31", "must be earlier than the second"),
        ("FOLLOW_UP_SAMPLE_FROM_MONTHS", "9", "FOLLOW_UP_SAMPLE_TO_MONTHS is 6"),
        ("VALIDATION_SMALL_POOL_UP_TO", "2500", "the table begins above the small pools"),
        ("TAP_SAMPLES", "100 10 5", "begins at 0 persons"),
    ],
)
def test_values_that_contradict_each_other_are_refused_before_anything_is_kept(
    value_id, text, words
):
    utility()
    with pytest.raises(OwnValueRefused, match=words):
        rehearsed(proposed(value_id, text))
    assert not OwnValue.objects.exists() and not Batch.objects.filter(kind=KIND).exists()


def test_a_utility_may_ask_for_more_than_the_rule_and_never_for_less():
    utility()
    with pytest.raises(OwnValueRefused, match="never for less"):
        proposed("REQUIRED_RATE", "1/20", jurisdiction="UTILITY")
    assert proposed("REQUIRED_RATE", "1/5", jurisdiction="UTILITY")
    caution = rehearsed(proposed("REQUIRED_RATE", "1/20")).result["cautions"]
    assert "asks for less than the federal value, 1/10" in caution[0]


@pytest.mark.parametrize("day", [date(1900, 1, 1), date(2310, 1, 1)])
def test_a_first_day_that_is_a_slip_is_refused(day):
    with pytest.raises(OwnValueRefused, match="can't be right as a first day"):
        proposed(day=day)


def test_the_same_value_twice_is_refused():
    utility()
    own_value("REQUIRED_RATE", "1/5")
    with pytest.raises(OwnValueRefused, match="It is 1/5 already, recorded by A. Author"):
        proposed("REQUIRED_RATE", "0.2")


# Confirmation


def test_nothing_is_kept_without_a_reason_twice_after_another_or_on_another_day():
    utility()
    first, second = rehearsed(proposed("REQUIRED_RATE", "1/5")), rehearsed(proposed())
    confirm = {"reason": "letter", "author": "A. Clerk"}
    with pytest.raises(OwnValueRefused, match="Say why"):
        rehearsal_confirm(batch=first, reason="  ", author="A. Clerk", at=NOW)
    with pytest.raises(OwnValueRefused, match="Rehearse it again"):
        rehearsal_confirm(batch=first, at=NOW + timedelta(days=1), **confirm)
    rehearsal_confirm(batch=first, at=NOW, **confirm)
    with pytest.raises(OwnValueRefused, match="nothing was recorded twice"):
        rehearsal_confirm(batch=first, at=NOW, **confirm)
    with pytest.raises(OwnValueRefused, match="what is on record is another since"):
        rehearsal_confirm(batch=second, at=NOW, **confirm)
    assert OwnValue.objects.count() == 1


def test_what_was_left_is_not_kept():
    utility()
    batch = rehearsed(proposed("REQUIRED_RATE", "1/5"))
    rehearsal_leave(batch=batch, at=NOW)
    with pytest.raises(OwnValueRefused):
        rehearsal_confirm(batch=batch, reason="letter", author="A. Clerk", at=NOW)
    assert not OwnValue.objects.exists()


def test_a_row_keeps_before_after_who_why_and_from_when():
    utility()
    row = own_value("REQUIRED_RATE", "1/5")
    assert (row.before, row.value, row.author, row.reason, row.effective_from) == (
        "1/10", "1/5", "A. Author", "Letter of the State", date(2028, 1, 1),
    )  # fmt: skip
    assert own_value("REQUIRED_RATE", "1/4").before == "1/5"


# Ending and taking back


def test_a_second_value_ends_the_first_and_the_rehearsal_says_so():
    utility()
    own_value("REQUIRED_RATE", "1/5")
    batch = rehearsed(proposed("REQUIRED_RATE", "1/4", day=date(2030, 1, 1)))
    assert any("state value 1/5 from Jan 1, 2028 ends on Jan 1, 2030" in sentence
               for sentence in batch.result["consequences"])  # fmt: skip


def test_an_ended_value_leaves_the_federal_one_and_can_be_put_back():
    utility()
    row = own_value("REQUIRED_RATE", "1/5")
    end = recorded([ending_proposal(row=row, day=date(2030, 1, 1))])
    rules = rules_in_force()
    assert rules.value("REQUIRED_RATE", date(2029, 12, 31)) == Fraction(1, 5)
    assert rules.latest("REQUIRED_RATE").value == Fraction(1, 10)
    with pytest.raises(OwnValueRefused, match="can't be ended: it is from Jan 1, 2028 until"):
        ending_proposal(row=row, day=date(2030, 6, 1))
    recorded([withdrawal_proposal(row=end)])
    assert rules_in_force().latest("REQUIRED_RATE").value == Fraction(1, 5)


def test_a_value_taken_back_was_never_in_force_but_stays_on_record_as_it_was_known():
    utility()
    row = own_value("REQUIRED_RATE", "1/5", at=NOW)
    later = NOW + timedelta(hours=2)
    back = recorded([withdrawal_proposal(row=row)], later)
    assert rules_in_force().value("REQUIRED_RATE", TODAY) == Fraction(1, 10)
    assert rules_in_force(NOW).value("REQUIRED_RATE", TODAY) == Fraction(1, 5)
    with pytest.raises(OwnValueRefused, match="taken back by A. Author"):
        withdrawal_proposal(row=row)
    recorded([withdrawal_proposal(row=back)], later)
    assert rules_in_force().value("REQUIRED_RATE", TODAY) == Fraction(1, 5)


def test_a_value_cannot_be_taken_back_while_another_rests_on_it():
    utility()
    first = own_value("FOLLOW_UP_SAMPLE_TO_MONTHS", "12")
    own_value("FOLLOW_UP_SAMPLE_FROM_MONTHS", "9")
    with pytest.raises(OwnValueRefused, match="FOLLOW_UP_SAMPLE_TO_MONTHS is 6"):
        rehearsed(withdrawal_proposal(row=first))


def test_taking_back_a_value_that_weighed_puts_the_lines_back():
    utility()
    lines(GALVANIZED)
    row = own_value("CONNECTORS_MAKE_GRR", "yes")
    batch_run(batch=batch_claim())
    assert ServiceLine.objects.filter(category="GRR").count() == 3
    recorded([withdrawal_proposal(row=row)])
    batch_run(batch=batch_claim())
    assert not ServiceLine.objects.filter(category="GRR").exists()
    assert CategoryChange.objects.filter(to_category="GRR").count() == 3, "what was known stays"


# Bad values from before


BAD = [
    ("REQUIRED_RATE", "0"), ("REQUIRED_RATE", "soon"), ("APPROVED_BASES", ["AFIDAVIT"]),
    ("ANNUAL_UPDATE_DAY", "13-45"), ("REPLACEMENT_DEADLINE", "1900-01-01"),
    ("PROGRAM_YEARS", None), ("NO_SUCH_VALUE", 3), ("LEAD_ANY_PORTION", False),
    ("REPLACEMENT_DEADLINE", "2027-01-01"),
]  # fmt: skip


def bad(value_id, value, **more) -> OwnValue:
    given = {
        "jurisdiction": "STATE", "effective_from": date(2028, 1, 1), "author": "A. Clerk",
        "reason": "from before", "recorded_at": moment(date(2028, 1, 2)),
    }  # fmt: skip
    return OwnValue.objects.create(value_id=value_id, value=value, **given | more)


@pytest.mark.parametrize(("value_id", "value"), BAD)
def test_a_bad_value_from_before_is_told_and_can_be_taken_back(value_id, value):
    standing_town()
    row = bad(value_id, value)
    with pytest.raises(WrongValues, match=value_id):
        rules_in_force()
    with pytest.raises(OwnValueRefused, match="First take back"):
        rehearsed(proposed("RECORD_YEARS", "15"))
    recorded([withdrawal_proposal(row=row)])
    assert rules_known().faults == [] and rules_in_force()


def test_of_two_bad_values_each_can_be_taken_back_alone():
    utility()
    first, second = bad("REQUIRED_RATE", "0"), bad("ANNUAL_UPDATE_DAY", "13-45")
    batch = rehearsed(withdrawal_proposal(row=first))
    assert "13-45" in batch.result["still_wrong"][0]
    rehearsal_confirm(batch=batch, reason="typed wrong", author="A. Clerk", at=NOW)
    recorded([withdrawal_proposal(row=second)])
    assert rules_in_force()


def test_a_value_of_no_jurisdiction_is_told():
    utility()
    bad("REQUIRED_RATE", "1/5", jurisdiction="COUNTY")
    with pytest.raises(WrongValues, match="STATE, LOCAL, UTILITY"):
        rules_in_force()


# The utility's facts


def test_a_changed_fact_is_a_row_with_before_and_after_and_moves_the_utility():
    utility(connections=40)
    row = facts(connections="60")
    assert (row.before, row.value, row.reason) == (40, 60, "counted anew")
    assert Utility.objects.get().connections == 60
    with pytest.raises(OwnValueRefused, match="Nothing here is another"):
        facts(connections="60")


def test_a_fact_true_since_last_march_is_the_one_of_the_year_that_was_filed_late():
    utility(connections=40)
    facts(day=date(2030, 3, 1), connections="60")
    assert utility_facts_on(date(2030, 2, 28))["connections"] == 40
    assert utility_facts_on(date(2030, 12, 31))["connections"] == 60
    assert kept_now(date(2029, 12, 31), NOW)["connections"] == 40
    assert kept_now(date(2030, 12, 31), NOW)["connections"] == 60
    assert kept_now(date(2030, 12, 31), NOW - timedelta(days=1))["connections"] == 40


def test_a_fact_taken_back_is_as_it_was_before():
    utility(connections=40, name="Town of Example")
    row = facts(connections="4000")
    recorded([withdrawal_proposal(row=row)], reason="a zero too many")
    assert Utility.objects.get().connections == 40
    row = facts(name="Example Water")
    facts(name="Example Water District")
    recorded([withdrawal_proposal(row=row)])
    assert Utility.objects.get().name == "Example Water District"


@pytest.mark.parametrize(
    ("texts", "field"),
    [
        ({"email": "p at@mill.example"}, "email"),
        ({"pwsid": "OH12"}, "pwsid"), ({"pwsid": "OH12345678"}, "pwsid"),
        ({"pwsid": "QQ1234567"}, "pwsid"), ({"pwsid": "OH1234567", "state": "MI"}, "pwsid"),
        ({"pwsid": "111234567"}, "pwsid"), ({"state": "XX"}, "state"), ({"state": "Ohio"}, "state"),
        ({"time_zone": "EST"}, "time_zone"), ({"connections": "0"}, "connections"),
        ({"connections": "40000000"}, "connections"), ({"name": " "}, "name"),
        ({"name": "x" * 161}, "name"), ({"population": "many"}, "population"),
        ({"never_had_lead": "maybe"}, "never_had_lead"), ({"email": "no at sign"}, "email"),
    ],
)  # fmt: skip
def test_a_fact_of_the_wrong_form_is_told_beside_its_field(texts, field):
    utility(pwsid="")
    with pytest.raises(OwnValueRefused) as told:
        rehearsed(*fact_proposals(texts=texts, effective_from=TODAY, today=TODAY))
    assert list(told.value.errors) == [field]
    assert not OwnValue.objects.exists()


@pytest.mark.parametrize("texts", [
    {"pwsid": "OH1234567", "state": "OH"}, {"pwsid": "051234567", "state": "MI"},
    {"pwsid": "NN1234567", "state": "AZ"}, {"time_zone": "America/Detroit"}, {"pwsid": ""},
])  # fmt: skip
def test_facts_of_the_right_form_are_kept(texts):
    utility(pwsid="ZZ0000001", state="ZZ")
    Utility.objects.update(state="")
    facts(**texts)
    assert {name: getattr(Utility.objects.get(), name) for name in texts} == texts


def test_an_invented_place_is_for_a_scenario_alone():
    utility(clock_stands_at=None, pwsid="")
    with pytest.raises(OwnValueRefused, match="invented place"):
        proposals = fact_proposals(texts={"pwsid": "ZZ1234567"}, effective_from=TODAY, today=TODAY)
        rehearsed(*proposals)


def test_a_fact_is_not_recorded_before_its_day():
    utility()
    with pytest.raises(OwnValueRefused, match="has not come yet"):
        fact_proposals(texts={"name": "New"}, effective_from=date(2031, 2, 1), today=TODAY)


def test_the_first_utility_is_set_up_by_the_same_page():
    texts = {
        "name": "Mill Basin Water",
        "pwsid": "oh 123-4567",
        "state": "OH",
        "connections": "900",
    }
    recorded(fact_proposals(texts=texts, effective_from=TODAY, today=TODAY))
    found = Utility.objects.get()
    assert (found.name, found.connections, found.clock_stands_at) == ("Mill Basin Water", 900, None)
    assert found.pwsid == "OH1234567"


def test_fewer_connections_than_lines_are_asked_about():
    utility(connections=40)
    lines(GALVANIZED)
    proposals = fact_proposals(texts={"connections": "2"}, effective_from=TODAY, today=TODAY)
    assert "3 lines, more than these 2 connections" in rehearsed(*proposals).result["cautions"][0]


def test_never_had_lead_moves_lines_and_says_how_many_first():
    utility()
    line("COPPER", "GALVANIZED")
    was = ServiceLine.objects.get().category
    proposals = fact_proposals(texts={"never_had_lead": "yes"}, effective_from=TODAY, today=TODAY)
    batch = rehearsed(*proposals)
    assert batch.result["weighs"]
    rehearsal_confirm(batch=batch, reason="ledger of 1950", author="A. Clerk", at=NOW)
    batch_run(batch=batch_claim())
    found = ServiceLine.objects.get().category
    told = section(batch, "lines")["Non-lead"]
    assert (was == "NON_LEAD", found == "NON_LEAD") == (told[0] == "1", told[1] == "1")


def test_a_corrected_pwsid_leaves_what_was_done_done():
    standing_town()
    due = next(due for due in deadlines_on(TODAY).dues if due.subject.kind == "PROGRAM")
    deadline_done(key=due.key, what=due.what, done_on=TODAY, proof="letter", by="x", at=NOW,
                  today=TODAY)  # fmt: skip
    facts(pwsid="ZZ0000002")
    assert due.what not in {one.what for one in deadlines_on(TODAY).dues}
