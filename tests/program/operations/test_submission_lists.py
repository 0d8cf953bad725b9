"""The lists of a submission that the town's totals do not show: refusals, findings, sources."""

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest

from program.models import Notice, Plan, PlanAdoption, ResultFile, Submission, TapResult
from program.operations.submissions import (
    SubmissionError,
    _alone,
    submission_draft,
    submission_files,
    submission_freeze,
)
from replacements.models import (
    CompletionRecord,
    Consent,
    ContactAttempt,
    OwnerChange,
    Replacement,
)
from services_inventory.domain.classification import facts_from_key, facts_key
from services_inventory.domain.materials import Connector
from services_inventory.models import (
    Batch,
    Conflict,
    Document,
    HeldRow,
    Premise,
    ServiceLine,
    ValidationDraw,
)

from .factories import NOW, TODAY, found, moment, replaced, standing_town

pytestmark = pytest.mark.django_db
REFUSED_ON = date(2030, 3, 1)


@pytest.fixture
def lines():
    return standing_town()


def document() -> dict:
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    return json.loads(Path(submission_files(2030)["json"]).read_text(encoding="utf-8"))


def refuse(line, day=REFUSED_ON, answer="REFUSED"):
    for number, method in enumerate(("PHONE", "PHONE", "LETTER", "IN_PERSON")):
        ContactAttempt.objects.create(
            line=line, at=moment(day - timedelta(days=9 - number)), method=method,
            outcome="no", recorded_by="clerk", recorded_at=moment(day),
        )  # fmt: skip
    return Consent.objects.create(
        line=line, answer=answer, answered_on=day, recorded_by="clerk", recorded_at=moment(day)
    )


def new_owner(line, day, recorded=None):
    return OwnerChange.objects.create(
        premise=line.premise, changed_on=day, source="deed", recorded_by="clerk",
        recorded_at=recorded or moment(day),
    )  # fmt: skip


def test_a_refusal_stands_with_each_attempt_its_day_method_and_outcome(lines):
    refuse(lines["lead"][6])
    said = document()
    (row,) = said["refusals"]
    assert row["reason"] == "Refused on 2030-03-01"
    assert (row["attempts"], row["methods"], row["reasonable_effort"]) == (4, 3, "YES")
    assert row["attempts_made"].startswith("2030-02-20 phone: no; 2030-02-21 phone: no; ")
    assert "next_due_on" not in row
    assert next(one["value"] for one in said["summary"] if one["code"] == "B13") == 1


def test_a_new_owner_is_due_an_offer_and_the_old_refusal_no_longer_holds(lines):
    refuse(lines["lead"][6])
    new_owner(lines["lead"][6], date(2030, 10, 1))
    (row,) = document()["refusals"]
    assert row["reason"] == "New owner since 2030-10-01"
    # 40 CFR 141.84(d)(3), as known: offered within 6 months, tried for within a year.
    assert row["next_due_on"] == "2031-04-01"
    assert row["reasonable_effort"] == "NO" and row["attempts"] == 4


def test_once_the_new_owner_was_asked_the_whole_effort_is_due_within_the_year(lines):
    refuse(lines["lead"][6])
    new_owner(lines["lead"][6], date(2030, 10, 1))
    ContactAttempt.objects.create(
        line=lines["lead"][6], at=moment(date(2030, 11, 2)), method="LETTER", outcome="sent",
        recorded_by="clerk", recorded_at=moment(date(2030, 11, 2)),
    )  # fmt: skip
    (row,) = document()["refusals"]
    assert row["next_due_on"] == "2031-10-01"


@pytest.mark.parametrize(
    "case", ["given by the new owner", "recorded after the freeze", "owner before had agreed"]
)
def test_who_stands_in_the_list_after_a_change_of_owner(lines, case):
    line = lines["lead"][6]
    refuse(line, answer="GIVEN" if case == "owner before had agreed" else "REFUSED")
    late = case == "recorded after the freeze"
    new_owner(line, date(2030, 10, 1), NOW + timedelta(days=1) if late else None)
    if case == "given by the new owner":
        day = date(2030, 12, 1)
        Consent.objects.create(
            line=line, answer="GIVEN", answered_on=day, recorded_by="clerk", recorded_at=moment(day)
        )
    reasons = [row["reason"] for row in document()["refusals"]]
    assert reasons == (["Refused on 2030-03-01"] if late else [])


