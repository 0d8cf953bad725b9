"""The program's own pages: who may open them, and what they do."""

import hashlib
from datetime import date

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse
from icalendar import Calendar

from program.models import DoneMark, PoolFreeze, Submission, ValueTick
from program.operations.deadlines import deadline_done
from program.operations.notices import notices_owe
from program.operations.pools import pools_freeze_due
from program.operations.submissions import submission_freeze
from program.queries.deadlines import deadlines_on
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_claim, batch_run
from tests.program.operations.factories import (
    NOW,
    TODAY,
    lines,
    moment,
    standing_town,
    utility,
)

pytestmark = pytest.mark.django_db
STAFF = (PROGRAM_MANAGER, COMPLIANCE, ADMINISTRATOR)


@pytest.fixture
def sign_in(client):
    def signed_in(role):
        user = User.objects.create_user(role.split()[0].lower(), password="a long pass phrase")
        user.groups.add(Group.objects.get(name=role))
        client.force_login(user)
        return user

    return signed_in


@pytest.fixture
def _town():
    standing_town()


def filed() -> Submission:
    return submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)


def test_an_empty_record_leads_to_the_first_hour_and_not_into_a_dead_end(client, sign_in):
    utility(clock_stands_at=date(2027, 5, 5))
    sign_in(COMPLIANCE)
    pages = [reverse("submission_list"), reverse("submission_draft", args=[2027])]
    for page in pages:
        assert reverse("first_hour") in client.get(page).content.decode().split("<main")[1]
    assert "The pool is empty" in client.get(reverse("validation_list")).content.decode()
    lines([("LEAD", "COPPER", "")], at=moment(date(2027, 4, 1)))
    said = client.get(pages[0]).content.decode()
    assert "see the draft of 2027" in said and pages[1] in said
    assert "This is what it would say now" in client.get(pages[1]).content.decode()


@pytest.mark.parametrize("name", ["rate", "deadline_list", "submission_list", "rule_values"])
def test_nobody_signs_in_first_a_contractor_is_refused_staff_may_read(client, sign_in, name):
    utility()
    assert client.get(reverse(name)).status_code == 302
    sign_in(CONTRACTOR)
    assert client.get(reverse(name)).status_code == 403
    for role in STAFF:
        sign_in(role)
        assert client.get(reverse(name)).status_code == 200


@pytest.mark.usefixtures("_town")
@pytest.mark.parametrize(
    ("role", "words"),
    [
        (PROGRAM_MANAGER, "Where the program stands"),
        (COMPLIANCE, "What has to be proved"),
        (ADMINISTRATOR, "Last batches"),
        (CONTRACTOR, "Your account belongs to no company yet"),
    ],
)
def test_each_role_has_its_board(client, sign_in, role, words):
    sign_in(role)
    assert words in client.get(reverse("board")).content.decode()


def test_boards_of_an_empty_record_say_where_to_begin(client, sign_in):
    for role in STAFF:
        sign_in(role)
        board = client.get(reverse("board")).content.decode()
        if role == ADMINISTRATOR:
            assert reverse("next_things") in board
            told = client.get(reverse("next_things")).content.decode()
            assert "Go through the first hour" in told and reverse("first_hour") in told
        page = client.get(reverse("rate")).content.decode()
        assert "No service line is on record" in page and "program is complete" not in page


@pytest.mark.usefixtures("_town")
def test_only_the_manager_freezes_pools(client, sign_in):
    sign_in(COMPLIANCE)
    assert client.post(reverse("pool_freeze")).status_code == 403
    sign_in(PROGRAM_MANAGER)
    assert client.get(reverse("pool_freeze")).status_code == 405
    client.post(reverse("pool_freeze"))
    assert PoolFreeze.objects.count() == 4
    page = client.get(reverse("rate")).content.decode()
    assert "11.84%" in page
    assert "3 / 20" in page


def test_a_baseline_taken_in_late_is_frozen_by_the_day_the_manager_gives(client, sign_in):
    utility()
    lines([("LEAD", "LEAD", "")], at=moment(date(2028, 2, 1)))
    sign_in(PROGRAM_MANAGER)
    client.post(reverse("pool_freeze"))
    assert not PoolFreeze.objects.exists()
    client.post(reverse("pool_freeze"), {"baseline_day": "2028-02-01"})
    assert list(PoolFreeze.objects.order_by("program_year").values_list("size", flat=True)) == [
        1, 1, 1, 1,
    ]  # fmt: skip


