"""One act, one row: a form that is sent twice records once, and says so."""

import os
import re
import subprocess
import sys
from threading import Barrier, Thread

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse

from services_inventory.models import Evidence, SentOnce
from services_inventory.templatetags.one_act import FIELD
from tests.services_inventory.factories import line_of
from tests.services_inventory.people import STAFF, browser_of
from tests.source_files import APPS, ROOT
from tests.test_recipes import TABLES_MADE

pytestmark = pytest.mark.django_db
SEEN = {"portion": "SYSTEM", "material": "copper", "basis": "EXCAVATION", "points_seen": "1",
        "observed_on": "2028-03-20", "era": "NOW"}  # fmt: skip


@pytest.fixture(autouse=True)
def _a_day_of_its_own(settings):
    settings.TODAY = "tests.services_inventory.people.today"
    settings.NOW = "tests.services_inventory.people.now"


@pytest.fixture
def line():
    """Return a line of lead, with two statements."""
    return line_of("LEAD", "LEAD")


def token_of(client, line) -> str:
    """Return the token of the evidence form, as its page has it."""
    page = client.get(reverse("line", args=[line.pk])).content.decode()
    token = rf'action="[^"]*/evidence/[^>]*>.*?name="{FIELD}" value="([^"]+)"'
    return re.search(token, page, re.S)[1]


def record(client, line, token: str, **said):
    """Send the evidence form from its page."""
    given = {**SEEN, **said, FIELD: token}
    page = f"http://testserver{reverse('line', args=[line.pk])}"
    return client.post(
        reverse("evidence_record", args=[line.pk]), given, headers={"Referer": page}, follow=True
    )


def test_a_double_click_records_once_and_says_what_was_recorded(line):
    staff = browser_of(STAFF)
    token = token_of(staff, line)
    assert "Recorded. The line is" in record(staff, line, token).content.decode()
    again = record(staff, line, token)
    assert line.evidence.count() == 3
    page = again.content.decode()
    assert re.search(
        r"Already recorded on \w{3} \d+, \d{4}, \d\d:\d\d\. Recorded. The line is", page
    )
    assert f'<a href="{reverse("line", args=[line.pk])}#main">See what was recorded</a>' in page
    assert "Nothing was recorded a second time." in page
    record(staff, line, token_of(staff, line))  # a page that was opened anew is an act of its own
    assert line.evidence.count() == 4


def test_a_refused_form_can_be_mended_and_sent_again(line):
    staff = browser_of(STAFF)
    token = token_of(staff, line)
    assert record(staff, line, token, observed_on="2031-01-01").status_code == 422
    assert (line.evidence.count(), SentOnce.objects.count()) == (2, 0)
    record(staff, line, token)
    assert line.evidence.count() == 3


def test_other_words_from_the_back_button_are_kept_for_a_second_sending(line):
    staff = browser_of(STAFF)
    token = token_of(staff, line)
    record(staff, line, token)
    other = record(staff, line, token, note="and at the meter")
    page = other.content.decode()
    assert line.evidence.count() == 3
    assert other.redirect_chain == [(f"http://testserver{reverse('line', args=[line.pk])}", 302)]
    assert "What you typed now is not recorded yet" in page
    assert "and at the meter" in page  # for the script that puts it back
    fresh = token_of(staff, line)
    record(staff, line, fresh, note="and at the meter")
    assert line.evidence.count() == 4


def test_a_token_speaks_for_the_account_that_used_it(line):
    token = token_of(browser_of(STAFF), line)
    record(browser_of(STAFF), line, token)
    record(browser_of("Program manager"), line, token)
    assert line.evidence.count() == 4


def test_what_breaks_leaves_nothing_and_may_be_sent_again(line, monkeypatch):
    staff = browser_of(STAFF)
    staff.raise_request_exception = False
    token = token_of(staff, line)

    def breaks(*_):
        raise RuntimeError("the lamp fell over")

    with monkeypatch.context() as patch:
        patch.setattr("services_inventory.views.line._stands", breaks)
        assert record(staff, line, token).status_code == 500
    assert (line.evidence.count(), SentOnce.objects.count()) == (2, 0)
    record(staff, line, token)
    assert line.evidence.count() == 3


def test_a_customer_who_sends_twice_is_told_so_in_the_language_of_the_page(client, utility):
    address = reverse("public:tell_us", args=["es"])
    page = client.get(address).content.decode()
    token = re.search(rf'name="{FIELD}" value="([^"]+)"', page)[1]
    given = {"kind": "WRONG_CATEGORY", "address_given": "12 Mill St", FIELD: token}
    client.post(address, given)
    page = client.post(address, given, follow=True).content.decode()
    from program.models import Inquiry

    assert Inquiry.objects.count() == 1
    assert "Ya quedó registrado" in page