def test_a_change_names_where_its_evidence_was_taken_from(lines):
    found(lines["unknown"][1], "CUSTOMER", "COPPER", date(2030, 4, 2), moment(date(2030, 4, 3)))
    (row,) = [row for row in document()["changes"] if row["cause"] == "FOUND"]
    assert row["document"] == "card 7"
    assert row["recorded_on"] == "2030-04-03"


def test_each_line_that_the_validation_found_is_named_and_whether_it_was_corrected(lines):
    draw = ValidationDraw.objects.create(
        drawn_on=date(2030, 2, 1), drawn_by="compliance", seed="7", pool_size=5,
        pool_sha256="0" * 64, required=1,
    )  # fmt: skip
    corrected, waiting = lines["non_lead"][1:3]
    for position, line in enumerate((corrected, waiting), start=1):
        draw.picks.create(
            line=line, position=position, result="FOUND_LEAD", result_on=date(2030, 6, 1)
        )
    found(corrected, "CUSTOMER", "LEAD", date(2030, 6, 1), moment(date(2030, 6, 4)))
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    book = openpyxl.load_workbook(submission_files(2030)["xlsx"])
    rows = {row[0]: row[1] for row in book["Validation"].iter_rows(values_only=True)}
    assert rows["Found lead"] == 2
    said = [text for item, text in rows.items() if item.startswith(f"Line {corrected.location_id}")]
    assert said == ["found lead on 2030-06-01; the inventory was corrected on 2030-06-04"]
    said = [text for item, text in rows.items() if item.startswith(f"Line {waiting.location_id}")]
    assert said == ["found lead on 2030-06-01; not yet corrected"]


def test_every_kind_of_open_question_is_listed_with_its_number(lines):
    """Conflicts, held rows, unread values, no position, outside every boundary, overdue notices."""
    found(lines["lead"][8], "SYSTEM", "COPPER", date(2030, 3, 1), moment(date(2030, 3, 2)))
    Conflict.objects.all().delete()
    Conflict.objects.create(
        line=lines["lead"][8],
        portion="SYSTEM",
        sentence="Two readings.",
        opened_at=moment(TODAY, 1),
    )
    batch = Batch.objects.create(
        kind="INTAKE", state="APPLIED", requested_by="clerk", created_at=NOW, title="A file"
    )
    HeldRow.objects.create(batch=batch, row_number=7, reason="no address")
    Premise.objects.filter(lines=lines["lead"][0]).update(latitude=None, longitude=None)
    ServiceLine.objects.filter(pk=lines["lead"][1].pk).update(neighborhood=None)
    for number, day in enumerate((date(2031, 1, 14), date(2031, 1, 15)), start=6):
        Notice.objects.create(
            line=lines["lead"][number], kind="LEAD", due_on=day, rule_id="x", how_computed=""
        )
    asked = submission_draft(year=2030, today=TODAY, at=NOW).questions
    numbers = {question.key: question.number for question in asked}
    assert numbers["CONFLICTS"] == 1 and numbers["HELD_ROWS"] == 1
    assert numbers["NO_LOCATION"] >= 1
    assert numbers["NOTICES"] == 1  # due yesterday; the one due today is not overdue
    assert numbers["VALUES"] > 5 and numbers["PLAN"] == 1 and numbers["POOLS"] == 3


@pytest.mark.parametrize("year", [0, -1, 1900, 2032, 2999, 99_999])
def test_a_year_that_cannot_be_submitted_is_refused_with_a_sentence(lines, year):
    with pytest.raises(SubmissionError) as error:
        submission_draft(year=year, today=TODAY, at=NOW)
    assert str(year).lstrip("-") in str(error.value) and str(error.value).endswith(".")


def test_a_second_freeze_while_one_runs_is_refused_and_nothing_is_lost(lines):
    with _alone(2030), pytest.raises(SubmissionError, match="is being frozen already"):
        submission_freeze(year=2030, by="other", at=NOW, today=TODAY)
    assert submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY).revision == 1


def test_a_replacement_says_what_was_there_before_and_what_the_household_got(lines):
    replaced(lines["lead"][7], date(2030, 11, 3))
    record = CompletionRecord.objects.order_by("-id").first()
    record.quality = {"household": {"notice_on": "2030-11-02", "filter_on": "2030-11-03"}}
    record.save()
    invite_and_sample(lines["lead"][7])
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    place = lines["lead"][7].location_id
    [row] = [one for one in document()["replacements"] if one["location_id"] == place]
    assert (row["system_material_before"], row["customer_material_before"]) == ("LEAD", "LEAD")
    assert (row["notice_on"], row["filter_on"]) == ("2030-11-02", "2030-11-03")
    assert row["connector_replaced"] == "NO" and row["sample_offered_on"] == "2030-12-01"
    assert row["sample_result"] == "2030-12-20: lead <0.001 mg/L; copper 0.12 mg/L"


