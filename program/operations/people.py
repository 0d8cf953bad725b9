"""Letting people in: accounts with one role each, and the companies that work for the utility."""

import hashlib
import re
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.db.models import F, Q
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.timezone import localdate

from replacements.models import Contractor, Crew, Membership
from services_inventory.domain.days import day_told
from services_inventory.refused import Refused

from ..models import MapKey, PeopleChange, SignedIn
from ..queries.people import signed_by
from ..roles import CONTRACTOR, ROLES, RolesBackend, role_of
from ..second_step import second_step_remove

_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{1,58}[a-z0-9]")
MAP_KEY_LASTS = timedelta(days=365)
_LONGEST = 150  # letters of a full name, as the table of accounts holds them


@dataclass(frozen=True)
class Account:
    """What is asked for an account: how it is called, what it may do, whether it is let in."""

    full_name: str
    role: str
    company: Contractor | None = None
    email: str = ""
    active: bool = True

    def told(self) -> dict:
        """Return it as it is kept in the list of changes."""
        return {
            "name": self.full_name,
            "role": self.role,
            "company": self.company.name if self.company else "",
            "e-mail": self.email,
            "let in": "yes" if self.active else "no",
        }


def account_now(user) -> Account:
    """Return what stands of an account."""
    membership = Membership.objects.filter(user=user).select_related("contractor").first()
    company = membership.contractor if membership else None
    return Account(user.get_full_name(), role_of(user), company, user.email, user.is_active)


def accounts_are_as_changed() -> Iterator[str]:
    """Each account is called and may do what its changes say; no account may do everything."""
    last = {}
    for change in PeopleChange.objects.exclude(account=None).exclude(after={}).order_by("id"):
        last[change.account_id] = change
    users = get_user_model().objects.in_bulk(last)
    for pk, change in last.items():
        said = account_now(users[pk])
        moved = [name for name, told in said.told().items() if change.after.get(name, told) != told]
        renamed = said.company and PeopleChange.objects.filter(
            company=said.company, before__name=change.after.get("company")
        )
        if renamed and "company" in moved:
            moved.remove("company")
        if moved:
            yield (
                f"Account {users[pk].get_username()}: {', '.join(moved)} is not as "
                f"{change.changed_by} left it on {day_told(localdate(change.changed_at))}, and no "
                "change since is on record. Look who may write to the database."
            )
    for row in (
        PeopleChange.objects.exclude(account=None)
        .exclude(account__username=F("account_name"))
        .order_by("account_id", "account_name")
        .values("account_name", "account__username")
        .distinct()
    ):
        yield (
            f"The account that signed as {row['account_name']} is now called "
            f"{row['account__username']}: what it signed would be read as another's. No page "
            "renames an account. Look who may write to the database, and give the name back."
        )
    for user in get_user_model().objects.filter(is_superuser=True).order_by("pk"):
        yield f"Account {user.get_username()} may do everything, which no page lets anybody do."


@transaction.atomic
def account_invite(*, username: str, asked: Account, by: str, at: datetime):
    """Make an account without a password; its person sets one by the link of `account_link`.

    Raises
    ------
    Refused: the name is no name to sign in with or was used before, or see `_checked`.
    """
    name = username.strip().lower()
    if not _NAME.fullmatch(name):
        raise Refused(
            "A name to sign in with has 3 to 60 small letters and digits, with points, hyphens "
            f"and underscores between them, such as j.osei. “{username.strip()}” is none."
        )
    user_model = get_user_model()
    if user_model.objects.filter(username__iexact=name).exists() or signed_by(name):
        raise Refused(
            f"The name {name} is taken. Names are never used twice, as old records are signed with "
            "them: choose another."
        )
    _checked(asked)
    user = user_model(username=name)
    user.set_unusable_password()
    _written(user, asked)
    _noted("Let in", by, at, account=user, after=asked.told())
    return user


