"""Who is let in: accounts by invitation, one role each, every change on record, out at once."""

from dataclasses import replace

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from program.models import PeopleChange
from program.operations.people import (
    Account,
    Company,
    account_change,
    account_invite,
    account_link,
    account_now,
    accounts_are_as_changed,
    company_now,
    company_write,
)
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER, role_of
from replacements.api.authentication import device_let_in
from replacements.models import Contractor
from services_inventory.refused import Refused
from services_inventory.today import now

pytestmark = pytest.mark.django_db
GOOD = "four words and a pipe"
MANAGER = Account("Imre Vale", PROGRAM_MANAGER)


@pytest.fixture
def administrator(db):
    """An administrator who is signed in, as a client; the user is `client.user`."""
    user = get_user_model().objects.create_user("tamsin", password="x")
    user.groups.add(Group.objects.get(name=ADMINISTRATOR))
    client = Client()
    client.force_login(user)
    client.user = user
    return client


@pytest.fixture
def otter(db):
    """A company on record."""
    asked = Company("Otter Pipeworks", crews=("Crew 1",))
    return company_write(contractor=None, asked=asked, reason="", by="tamsin", at=now())


def invited(name: str = "i.vale", asked: Account = MANAGER):
    """Return somebody who was let in and has set a password."""
    user = account_invite(username=name, asked=asked, by="tamsin", at=now())
    path = account_link(user=user, by="tamsin", at=now())
    client = Client()
    form = client.get(path, follow=True)
    client.post(form.request["PATH_INFO"], {"new_password1": GOOD, "new_password2": GOOD})
    return get_user_model().objects.get(pk=user.pk)


class TestByThePages:
    """The path that an administrator walks."""

    def test_a_person_is_let_in_sets_a_password_and_signs_in(self, administrator):
        answer = administrator.post(
            reverse("account_invite"),
            {"username": "i.vale", "full_name": "Imre Vale", "role": PROGRAM_MANAGER},
        )
        user = get_user_model().objects.get(username="i.vale")
        assert answer.url == reverse("account", args=[user.pk])
        assert not user.has_usable_password()
        shown = administrator.post(reverse("account_link", args=[user.pk]))
        link = shown.context["link"].removeprefix("http://testserver")
        assert shown["Cache-Control"] == "no-store"
        stranger = Client()
        form = stranger.get(link, follow=True)
        weak = {"new_password1": "short", "new_password2": "short"}
        assert b"too short" in stranger.post(form.request["PATH_INFO"], weak).content
        said = {"new_password1": GOOD, "new_password2": GOOD}
        assert stranger.post(form.request["PATH_INFO"], said).url == reverse("login")
        signed = stranger.post(reverse("login"), {"username": "i.vale", "password": GOOD})
        assert signed.url == reverse("board")
        assert b"opens no more" in Client().get(link, follow=True).content
        assert b"Imre Vale" in stranger.get("/").content

    def test_a_password_that_others_may_know_ends_with_every_session(self, administrator):
        user, client = invited(), Client()
        client.force_login(user)
        address = reverse("account_link", args=[user.pk])
        administrator.post(address)
        assert client.get("/").status_code == 200, "a link alone ends nothing"
        shown = administrator.post(address, {"end_old": "on"})
        assert client.get("/").status_code == 302
        assert Client().post(reverse("login"), {"username": "i.vale", "password": GOOD}).context
        link = shown.context["link"].removeprefix("http://testserver")
        assert Client().get(link, follow=True).context["validlink"]
        assert PeopleChange.objects.latest("id").what == "Password ended; link to set another"

    def test_nobody_ends_their_own_password_so(self, administrator):
        own = reverse("account_link", args=[administrator.user.pk])
        assert b"Your account" in administrator.post(own, {"end_old": "on"}).content
        assert administrator.get("/").status_code == 200

    def test_a_company_and_its_person_are_entered_and_see_their_own_board(self, administrator):
        administrator.post(
            reverse("company_new"),
            {"name": "Otter Pipeworks", "active": "on", "crews": "Crew 2\n\nCrew 1"},
        )
        company = Contractor.objects.get()
        assert company_now(company).crews == ("Crew 1", "Crew 2")
        administrator.post(
            reverse("account_invite"),
            {"username": "odd", "full_name": "Odd", "role": CONTRACTOR, "company": company.pk},
        )
        client = Client()
        client.force_login(get_user_model().objects.get(username="odd"))
        assert b"Otter Pipeworks" in client.get("/").content

    def test_what_was_typed_stands_beside_what_is_wrong(self, administrator):
        typed = {"username": "i vale", "full_name": "Imre Vale", "role": PROGRAM_MANAGER}
        page = administrator.post(reverse("account_invite"), typed).content.decode()
        assert "small letters" in page
        assert "Imre Vale" in page
        assert get_user_model().objects.count() == 1

    def test_ones_own_password_is_changed_by_oneself(self, administrator):
        administrator.user.set_password("as it was before")
        administrator.user.save()
        administrator.force_login(administrator.user)
        said = {"old_password": "wrong", "new_password1": GOOD, "new_password2": GOOD}
        administrator.post(reverse("own_password"), said)
        assert not get_user_model().objects.get().check_password(GOOD)
        administrator.post(reverse("own_password"), said | {"old_password": "as it was before"})
        assert get_user_model().objects.get().check_password(GOOD)

    def test_who_signed_in_and_who_failed_is_listed(self, administrator):
        invited()
        for word in ("wrong", GOOD):
            Client().post(reverse("login"), {"username": "i.vale", "password": word})
        page = administrator.get(reverse("sign_in_list"), {"q": "vale"})
        assert [row["failed"] for row in page.context["rows"]] == [False, True]

    def test_the_framework_s_own_administration_is_not_there(self, administrator):
        for path in ("/accounts/", "/accounts/auth/user/add/", "/admin/"):
            assert administrator.get(path).status_code == 404