@pytest.fixture
def utility():
    """Return the utility that the public pages speak for."""
    from program.models import Utility

    return Utility.objects.create(name="Quillwater")


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(
    connection.vendor == "sqlite", reason="the tests' database in memory has one connection"
)
def test_two_at_once_count_once_if_it_is_one_form_and_twice_if_it_is_two(line):
    for tokens, rows in ((("one", "one"), 1), (("two", "three"), 2)):
        before, together = Evidence.objects.count(), Barrier(2)

        def send(token, together=together):
            staff = browser_of(STAFF)
            together.wait(30)
            record(staff, line, token)
            connection.close()

        both = [Thread(target=send, args=[token]) for token in tokens]
        for each in both:
            each.start()
        for each in both:
            each.join(60)
        assert Evidence.objects.count() == before + rows


def test_every_form_that_sends_something_has_its_token():
    """But for signing in and out and setting a password, which record nothing."""
    without = [
        str(path.relative_to(ROOT))
        for app in APPS
        for path in sorted((ROOT / app / "templates").rglob("*.html"))
        if re.search(
            r"{% csrf_token %}(?!{% one_act %})"
            r"|<form[^>]*post[^>]*>\s*(?!.*(?:csrf_token|_act_fields))",
            path.read_text(encoding="utf-8").replace("\n", " "),
        )
    ]
    of_accounts = (
        "_somebody_else", "confirm", "login", "own_password", "second_step", "set_password"
    )  # fmt: skip
    assert without == [
        "program/templates/base.html",
        *(f"program/templates/registration/{name}.html" for name in of_accounts),
    ]


# A record in a file, as a small utility has it: two who write at once share one lock.
TWO_CONNECTIONS = f"""{TABLES_MADE}
import os, re, sys, threading, time
from django.contrib.auth.models import Group, User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from services_inventory import uploading
from services_inventory.models import Batch, SavedColumns
from services_inventory.templatetags.one_act import FIELD
from services_inventory.today import now

user = User.objects.create_user("clerk")
user.groups.set([Group.objects.get(name="Program manager")])
reading, read_on = threading.Event(), threading.Event()
whole = uploading.sha256_of_upload

def slow(file):  # as a file of 2 GB is
    reading.set()
    assert read_on.wait(60)
    return whole(file)

import program.one_act
program.one_act.sha256_of_upload = slow

def send():
    browser = Client()
    browser.force_login(user, backend="program.roles.RolesBackend")
    page = browser.get("/inventory/intake/").content.decode()
    token = re.search(rf'name="{{FIELD}}" value="([^"]+)"', page)[1]
    file = SimpleUploadedFile("a.csv", b"id,address\\nL-1,12 Mill St\\n" * 100_000)
    given = {{"kind": "INTAKE", "file": file, FIELD: token}}
    print(browser.post("/inventory/intake/", given).status_code)
    connection.close()

sending = threading.Thread(target=send)
sending.start()
assert reading.wait(60)
begun = time.monotonic()
SavedColumns.objects.create(header_sha256="x", columns={{}}, saved_at=now())
print("written", time.monotonic() - begun < 5, Batch.objects.count())
read_on.set()
sending.join(60)
print(Batch.objects.get().file_bytes)
"""


@pytest.mark.one_engine  # on PostgreSQL nobody waits for who reads
def test_who_writes_does_not_wait_for_a_large_file_that_is_being_read(tmp_path):
    ran = subprocess.run(
        [sys.executable, "-c", TWO_CONNECTIONS],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "program.settings",
            "DATA_DIR": str(tmp_path),
            "DATABASE_URL": "",
            "ALLOWED_HOSTS": "testserver",
        },
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert ran.stdout.split("\n")[:3] == ["written True 0", "302", "2600000"], ran.stderr


@pytest.mark.parametrize("role", ["", STAFF])
@pytest.mark.parametrize(
    ("page", "args", "field", "reads"),
    [
        ("drop_list", [], "files", "replacements.completion.views.one_file"),
        ("work_order_pull", [1], "log", "replacements.views.pulls.log_read"),
    ],
)
def test_no_file_is_read_ahead_of_who_may_not_send_it(page, args, field, reads, role, monkeypatch):
    read = []
    monkeypatch.setattr(reads, lambda *args, **given: read.append(given))
    sent = {field: SimpleUploadedFile("a.csv", b"Time (s),Force (lbf)\n0,1\n"), FIELD: "a token",
            "pulled_on": "2028-03-20", "count": "1"}  # fmt: skip
    browser_of(role).post(reverse(page, args=args), sent)
    assert read == []


def test_the_same_name_and_size_with_other_content_is_no_repeat(line):
    """A photo taken again has the camera's same name; it was taken for the first one."""
    first, second = (SimpleUploadedFile("a.pdf", b"%PDF-1.4 " + mark) for mark in (b"1", b"2"))
    staff = browser_of(STAFF)
    token = token_of(staff, line)
    record(staff, line, token, document=first)
    page = record(staff, line, token, document=second).content.decode()
    assert "What you typed now is not recorded yet" in page