@pytest.mark.usefixtures("_town")
def test_the_downloaded_pool_gives_the_frozen_sha256(client, sign_in):
    pools_freeze_due(as_of=date(2027, 11, 1), by="m", at=NOW)
    sign_in(COMPLIANCE)
    answer = client.get(reverse("pool_list", args=[1]))
    rows = b"".join(answer.streaming_content).decode().splitlines()[1:]
    ids = sorted(row.split(",")[0] for row in rows)
    digest = hashlib.sha256("\n".join(ids).encode()).hexdigest()
    assert digest == PoolFreeze.objects.get(program_year=1).line_list_sha256


@pytest.mark.usefixtures("_town")
def test_the_calendar_feed_needs_its_key_and_ends_with_the_password(client, sign_in):
    user = sign_in(COMPLIANCE)
    feed = client.get(reverse("deadline_list")).context["feed"]
    client.logout()
    answer = client.get(feed)
    assert answer["Content-Type"].startswith("text/calendar")
    assert len(Calendar.from_ical(answer.content).walk("VEVENT")) > 3
    assert client.get(feed.replace(".ics", "x.ics")).status_code == 404
    user.set_password("another long phrase")
    user.save()
    assert client.get(feed).status_code == 404


@pytest.mark.usefixtures("_town")
def test_letters_of_one_day_stand_in_one_row_that_opens_and_names_whose_job_it_is(client, sign_in):
    notices_owe(TODAY)
    sign_in(COMPLIANCE)
    answer = client.get(reverse("deadline_list"))
    row = max(answer.context["rows"], key=lambda row: row["number"])
    assert row["number"] > 3 and row["owner"] == COMPLIANCE
    opened = client.get(f"{reverse('deadline_list')}?{row['open']}")
    assert len(opened.context["rows"]) == row["number"]
    assert {one["number"] for one in opened.context["rows"]} == {1}
    assert "Record as done" in opened.content.decode()
    events = Calendar.from_ical(client.get(answer.context["feed"]).content).walk("VEVENT")
    assert len(events) == len(answer.context["rows"]) + answer.context["more"]
    duties = client.get(reverse("board")).context["duties"]
    assert row["due"].what in {duty.what for duty in duties}
    for duty in duties:
        asked = {"what": duty.what, "state": "PRESSES"}
        rows = client.get(reverse("deadline_list"), asked).context["rows"]
        assert len(rows) == min(duty.number, 50)
    sign_in(PROGRAM_MANAGER)
    board = client.get(reverse("board"))
    assert row["due"].what not in {duty.what for duty in board.context["duties"]}
    assert board.context["of_others"] >= row["number"]


@pytest.mark.usefixtures("_town")
def test_a_deadline_is_recorded_as_done_by_compliance_staff(client, sign_in):
    said = {"key": "k", "what": "Plan", "done_on": "2030-01-20", "proof": "Letter"}
    sign_in(PROGRAM_MANAGER)
    assert client.post(reverse("deadline_done"), said).status_code == 403
    sign_in(COMPLIANCE)
    client.post(reverse("deadline_done"), said | {"done_on": "2031-01-20"})
    assert not DoneMark.objects.exists()
    client.post(reverse("deadline_done"), said)
    assert DoneMark.objects.get().recorded_by == "compliance"


@pytest.mark.usefixtures("_town")
def test_freezing_is_queued_once_and_run_by_the_worker(client, sign_in):
    sign_in(PROGRAM_MANAGER)
    assert client.post(reverse("submission_freeze", args=[2030])).status_code == 403
    sign_in(COMPLIANCE)
    draft = client.get(reverse("submission_draft", args=[2030])).content.decode()
    assert "nobody has read in the rule" in draft
    client.post(reverse("submission_freeze", args=[2030]))
    client.post(reverse("submission_freeze", args=[2030]))
    assert Batch.objects.filter(kind="SUBMISSION").count() == 1
    batch = batch_run(batch=batch_claim())
    assert batch.state == "APPLIED", batch.message
    assert Submission.objects.get().batch_id == batch.pk
    page = client.get(reverse("submission", args=[2030, 1]))
    assert page.status_code == 200


@pytest.mark.usefixtures("_town")
def test_a_year_that_is_not_over_is_refused_in_words_by_page_and_worker(client, sign_in):
    sign_in(COMPLIANCE)
    page = client.get(reverse("submission_draft", args=[2031])).content.decode()
    assert "Program year 4 runs to Dec 31, 2031" in page
    client.post(reverse("submission_freeze", args=[2031]))
    batch = batch_run(batch=batch_claim())
    assert (batch.state, batch.message[:14]) == ("REFUSED", "Program year 4")


