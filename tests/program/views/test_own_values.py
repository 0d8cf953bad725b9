"""The pages of values of one's own, walked as compliance staff do; every junk to every value."""

import json
import os
import re
import subprocess
import sys
from datetime import date
from html import unescape

import pytest
from django.contrib.auth.models import Group, User
from django.core.management import call_command
from django.urls import reverse

from program.domain.regulation import RULES
from program.models import OwnValue, Utility
from program.operations.own_values import OwnValueRefused, value_proposal
from program.operations.rehearsing import weighs
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER
from program.rules import WrongValues, rules_in_force
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_claim, batch_run
from services_inventory.templatetags.one_act import FIELD
from tests.program.operations.factories import (
    NOW,
    TODAY,
    lines,
    moment,
    own_value,
    standing_town,
    town,
    utility,
)

pytestmark = pytest.mark.django_db
RATE = reverse("rule_value", args=["REQUIRED_RATE"])


@pytest.fixture
def sign_in(client):
    def signed_in(role):
        user = User.objects.create_user(role.split()[0].lower(), password="a long pass phrase")
        user.groups.add(Group.objects.get(name=role))
        client.force_login(user)
        return client

    return signed_in


@pytest.fixture
def staff(sign_in):
    utility()
    return sign_in(COMPLIANCE)


def own(rule_id: str = "REQUIRED_RATE") -> str:
    return reverse("rule_own", args=[rule_id])


def said(value, **more) -> dict:
    return {"value": value, "jurisdiction": "STATE", "effective_from": "2028-01-01"} | more


def text(answer) -> str:
    return re.sub(r"\s+", " ", unescape(answer.content.decode()))


def kept(client, address: str, form: dict, reason="letter of 3 May"):
    """Send a form, follow to its rehearsal and confirm it."""
    to = client.post(address, form)
    assert to.status_code == 302 and "/rehearsals/" in to["Location"], text(to)[-3000:]
    return client.post(f"{to['Location']}confirm/", {"reason": reason}, follow=True)


def test_a_typo_is_told_where_it_was_made_and_stays_in_the_form(staff):
    page = staff.post(own(), said("1/0", citation="letter 7"))
    assert page.status_code == 422
    assert "“1/0” can't be read. Write an exact share such as 1/8" in text(page)
    assert 'value="1/0"' in text(page) and 'value="letter 7"' in text(page)
    assert not OwnValue.objects.exists() and not Batch.objects.exists()


def test_a_value_is_seen_before_it_is_kept_and_kept_with_a_reason(staff):
    town()
    to = staff.post(own(), said("12.5 %"))
    page = text(staff.get(to["Location"]))
    assert "nothing is recorded yet" in page and "1/10 (10%)" in page and "1/8 (12.5%)" in page
    assert "No line moves: evidence is weighed by the same values." in page
    refused = staff.post(f"{to['Location']}confirm/", {"reason": ""})
    assert refused.status_code == 422 and not OwnValue.objects.exists()
    done = staff.post(f"{to['Location']}confirm/", {"reason": "letter of 3 May"}, follow=True)
    assert "Recorded: REQUIRED_RATE (state): 1/8 from Jan 1, 2028." in text(done)
    page = text(staff.get(RATE))
    assert "letter of 3 May" in page and "recorded by compliance" in page
    theirs = page[page.index("1/8") :].split("<h2>")[0]
    assert "read in the source" not in theirs, "a State's value does not borrow the federal source"
    twice = staff.post(f"{to['Location']}confirm/", {"reason": "again"})
    assert "nothing was recorded twice" in text(twice) and OwnValue.objects.count() == 1