@transaction.atomic
def account_change(*, user, asked: Account, reason: str, by, at: datetime) -> bool:
    """Give an account another role, company or name, or let it in no more; False if all stays.

    by : the user who asks; nobody changes what they themselves may do

    Raises
    ------
    Refused: it is one's own, no reason is given, or see `_checked`.
    """
    before = account_now(user)
    if before == asked:
        return False
    own = user.pk == by.pk
    if own and (before.role, before.company, before.active) != (
        asked.role, asked.company, asked.active
    ):  # fmt: skip
        raise Refused("Nobody changes what they may do themselves. Ask another administrator.")
    _checked(asked)
    if not reason.strip():
        raise Refused("Say why the account is changed.")
    _written(user, asked)
    if (before.role, before.company, before.active) != (asked.role, asked.company, asked.active):
        SignedIn.objects.filter(account=user).delete()
    told = before.told(), asked.told()
    _noted("Changed", by.get_username(), at, account=user, before=told[0], after=told[1],
           reason=reason)  # fmt: skip
    return True


@transaction.atomic
def account_link(*, user, by: str, at: datetime, end_old: bool = False) -> str:
    """Return the path by which a person sets a password; an older link ends when one is set.

    end_old : the password that there is, known to others maybe, and all sessions end at once

    Raises
    ------
    Refused: the account is not let in; or it is one's own password that would end.
    """
    name = user.get_username()
    if not user.is_active:
        raise Refused(f"{name} is not let in. Let the account in first.")
    if end_old and name == by:
        raise Refused("Change your own password under Your account; other sessions then end.")
    if end_old:
        user.set_unusable_password()
        user.save(update_fields=["password"])
        SignedIn.objects.filter(account=user).delete()
    key = urlsafe_base64_encode(force_bytes(user.pk))
    ended = "Password ended; link to set another" if end_old else "Link to set a password"
    _noted(ended, by, at, account=user)
    return reverse("set_password", args=[key, default_token_generator.make_token(user)])


@transaction.atomic
def sessions_end(*, user, by: str, at: datetime, key: str = "", but: str = "") -> int:
    """End an account's sessions: the one of a key, or all but one; return how many ended."""
    found = SignedIn.objects.filter(account=user).exclude(session_key=but)
    ended, _ = (found.filter(session_key__startswith=key) if key else found).delete()
    if ended:
        _noted(f"Sessions ended: {ended}", by, at, account=user)
    return ended


@transaction.atomic
def second_step_reset(*, user, reason: str, by: str, at: datetime) -> None:
    """Forget somebody's telephone and recovery codes, so that they set up new ones; sessions end.

    Raises
    ------
    Refused: it is one's own, or no reason is given.
    """
    if user.get_username() == by:
        raise Refused("Another administrator resets your second step, not you yourself.")
    if not reason.strip():
        raise Refused("Say why the second step is reset, and how you know who asked for it.")
    second_step_remove(user)
    SignedIn.objects.filter(account=user).delete()
    _noted("Second step reset", by, at, account=user, reason=reason)


def second_step_noted(*, user, what: str, at: datetime) -> None:
    """Put on record what somebody did to their own second step."""
    _noted(f"Second step: {what}", user.get_username(), at, account=user)


@transaction.atomic
def map_key_make(*, user, name: str, at: datetime) -> tuple[MapKey, str]:
    """Make a key for a map program; the secret is returned once and not kept.

    Raises
    ------
    Refused: it has no name.
    """
    if not name.strip():
        raise Refused("Name the key, so that you know which one to end.")
    secret = secrets.token_urlsafe(32)
    key = MapKey.objects.create(
        account=user, name=name.strip()[:80], shown=secret[:6], secret_sha256=key_digest(secret),
        made_at=at, expires_at=at + MAP_KEY_LASTS,
    )  # fmt: skip
    _noted(f"Key for maps made: {key.name}", user.get_username(), at, account=user)
    return key, secret


@transaction.atomic
def map_key_end(*, key: MapKey, by: str, at: datetime) -> None:
    """End a key at once; ending it twice changes nothing."""
    if MapKey.objects.filter(pk=key.pk, ended_at=None).update(ended_at=at, ended_by=by):
        _noted(f"Key for maps ended: {key.name}", by, at, account=key.account)


