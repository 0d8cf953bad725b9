"""Signing in: the second step, a password shown again, sessions, waits that grow."""

from datetime import timedelta

import pytest
import time_machine
from axes.models import AccessFailureLog
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.test import Client
from django.urls import reverse
from django_otp.oath import TOTP

from program import waits
from program.clock import machine_now
from program.doors import told
from program.models import PeopleChange, RecoveryCode, SignedIn, Telephone, Utility
from program.operations.people import Account, account_change
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER
from services_inventory.today import now

pytestmark = pytest.mark.django_db
WORDS = "four words and a pipe"
DEPLOYED = ("Compliance staff", "Administrator")


def account(name: str = "pat", role: str = COMPLIANCE):
    """Return somebody with a password."""
    made = get_user_model().objects.create_user(name, password=WORDS)
    made.groups.add(Group.objects.get(name=role))
    return made


def sign_in(client: Client, name: str = "pat", password: str = WORDS, **more):
    """Send the sign-in form."""
    return client.post(reverse("login"), {"username": name, "password": password, **more})


def code_of(device: Telephone, steps: int = 0) -> str:
    """Return what a telephone shows, computed by the standard's own steps."""
    totp = TOTP(device.bin_key)
    totp.time = machine_now().timestamp() + steps * 30
    return f"{totp.token():06d}"


class TestSecondStep:
    """Compliance staff and administrators need more than a password."""

    @pytest.fixture(autouse=True)
    def _deployed(self, settings):
        settings.SECOND_STEP_FOR = DEPLOYED

    def set_up(self, client: Client) -> tuple[Telephone, list[str]]:
        """Set a telephone up as a person does; return it and the recovery codes."""
        page = client.get(reverse("second_step"))
        device = Telephone.objects.get()
        assert page.context["secret"] in device.config_url
        shown = client.post(reverse("second_step"), {"code": code_of(device)})
        assert shown.status_code == 201
        assert shown["Cache-Control"] == "no-store"
        return device, shown.context["codes"]

    @pytest.mark.parametrize("role", DEPLOYED)
    def test_a_password_alone_opens_nothing_until_a_telephone_is_set_up(self, role):
        account(role=role)
        client = Client()
        sign_in(client)
        for path in ("/", reverse("people"), reverse("own_account"), "/inventory/lines/"):
            answer = client.get(path, follow=True)
            assert answer.redirect_chain[-1][0].startswith(reverse("second_step")), path
        assert client.get("/ogc/staff/").status_code == 401
        assert client.post(reverse("own_sessions")).url.startswith(reverse("login"))
        self.set_up(client)
        assert client.get("/").status_code == 200

    def test_others_need_none_unless_they_have_set_one_up(self):
        account(role=PROGRAM_MANAGER)
        client = Client()
        sign_in(client)
        assert client.get("/").status_code == 200
        self.set_up(client)
        again = Client()
        sign_in(again)
        assert again.get("/").status_code == 302

    def test_a_code_is_good_once_and_a_recovery_code_too(self):
        account()
        client = Client()
        sign_in(client)
        device, codes = self.set_up(client)
        assert len(codes) == 10
        assert not RecoveryCode.objects.filter(code_sha256__in=codes).exists()
        second = Client()
        sign_in(second, next="/help/")
        for wrong in ("000000", code_of(device), "²²²²²²", "x" * 40, codes[0][:-1] + "?"):
            Telephone.objects.update(throttling_failure_count=0)
            assert second.post(reverse("second_step"), {"code": wrong}).status_code == 200
        typed = {"code": codes[0].upper().replace("-", " "), "next": "/help/"}
        assert second.post(reverse("second_step"), typed).url == "/help/"
        third = Client()
        sign_in(third)
        assert third.post(reverse("second_step"), {"code": codes[0]}).status_code == 200
        Telephone.objects.update(throttling_failure_count=0)
        assert third.post(reverse("second_step"), {"code": code_of(device, 1)}).url == "/"

    def test_an_administrator_resets_anothers_and_says_why_but_not_their_own(self):
        pat, root = account(), account("root", ADMINISTRATOR)
        client, admin = Client(), Client()
        sign_in(client)
        self.set_up(client)
        admin.force_login(root)
        session = admin.session
        session["door"] |= {"owes": ""}
        session.save()
        admin.post(reverse("account_second_step", args=[pat.pk]), {"reason": " "})
        assert Telephone.objects.filter(user=pat).exists()
        said = {"reason": "lost telephone, came to the counter"}
        admin.post(reverse("account_second_step", args=[pat.pk]), said)
        assert not Telephone.objects.filter(user=pat).exists()
        assert not RecoveryCode.objects.exists()
        assert client.get("/").status_code == 302
        noted = PeopleChange.objects.latest("id")
        assert (noted.what, noted.reason) == ("Second step reset", said["reason"])
        Telephone.objects.create(user=root)
        admin.post(reverse("account_second_step", args=[root.pk]), said)
        assert Telephone.objects.filter(user=root).exists()

    def test_another_telephone_takes_the_place_of_the_first_before_anything_else(self):
        account()
        client = Client()
        sign_in(client)
        self.set_up(client)
        assert client.post(reverse("own_codes")).status_code == 201
        assert client.post(reverse("own_second_step")).url == reverse("second_step")
        assert client.get("/").status_code == 302
        self.set_up(client)
        assert client.get("/").status_code == 200

    def test_the_invented_town_asks_for_none_unless_it_is_told_to_and_says_so(self, settings):
        Utility.objects.create(name="Quillwater", clock_stands_at="2031-01-15")
        account()
        assert b"need no second step" in Client().get(reverse("login")).content
        client = Client()
        sign_in(client)
        assert client.get("/").status_code == 200
        settings.DEMO_SECOND_STEP = True
        assert b"need no second step" not in Client().get(reverse("login")).content
        client = Client()
        sign_in(client)
        assert client.get("/").status_code == 302