def test_a_second_value_an_ending_and_a_taking_back_all_show_in_the_history(staff):
    kept(staff, own(), said("1/5"))
    kept(staff, own(), said("1/4", effective_from="2030-01-01"))
    assert "from Jan 1, 2028 until before Jan 1, 2030" in text(staff.get(RATE))
    first, second = OwnValue.objects.order_by("id")
    kept(staff, reverse("own_value_end", args=[second.pk]), {"day": "2030-06-01"}, "repealed")
    assert "from Jan 1, 2030 until before Jun 1, 2030" in text(staff.get(RATE))
    kept(staff, reverse("own_value_withdraw", args=[first.pk]), {}, "another system's letter")
    page = text(staff.get(RATE))
    assert "taken back by compliance: another system's letter" in page and "repealed" in page
    assert OwnValue.objects.count() == 4, "nothing is erased"


def test_an_ending_before_its_beginning_is_told_and_keeps_what_was_typed(staff):
    row = own_value("REQUIRED_RATE", "1/5")
    address = reverse("own_value_end", args=[row.pk])
    page = staff.post(address, {"day": "2027-06-01"}, follow=True)
    assert "If it never held, take it back." in text(page)
    assert page.context["typed"]() is None and '"2027-06-01"' in text(page)
    assert "write a day" in text(staff.post(address, {"day": "soon"}, follow=True))


def test_lines_that_would_move_are_counted_named_and_then_restated(staff):
    lines([("GALVANIZED", "COPPER", "LEAD")] * 3)
    to = staff.post(own("CONNECTORS_MAKE_GRR"), said("yes"))
    page = text(staff.get(to["Location"]))
    assert "3 lines from non-lead to galvanized requiring replacement" in page
    assert len(re.findall(r'href="/inventory/lines/\d+/"', page)) == 3
    done = staff.post(f"{to['Location']}confirm/", {"reason": "State's decision"}, follow=True)
    assert "The inventory is restated by it." in text(done)
    assert batch_run(batch=batch_claim()).result["changed"] == 3


def test_a_rehearsal_of_many_lines_shows_its_progress(staff, monkeypatch):
    lines([("GALVANIZED", "COPPER", "LEAD")] * 3)
    monkeypatch.setattr("program.operations.own_values.AT_ONCE", 2)
    address = staff.post(own("CONNECTORS_MAKE_GRR"), said("yes"))["Location"]
    page = text(staff.get(address))
    assert "data-refresh" in page and "Record it" not in page
    assert "Waiting for the worker" in text(staff.get(f"{address}progress/"))
    batch_run(batch=batch_claim())
    assert "Record it" in text(staff.get(address))


def test_a_rehearsal_can_be_left_and_made_again(staff):
    to = staff.post(own(), said("1/5"))["Location"]
    again = staff.post(f"{to}again/")["Location"]
    assert again != to
    staff.post(f"{again}leave/")
    assert "Left; nothing was recorded." in text(staff.get(again))
    assert "nothing was recorded twice" in text(staff.post(f"{again}confirm/", {"reason": "x"}))
    assert not OwnValue.objects.exists()


@pytest.mark.parametrize("role", [PROGRAM_MANAGER, CONTRACTOR])
def test_others_look_at_most(sign_in, role):
    utility()
    row = own_value("REQUIRED_RATE", "1/5")
    client = sign_in(role)
    batch = Batch.objects.get(kind="REHEARSAL")
    looks = 200 if role == PROGRAM_MANAGER else 403
    for address in (RATE, reverse("utility"), reverse("rehearsal", args=[batch.pk])):
        page = client.get(address)
        assert page.status_code == looks and "Take back" not in text(page)
    for address in (own(), reverse("utility"), reverse("own_value_end", args=[row.pk]),
                    reverse("rehearsal_confirm", args=[batch.pk])):  # fmt: skip
        assert client.post(address, said("1/4")).status_code == 403


# The utility's facts


def facts_form(**changed) -> dict:
    page = {"name": "Town of Example", "pwsid": "ZZ0000001", "population": "900",
            "connections": "40", "never_had_lead": "no", "publish_addresses": "yes",
            "effective_from": TODAY.isoformat()}  # fmt: skip
    return page | changed