@pytest.mark.usefixtures("_town")
def test_files_are_sent_to_staff_and_to_nobody_else(client, sign_in):
    submission = filed()
    address = reverse("submission_file", args=[2030, 1, "csv"])
    assert client.get(address).status_code == 302
    sign_in(CONTRACTOR)
    assert client.get(address).status_code == 403
    sign_in(PROGRAM_MANAGER)
    answer = client.get(address)
    content = b"".join(answer.streaming_content)
    assert hashlib.sha256(content).hexdigest() == submission.files.get(kind="csv").sha256
    assert client.get(reverse("submission_file", args=[2030, 1, "other"])).status_code == 404
    assert client.get(reverse("submission", args=[2030, 2])).status_code == 404


@pytest.mark.usefixtures("_town")
def test_only_compliance_staff_certify_and_every_question_is_answered(client, sign_in):
    submission = filed()
    address = reverse("submission_certify", args=[2030, 1])
    said = {"name": "A. Certifier", "title": "Lead", "statement": "True."}
    sign_in(PROGRAM_MANAGER)
    assert client.post(address, said).status_code == 403
    sign_in(COMPLIANCE)
    answer = client.post(address, said)
    assert answer.status_code == 422
    assert "Not answered. If it is no" in answer.content.decode()
    yes = {one.key.lower(): "on" for one in answer.context["certify_form"].asked}
    client.post(address, said | yes)
    submission.refresh_from_db()
    assert submission.state == "CERTIFIED"
    assert submission.certified_title == "Lead"


@pytest.mark.usefixtures("_town")
def test_amending_and_verifying_run_through_the_worker(client, sign_in):
    filed()
    sign_in(COMPLIANCE)
    assert client.post(reverse("submission_amend", args=[2030, 1]), {}).status_code == 422
    client.post(reverse("submission_verify", args=[2030, 1]))
    batch = batch_run(batch=batch_claim())
    assert batch.result["agrees"]
    page = client.get(reverse("submission", args=[2030, 1])).content.decode()
    assert "same to the byte" in page and "asked by" in page
    client.post(reverse("submission_amend", args=[2030, 1]), {"what_changed": "A line was late."})
    batch_run(batch=batch_claim())
    assert Submission.objects.get(revision=2).what_changed == "A line was late."
    page = client.get(reverse("submission", args=[2030, 2])).content.decode()
    assert "asked by" not in page  # of the other revision
    client.post(reverse("submission_verify_all"))
    client.post(reverse("submission_verify_all"))
    assert Batch.objects.filter(state="QUEUED").count() == 2


@pytest.mark.usefixtures("_town")
def test_submissions_and_deadlines_read_one_mark_of_what_is_done(client, sign_in):
    sign_in(COMPLIANCE)
    assert client.get(reverse("submission_list")).content.decode().count("overdue") == 2
    [due] = [
        due
        for due in deadlines_on(TODAY).dues
        if due.rule_id == "ANNUAL_UPDATE_DAY" and due.occurrence == "1"
    ]
    deadline_done(
        key=due.key, what=due.what, done_on=date(2029, 1, 20), proof="Letter 7", by="c", at=NOW,
        today=TODAY,
    )  # fmt: skip
    page = client.get(reverse("submission_list")).content.decode()
    assert page.count("overdue") == 1 and "Letter 7" in page


def test_a_value_is_ticked_off_by_compliance_staff_alone(client, sign_in):
    tick = reverse("rule_tick", args=["REPLACEMENT_DEADLINE"])
    sign_in(COMPLIANCE)
    client.post(tick, {"read_where": "edition of 2030"})
    assert not ValueTick.objects.exists()  # without the paragraph nobody can check it
    read = {
        "citation": "40 CFR 141.84(d)(4)", "read_where": "edition of 2030", "confirms": "yes",
        "text": "All of them within ten years.",
    }  # fmt: skip
    client.post(tick, read)
    found = ValueTick.objects.get()
    assert (found.value, found.text, found.citation, found.ticked_by) == (
        "2037-12-31", "All of them within ten years.", "40 CFR 141.84(d)(4)", "compliance",
    )  # fmt: skip
    sign_in(ADMINISTRATOR)
    assert client.post(tick, {"read_where": "x"}).status_code == 403
    assert client.get(reverse("rule_value", args=["NO_SUCH_VALUE"])).status_code == 404