class TestShownAgain:
    """A password once more: after a rest, and before what is signed."""

    def test_who_was_away_goes_on_with_a_password_where_they_were(self, settings):
        account(role=PROGRAM_MANAGER)
        client = Client()
        sign_in(client)
        with time_machine.travel(machine_now() + timedelta(minutes=settings.IDLE_MINUTES + 1)):
            assert (
                client.get("/", follow=True).redirect_chain[-1][0] == "/sign-in/confirm/?next=%2F"
            )
            page = "http://testserver/inventory/lines/"
            sent = client.post(reverse("own_sessions"), {"note": "kept"}, headers={"referer": page})
            assert sent.url.startswith(reverse("login"))
            wrong = client.post(reverse("confirm"), {"password": "wrong"})
            assert b"not the password" in wrong.content
            answer = client.post(reverse("confirm"), {"password": WORDS, "next": page})
            assert answer.url == page
            assert "kept" in client.get(answer.url).content.decode()
            assert client.get("/").status_code == 200

    @pytest.mark.parametrize(("role", "stands"), [(PROGRAM_MANAGER, True), (CONTRACTOR, False)])
    def test_what_was_typed_outlives_its_session_for_whoever_may_send_it(self, role, stands):
        account(role=role)
        client, page = Client(), "http://testserver/inventory/lines/"
        sent = client.post(
            reverse("plan_new"), {"name": "Typed for an hour"}, headers={"referer": page}
        )
        assert sent.url.startswith(reverse("login"))
        sign_in(client)
        board = client.get(reverse("board")).content.decode()
        assert ("Typed for an hour" in board) == stands

    def test_a_page_that_looks_for_news_by_itself_keeps_no_session_awake(self, settings):
        account(role=PROGRAM_MANAGER)
        client, begun = Client(), machine_now()
        sign_in(client)
        half = timedelta(minutes=settings.IDLE_MINUTES * 0.6)
        with time_machine.travel(begun + half):
            client.get("/", headers={"sec-fetch-dest": "empty"})
        with time_machine.travel(begun + 2 * half):
            assert client.get("/").status_code == 302
        sign_in(client := Client())
        with time_machine.travel(machine_now() + half):
            client.get("/")
        with time_machine.travel(machine_now() + 2 * half):
            assert client.get("/").status_code == 200

    @pytest.mark.parametrize(
        ("name", "args", "minutes"),
        [("submission_certify", [2030, 1], 6), ("review", [1], 31), ("review_queue", [], 31)],
    )
    def test_certifying_and_accepting_ask_for_it(self, name, args, minutes):
        client = Client()
        client.force_login(account())
        path = reverse(name, args=args)
        sent = {"reasons": "Seen by the foreman", "lines": ["on"]}
        with time_machine.travel(machine_now() + timedelta(minutes=minutes)):
            first = client.post(path, sent)
            assert first.url.startswith(reverse("confirm"))
            client.post(reverse("confirm"), {"password": WORDS})
            assert "Seen by the foreman" in client.get("/").content.decode()
            then = client.post(path, sent)
            assert not then.get("Location", "").startswith(reverse("confirm"))

    def test_no_page_leads_to_another_site(self):
        account(role=PROGRAM_MANAGER)
        for there in ("https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"):
            assert sign_in(Client(), next=there).url == reverse("board")