def test_connections_are_changed_with_a_reason_and_the_history_shows_it(staff):
    address = reverse("utility")
    refused = staff.post(address, facts_form(connections="0", pwsid="OH12"))
    assert refused.status_code == 422
    assert "“0” can't be right" in text(refused) and "“OH12” can't be read" in text(refused)
    assert 'value="OH12"' in text(refused)
    done = kept(staff, address, facts_form(connections="60"), "meters counted anew")
    assert "Recorded: Service connections: 60" in text(done)
    page = text(staff.get(address))
    assert "meters counted anew" in page and "before: 40" in page and "compliance" in page
    assert Utility.objects.get().connections == 60


def test_line_ends_of_a_browser_are_no_change(staff):
    Utility.objects.update(return_address="Town of Example\n1 Main St")
    form = facts_form(return_address="Town of Example\r\n1 Main St")
    assert "Nothing here is another" in text(staff.post(reverse("utility"), form))


def test_the_utility_is_set_up_by_the_administrator_on_the_same_page(sign_in):
    client = sign_in(ADMINISTRATOR)
    today = date.today().isoformat()
    form = facts_form(name="Mill Basin Water", pwsid="OH1234567", state="OH", effective_from=today)
    kept(client, reverse("utility"), form, "first entry")
    found = Utility.objects.get()
    assert (found.name, found.state, found.clock_stands_at) == ("Mill Basin Water", "OH", None)


def test_a_time_zone_that_days_do_not_begin_by_is_told(staff):
    done = kept(staff, reverse("utility"), facts_form(time_zone="America/Chicago"))
    assert "set TIME_ZONE to America/Chicago" in text(done)


# Every value, every junk

JUNK = ("none", "", "soon", "0", "-1", "9" * 30, "13-45", "02-30", "1900-01-01", "1900",
        "AFIDAVIT", "1e999999", "1/0", "NaN", "true", "[]", '{"a": 1}', "<b>", "x" * 5_000,
        "٣", "2,5", "2000 322\n1000 1")  # fmt: skip


@pytest.mark.parametrize("junk", JUNK)
def test_every_value_reads_junk_or_refuses_it_in_a_sentence(junk):
    """What is read stands in the range of its value; the values are built with it."""
    utility()
    for rule_id in RULES.ids():
        state = {"jurisdiction": "STATE", "effective_from": TODAY, "today": TODAY}
        try:
            proposal = value_proposal(value_id=rule_id, text=junk, **state)
            weighs([proposal], author="A. Clerk", at=NOW)
        except OwnValueRefused as refused:
            assert str(refused).endswith((".", ")", "?")), (rule_id, junk, str(refused))
        else:
            RULES.all(rule_id)[-1].allowed.take(proposal.value)
    assert not OwnValue.objects.exists()


def test_junk_on_the_page_of_each_value_is_a_sentence_never_an_error_and_never_kept(staff):
    for number, rule_id in enumerate(RULES.ids()):
        junk = JUNK[number % len(JUNK)]
        answer = staff.post(own(rule_id), said(junk))
        if RULES.all(rule_id)[-1].allowed is None:
            assert answer["Location"] == reverse("rule_value", args=[rule_id])
        elif answer.status_code == 302:
            assert Batch.objects.latest("id").state == "CHECKED", (rule_id, junk)
        else:
            assert answer.status_code == 422 and 'class="error"' in text(answer), (rule_id, junk)
    assert not OwnValue.objects.exists()


@pytest.mark.parametrize(
    ("rule_id", "slip"),
    [("APPROVED_BASES", "AFIDAVIT"), ("REQUIRED_RATE", "0"), ("ANNUAL_UPDATE_DAY", "13-45"),
     ("REPLACEMENT_DEADLINE", "1900-01-01"), ("REPLACEMENT_DEADLINE", "none"),
     ("PROGRAM_YEARS", "0"), ("VALIDATION_TABLE", "[]"), ("CONSENT_MIN_DAYS_BETWEEN", "thirty"),
     ("DIAMETER_NONLEAD_OVER_IN", "two"), ("HOLIDAY_CALENDAR", "US-ZZ")],
)  # fmt: skip
def test_a_slip_is_refused(staff, rule_id, slip):
    assert staff.post(own(rule_id), said(slip)).status_code == 422