def user_of_key(name: str, secret: str, at: datetime):
    """Return whose key for maps this is, while it is good and they are let in, or None."""
    keys = MapKey.objects.filter(ended_at=None, expires_at__gt=at, secret_sha256=key_digest(secret))
    key = keys.select_related("account__membership__contractor").first()
    if key is None or key.account.get_username() != name.strip().lower():
        return None
    if not RolesBackend().user_can_authenticate(key.account):
        return None
    used_lately = Q(last_used_at__gt=at - timedelta(minutes=5))
    MapKey.objects.filter(pk=key.pk).exclude(used_lately).update(last_used_at=at)
    return key.account


def key_digest(secret: str) -> str:
    """Return what is kept of a key."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


@dataclass(frozen=True)
class Company:
    """What is asked for a company that replaces lines."""

    name: str
    active: bool = True
    phone: str = ""
    email: str = ""
    crews: tuple[str, ...] = ()

    def told(self) -> dict:
        """Return it as it is kept in the list of changes."""
        return {
            "name": self.name,
            "works here": "yes" if self.active else "no",
            "telephone": self.phone,
            "e-mail": self.email,
            "crews": ", ".join(self.crews),
        }


def company_now(contractor: Contractor) -> Company:
    """Return what stands of a company; its crews by their names."""
    crews = contractor.crews.filter(active=True).order_by("name").values_list("name", flat=True)
    return Company(
        contractor.name, contractor.active, contractor.phone, contractor.email, tuple(crews)
    )


@transaction.atomic
def company_write(
    *, contractor: Contractor | None, asked: Company, reason: str, by: str, at: datetime
) -> Contractor:
    """Enter a company, or change it; a closed one's people and devices are out at once.

    A crew that is no longer named stays on its orders and is listed no more.

    Raises
    ------
    Refused: it has no name, the name is another's, or a change has no reason.
    """
    name = asked.name.strip()
    if not name:
        raise Refused("Write the name of the company.")
    if any(other != contractor for other in Contractor.objects.filter(name__iexact=name)):
        raise Refused(f"{name} is on record already.")
    before = company_now(contractor) if contractor else None
    if contractor and before == asked:
        return contractor
    if contractor and not reason.strip():
        raise Refused("Say why the company is changed.")
    contractor = contractor or Contractor()
    contractor.name, contractor.active = name, asked.active
    contractor.phone, contractor.email = asked.phone, asked.email
    contractor.save()
    contractor.crews.exclude(name__in=asked.crews).update(active=False)
    for crew in asked.crews:
        Crew.objects.update_or_create(contractor=contractor, name=crew, defaults={"active": True})
    _noted("Changed" if before else "Entered", by, at, company=contractor, reason=reason,
           before=before.told() if before else {}, after=asked.told())  # fmt: skip
    return contractor


def _checked(asked: Account) -> None:
    """Refuse no name, no role, a contractor without company, a company without contractor."""
    if not 0 < len(asked.full_name.strip()) <= _LONGEST:
        raise Refused(f"Give the full name, in at most {_LONGEST} letters.")
    if asked.role not in ROLES:
        raise Refused(f"A role is one of {', '.join(ROLES)}.")
    if asked.role == CONTRACTOR and asked.company is None:
        raise Refused("Say for which company this contractor works.")
    if asked.role != CONTRACTOR and asked.company is not None:
        raise Refused(f"Only a contractor works for a company; {asked.role} does not.")
    if asked.company is not None and asked.active and not asked.company.active:
        raise Refused(f"{asked.company.name} no longer works here; its people are not let in.")


def _written(user, asked: Account) -> None:
    user.first_name, _, user.last_name = asked.full_name.strip().rpartition(" ")
    user.email, user.is_active = asked.email, asked.active
    user.is_superuser = user.is_staff = False
    user.save()
    user.groups.set([Group.objects.get(name=asked.role)])
    if asked.company is None:
        Membership.objects.filter(user=user).delete()
    else:
        Membership.objects.update_or_create(user=user, defaults={"contractor": asked.company})


def _noted(what: str, by: str, at: datetime, **more) -> None:
    more["reason"] = more.get("reason", "").strip()[:300]
    more["account_name"] = more["account"].get_username() if more.get("account") else ""
    PeopleChange.objects.create(what=what, changed_by=by, changed_at=at, **more)