class TestSessions:
    """Where somebody is signed in is listed, and ended."""

    def test_one_is_listed_with_its_browser_and_ended_from_another(self):
        user = account(role=PROGRAM_MANAGER)
        here, there = Client(), Client(headers={"user-agent": "X (Windows) Firefox/1"})
        sign_in(here), sign_in(there)
        page = here.get(reverse("own_account")).content.decode()
        assert "Firefox on Windows" in page
        row = SignedIn.objects.get(browser="Firefox on Windows")
        assert (row.account, row.came_from) == (user, "127.0.0.1")
        here.post(reverse("own_sessions"), {"session": row.session_key[:12]})
        assert there.get("/").status_code == 302
        assert here.get("/").status_code == 200

    def test_a_changed_role_and_an_administrator_end_them_all(self):
        user, root = account(), account("root", ADMINISTRATOR)
        client, admin = Client(), Client()
        sign_in(client), sign_in(admin, "root")
        asked = Account("Pat", PROGRAM_MANAGER)
        account_change(user=user, asked=asked, reason="new post", by=root, at=now())
        assert client.get("/").status_code == 302
        sign_in(client)
        admin.post(reverse("account_sessions", args=[user.pk]))
        assert client.get("/").status_code == 302
        assert PeopleChange.objects.latest("id").what == "Sessions ended: 1"

    @pytest.mark.parametrize(("agent", "words"), [("", "A browser"), ("curl/8", "A browser"),
        ("Mozilla/5.0 (iPhone) AppleWebKit Version/17 Safari/6", "Safari on iPhone")])  # fmt: skip
    def test_a_browser_is_told_in_words(self, agent, words):
        assert told(agent) == words


class TestWaits:
    """Failures are waited for, longer each time, and nobody is locked out."""

    def fail(self, times: int, name: str = "pat", address: str = "10.0.0.1", client=None) -> int:
        """Fail so many times; return the last status."""
        client = client or Client()
        for _ in range(times):
            answer = client.post(reverse("login"), {"username": name, "password": "wrong"},
                                 REMOTE_ADDR=address)  # fmt: skip
        return answer.status_code

    def test_the_wait_grows_and_ends(self):
        assert [waits.wait_after(n, 5).total_seconds() for n in (4, 5, 6, 8, 30)] == [
            0, 15, 30, 120, 900
        ]  # fmt: skip

    def test_who_waits_is_told_how_long_in_both_languages_and_gets_in_after_it(self):
        account(role=PROGRAM_MANAGER)
        assert self.fail(waits.FREE["pair"]) == 200
        said = {"username": "pat", "password": WORDS}
        for language, sentence in (("en", "Wait 15\u00a0s,"), ("es", "Espere 15\u00a0s e")):
            told = Client().post("/sign-in/", said | {"language": language}, REMOTE_ADDR="10.0.0.1")
            assert told.status_code == 429
            assert told["Retry-After"] == "15"
            assert sentence in told.content.decode()
        assert AccessFailureLog.objects.count() == waits.FREE["pair"]
        with time_machine.travel(machine_now() + timedelta(seconds=16)):
            assert Client().post("/sign-in/", said, REMOTE_ADDR="10.0.0.1").status_code == 302

    def test_many_names_from_one_address_meet_a_brake_and_others_don_t(self):
        account(role=PROGRAM_MANAGER)
        statuses = [self.fail(1, f"name{n}") for n in range(waits.FREE["address"] + 1)]
        assert statuses[-2:] == [200, 429]
        assert sign_in(Client()).status_code == 302

    def test_guesses_from_many_addresses_don_t_keep_an_owner_from_their_own_browser(self):
        account(role=PROGRAM_MANAGER)
        own = Client()
        assert sign_in(own).status_code == 302
        for n in range(waits.FREE["name"]):
            self.fail(1, address=f"10.0.1.{n}")
        assert sign_in(Client()).status_code == 429
        own.post(reverse("logout"))
        assert sign_in(own).status_code == 302

    def test_a_password_shown_again_is_guessed_no_faster(self):
        client = Client()
        client.force_login(account(role=PROGRAM_MANAGER))
        for _ in range(waits.FREE["pair"]):
            client.post(reverse("confirm"), {"password": "wrong"})
        assert client.post(reverse("confirm"), {"password": WORDS}).status_code == 429