# What got in all the same

BAD = {"value_id": "REQUIRED_RATE", "value": "0", "jurisdiction": "STATE", "author": "A. Clerk",
       "effective_from": date(2028, 1, 1), "reason": "from before",
       "recorded_at": moment(date(2028, 1, 2))}  # fmt: skip


@pytest.mark.parametrize("name", ["board", "rate", "deadline_list", "submission_list", "tier_list"])
def test_pages_say_what_is_wrong_and_lead_to_where_it_is_taken_back(staff, name):
    town()
    row = OwnValue.objects.create(**BAD)
    page = staff.get(reverse(name))
    assert page.status_code == 409
    assert "REQUIRED_RATE, state value: “0” can't be right." in text(page)
    assert RATE in text(page)
    assert staff.get(RATE).status_code == staff.get(reverse("rule_values")).status_code == 200
    done = kept(staff, reverse("own_value_withdraw", args=[row.pk]), {}, "typed wrong")
    assert "taken back by compliance: typed wrong" in text(done)
    assert staff.get(reverse(name)).status_code == 200


def test_a_row_about_a_value_that_is_gone_can_be_taken_back(staff):
    row = OwnValue.objects.create(**BAD | {"value_id": "NO_SUCH_VALUE"})
    assert "no rule value called" in text(staff.get(reverse("rate")))
    assert staff.get(reverse("rule_value", args=["NO_SUCH_VALUE"])).status_code == 200
    kept(staff, reverse("own_value_withdraw", args=[row.pk]), {})
    assert staff.get(reverse("rate")).status_code == 200


def test_a_form_that_records_is_answered_with_the_sentence_too(sign_in):
    utility()
    OwnValue.objects.create(**BAD)
    answer = sign_in(PROGRAM_MANAGER).post(reverse("pool_freeze"), {FIELD: "a" * 32})
    assert answer.status_code == 409 and "can't be right" in text(answer)


def test_the_public_learns_no_more_than_that_it_is_being_mended(client):
    utility()
    OwnValue.objects.create(**BAD)
    for path in ("/api/v1/work-orders/", "/lookup/en/"):
        answer = client.get(path)
        assert answer.status_code < 500 and b"can&#x27;t be right" not in answer.content


@pytest.mark.parametrize("command", [["restate"], ["draw_plan"], ["restate", "--on", "2029-01-01"]])
def test_commands_end_in_the_sentence(command):
    standing_town()
    OwnValue.objects.create(**BAD)
    with pytest.raises((WrongValues, SystemExit, Exception), match="can't be right") as told:
        call_command(*command)
    assert "REQUIRED_RATE" in str(told.value)


def test_the_worker_refuses_a_batch_with_the_sentence():
    utility()
    OwnValue.objects.create(**BAD)
    batch = Batch.objects.create(
        kind="RESTATE", state="QUEUED", requested_by="x", created_at=NOW, parameters={"step": ""}
    )
    batch_run(batch=batch_claim())
    batch.refresh_from_db()
    assert batch.state == "REFUSED" and "can't be right" in batch.message


def test_a_command_line_ends_with_one_and_the_sentence(tmp_path):
    """Through the real entry: a setting that can't be right is told before anything else."""
    told = subprocess.run(
        [sys.executable, "manage.py", "check_record"], capture_output=True, text=True,
        env=os.environ | {"TIME_ZONE": "Mars/Base", "DATA_DIR": str(tmp_path), "SECRET_KEY": "x"},
    )  # fmt: skip
    assert told.returncode == 1 and "Traceback" not in told.stderr
    assert "TIME_ZONE is 'Mars/Base', and no time zone is called so." in told.stderr


def test_good_values_are_in_force_and_json_of_a_rehearsal_is_plain(staff):
    staff.post(own(), said("1/5"))
    result = Batch.objects.get(kind="REHEARSAL").result
    assert json.loads(json.dumps(result)) == result
    assert rules_in_force().latest("REQUIRED_RATE").jurisdiction == "FEDERAL"