class TestOneRole:
    """What an account may do, and who may change it."""

    @pytest.mark.parametrize("name", ["", "J Osei", "x", "a" * 61, "ümlaut", "-dash", "a/b"])
    def test_a_name_that_is_none_is_refused(self, name):
        with pytest.raises(Refused, match="name to sign in with"):
            account_invite(username=name, asked=MANAGER, by="tamsin", at=now())

    def test_nobody_changes_what_they_may_do_themselves(self, administrator):
        own = administrator.user
        for asked in (
            Account("T", COMPLIANCE), Account("T", ADMINISTRATOR, active=False)
        ):  # fmt: skip
            with pytest.raises(Refused, match="themselves"):
                account_change(user=own, asked=asked, reason="why not", by=own, at=now())
        named = Account("Tamsin Hollowell", ADMINISTRATOR)
        assert account_change(user=own, asked=named, reason="spelling", by=own, at=now())

    def test_a_change_has_a_reason_and_says_what_was_before(self, administrator):
        user, asked = invited(), Account("Imre Vale", COMPLIANCE)
        with pytest.raises(Refused, match="why"):
            account_change(user=user, asked=asked, reason=" ", by=administrator.user, at=now())
        account_change(user=user, asked=asked, reason="new post", by=administrator.user, at=now())
        assert role_of(get_user_model().objects.get(pk=user.pk)) == COMPLIANCE
        change = PeopleChange.objects.latest("id")
        assert (change.before["role"], change.after["role"]) == (PROGRAM_MANAGER, COMPLIANCE)
        assert (change.changed_by, change.reason) == ("tamsin", "new post")

    def test_no_page_makes_a_superuser_and_a_changed_one_is_none_any_more(self, administrator):
        root = get_user_model().objects.create_superuser("root", password="x")
        asked = Account("Root", ADMINISTRATOR)
        account_change(user=root, asked=asked, reason="one role", by=administrator.user, at=now())
        root.refresh_from_db()
        assert not root.is_superuser
        assert account_now(root).role == ADMINISTRATOR

    def test_a_contractor_has_a_company_and_nobody_else_has(self, otter):
        with pytest.raises(Refused, match="which company"):
            invited(asked=Account("Odd", CONTRACTOR))
        with pytest.raises(Refused, match="Only a contractor"):
            invited(asked=Account("Odd", COMPLIANCE, otter))
        with pytest.raises(Refused, match="A role is one of"):
            invited(asked=Account("Odd", "Root"))


class TestByHand:
    """What was changed of an account behind the program's back is named by the nightly checks."""

    def test_a_role_a_way_in_and_everything_at_once(self):
        user = invited()
        assert list(accounts_are_as_changed()) == []
        user.groups.set([Group.objects.get(name=COMPLIANCE)])
        (told,) = accounts_are_as_changed()
        assert told.startswith("Account i.vale: role is not as tamsin left it")
        user.groups.set([Group.objects.get(name=PROGRAM_MANAGER)])
        get_user_model().objects.filter(pk=user.pk).update(is_active=False)
        assert "let in is not" in next(accounts_are_as_changed())
        get_user_model().objects.filter(pk=user.pk).update(is_active=True, is_superuser=True)
        assert any("may do everything" in told for told in accounts_are_as_changed())

    def test_a_renamed_company_is_the_same_and_another_is_not(self, otter):
        user = invited("odd", Account("Odd", CONTRACTOR, otter))
        company_write(contractor=otter, asked=Company("Otter Ltd"), reason="new name", by="a",
                      at=now())  # fmt: skip
        assert list(accounts_are_as_changed()) == []
        other = company_write(contractor=None, asked=Company("Vole"), reason="", by="a", at=now())
        user.membership.contractor = other
        user.membership.save()
        assert "company is not" in next(accounts_are_as_changed())