def invite_and_sample(line):
    """A letter of invitation, two results that count, and those that do not count."""
    Notice.objects.create(
        line=line, kind="SAMPLE_INVITATION", due_on=date(2030, 12, 2), rule_id="x",
        subject=f"invite-{Replacement.objects.latest('id').pk}", delivered_on=date(2030, 12, 1),
    )  # fmt: skip
    file, later = (
        ResultFile.objects.create(
            document=Document.objects.create(
                file="f", name="lab.csv", kind="X", sha256=str(n + 1) * 64, bytes=1,
                uploaded_by="c", uploaded_at=NOW,
            ),
            received_on=TODAY, rows=1, recorded_by="clerk", recorded_at=NOW + timedelta(days=n),
        )
        for n in (-1, 1)
    )  # fmt: skip
    for its, metal, written, day in (
        (file, "COPPER", "0.12 mg/L", date(2030, 12, 20)),
        (file, "LEAD", "<0.001 mg/L", date(2030, 12, 20)),
        (file, "LEAD", "9 of another day", date(2030, 12, 30)),
        (file, "LEAD", "9 before the work", date(2030, 10, 1)),
        (later, "LEAD", "9 learned after the freeze", date(2030, 12, 20)),
    ):
        TapResult.objects.create(
            file=its, line=line, row=1, sampled_on=day, purpose="FOLLOW_UP", tier_reason="",
            metal=metal, written=written, micrograms=1,
        )  # fmt: skip


def totals() -> dict:
    return Submission.objects.order_by("-id").first().facts["totals"]


def test_connectors_replaced_are_counted_by_year_and_in_all_lead_ones_apart(lines):
    for number, day in ((5, date(2030, 5, 1)), (6, date(2030, 6, 1)), (7, date(2029, 6, 1))):
        replaced(lines["lead"][number], day)
        work = Replacement.objects.order_by("-id").first()
        had = Connector.UNKNOWN if number == 6 else Connector.LEAD
        work.facts_before = facts_key(replace(facts_from_key(work.facts_before), connector=had))
        work.connector_replaced = True
        work.save()
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    said = totals()
    assert (said["A13"], said["A14"], said["A15"]) == (2, 1, 0)
    assert (said["A13_TO_DATE"], said["A14_TO_DATE"]) == (3, 2)
    rows = [row for row in document()["replacements"] if row["connector_replaced"] == "YES"]
    assert len(rows) == 3


def test_what_each_non_lead_line_rests_on_is_counted_and_comes_to_all_of_them(lines):
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    rows = document()["non_lead_bases"]
    assert sum(row["lines"] for row in rows) == totals()["A4"] > 0
    assert [row["lines"] for row in rows] == sorted((row["lines"] for row in rows), reverse=True)


def adopted(name: str, day: date, instead_of=None, undone: date | None = None):
    plan = Plan.objects.create(
        name=name, drawn_on=day, drawn_by="manager", drawn_at=moment(day), state="SUPERSEDED"
    )
    PlanAdoption.objects.create(
        plan=plan, instead_of=instead_of, adopted_by="manager", adopted_at=moment(day),
        undone_at=undone and moment(undone), undone_because="A mistake" if undone else "",
    )  # fmt: skip
    return plan


def test_the_plan_named_is_the_one_that_stood_at_the_years_end(lines):
    adopted("Early", date(2030, 2, 1))
    adopted("Taken back", date(2030, 12, 1), undone=date(2030, 12, 20))
    adopted("Next year's", date(2031, 1, 3))
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    told = Submission.objects.get().facts["plan_statement"]
    assert told == "Plan 'Early', drawn on Feb 1, 2030, adopted by manager on Feb 1, 2030."


def test_before_any_plan_was_adopted_the_file_says_so_whatever_is_in_force_today(lines):
    adopted("Next year's", date(2031, 1, 3))
    submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    told = Submission.objects.get().facts["plan_statement"]
    assert told == "No plan was adopted by Dec 31, 2030."