class TestOutAtOnce:
    """Whoever is let in no more is out with the next request, everywhere."""

    @pytest.fixture
    def odd(self, otter):
        """A contractor with a device; the headers of the device, and a session."""
        user = invited("odd", Account("Odd", CONTRACTOR, otter))
        _, secret = device_let_in(user=user, name="Truck", days=9, by="odd", at=now())
        client = Client()
        client.force_login(user)
        assert client.get("/work/orders/").status_code == 200
        return user, client, {"Authorization": f"Bearer {secret}"}

    def test_a_closed_company_s_people_and_devices(self, otter, odd):
        user, client, headers = odd
        assert client.get("/api/v1/work-orders/", headers=headers).status_code == 200
        closed = replace(company_now(otter), active=False)
        company_write(contractor=otter, asked=closed, reason="contract ended", by="a", at=now())
        assert client.get("/work/orders/").status_code == 302
        assert Client().get("/api/v1/work-orders/", headers=headers).status_code == 401
        said = {"username": "odd", "password": GOOD}
        assert b"do not belong together" in Client().post(reverse("login"), said).content
        user.refresh_from_db()
        with pytest.raises(Refused, match="no longer works"):
            device_let_in(user=user, name="Another", days=9, by="odd", at=now())
        with pytest.raises(Refused, match="no longer works"):
            account_change(user=user, asked=Account("Odd K", CONTRACTOR, otter), reason="?",
                           by=_other(), at=now())  # fmt: skip
        opened = replace(closed, active=True)
        company_write(contractor=otter, asked=opened, reason="a mistake", by="a", at=now())
        assert Client().get("/api/v1/work-orders/", headers=headers).status_code == 200

    def test_an_account_that_is_let_in_no_more(self, odd):
        user, client, headers = odd
        out = replace(account_now(user), active=False)
        account_change(user=user, asked=out, reason="left", by=_other(), at=now())
        assert client.get("/work/orders/").status_code == 302
        assert Client().get("/api/v1/work-orders/", headers=headers).status_code == 401
        with pytest.raises(Refused, match="not let in"):
            account_link(user=get_user_model().objects.get(pk=user.pk), by="a", at=now())

    def test_a_device_is_shut_out_by_staff_and_lasts_ninety_days_at_most(self, odd, administrator):
        user, client, headers = odd
        with pytest.raises(Refused, match="1 to 90"):
            device_let_in(user=user, name="Another", days=91, by="odd", at=now())
        token = user.membership.contractor.devices.get()
        assert b"Truck" in administrator.get(reverse("company", args=[token.contractor_id])).content
        administrator.post(reverse("company_device", args=[token.pk]))
        assert Client().get("/api/v1/work-orders/", headers=headers).status_code == 401


def test_a_crew_no_longer_named_stays_on_its_orders_and_a_company_is_on_record_once(otter):
    asked = replace(company_now(otter), crews=("Crew 2",))
    company_write(contractor=otter, asked=asked, reason="new crew", by="a", at=now())
    assert list(otter.crews.order_by("name").values_list("name", "active")) == [
        ("Crew 1", False), ("Crew 2", True)
    ]  # fmt: skip
    with pytest.raises(Refused, match="on record already"):
        company_write(
            contractor=None, asked=Company("otter pipeworks"), reason="", by="a", at=now()
        )
    with pytest.raises(Refused, match="why"):
        company_write(contractor=otter, asked=Company("Otter"), reason="", by="a", at=now())


def test_the_first_administrator_comes_in_by_the_command_line(capsys):
    call_command("invite", "j.osei", full_name="Jo Osei")
    user = get_user_model().objects.get()
    assert role_of(user) == ADMINISTRATOR
    path = capsys.readouterr().out.split()[-1]
    assert Client().get(path, follow=True).context["validlink"]
    call_command("invite", "j.osei")
    assert get_user_model().objects.count() == 1


def test_the_link_of_the_command_is_whole_where_the_settings_know_the_address(capsys, settings):
    call_command("invite", "j.osei")
    assert "behind the address that people open" in capsys.readouterr().out
    settings.CSRF_TRUSTED_ORIGINS = ["https://*.town.example", "https://lines.town.example"]
    call_command("invite", "j.osei")
    said = capsys.readouterr().out
    assert "https://lines.town.example/" in said and "behind" not in said


def _other():
    """Another administrator."""
    user, made = get_user_model().objects.get_or_create(username="another")
    if made:
        user.groups.add(Group.objects.get(name=ADMINISTRATOR))
    return user
