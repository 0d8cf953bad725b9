"""Who is let in, what was changed of them, and who signed in."""

from collections.abc import Iterator
from datetime import datetime

from axes.models import AccessFailureLog, AccessLog
from django.apps import apps
from django.contrib.auth import get_user_model
from django.db.models import CharField, Count, Model, Q, QuerySet, Value

from replacements.models import Contractor, DeviceToken

from ..models import MapKey, PeopleChange, PersonalOpened, SignedIn
from ..roles import role_of
from .personal import pages_of_residents

SHOWN = 100
SIGNED_IN = {"by", "author", "account_name"}  # beside columns that end in _by
NAME_LENGTH = 150  # of columns that hold the name of an account


def accounts(words: str = "") -> list:
    """Return the accounts with their role and company, those let in first."""
    found = get_user_model().objects.select_related("membership__contractor")
    for word in words.split():
        found = found.filter(
            Q(username__icontains=word)
            | Q(first_name__icontains=word)
            | Q(last_name__icontains=word)
            | Q(membership__contractor__name__icontains=word)
            | Q(groups__name__icontains=word)
        )
    rows = list(found.distinct().order_by("-is_active", "username").prefetch_related("groups"))
    for user in rows:
        user.role = role_of(user)
    return rows


def companies() -> QuerySet[Contractor]:
    """Return the companies with how many people and crews they have."""
    return Contractor.objects.annotate(
        people=Count("members", filter=Q(members__user__is_active=True), distinct=True),
        crew_count=Count("crews", filter=Q(crews__active=True), distinct=True),
    ).order_by("-active", "name")


def changes(**of) -> list[PeopleChange]:
    """Return changes, the latest first, each with what it moved as (what, before, after)."""
    rows = PeopleChange.objects.filter(**of).select_related("account", "company")
    rows = list(rows.order_by("-changed_at", "-id")[:SHOWN])
    for row in rows:
        row.moved = [
            (name, row.before.get(name, ""), now)
            for name, now in row.after.items()
            if row.before.get(name, "") != now
        ]
    return rows


def sign_ins(words: str = "") -> list[dict]:
    """Return who signed in and who failed to, the latest first."""
    found = []
    for table, failed in ((AccessLog, False), (AccessFailureLog, True)):
        rows = table.objects.filter(username__icontains=words) if words else table.objects.all()
        found += [
            {"at": row.attempt_time, "name": row.username, "from": row.ip_address, "failed": failed}
            for row in rows.order_by("-attempt_time")[:SHOWN]
        ]
    return sorted(found, key=lambda row: row["at"], reverse=True)[:SHOWN]


def opened(words: str = "") -> QuerySet[PersonalOpened]:
    """Return who opened what names residents, the latest first."""
    rows = PersonalOpened.objects.order_by("-at", "-id")
    rows = rows.filter(opened_by__icontains=words) if words else rows
    found = rows[:SHOWN]
    for row in found:
        row.shown = pages_of_residents().get(row.page, row.page)
    return found


def devices_of(contractor: Contractor) -> QuerySet[DeviceToken]:
    """Return the devices of a company that are let in, and those that were."""
    return DeviceToken.objects.filter(contractor=contractor).select_related("user").order_by("-id")


def sessions_of(user, now: datetime) -> QuerySet[SignedIn]:
    """Return an account's sessions, the one used last first."""
    return SignedIn.objects.filter(account=user, expire_date__gt=now).order_by("-seen_at")


def map_keys_of(user) -> QuerySet[MapKey]:
    """Return an account's keys for map programs, those that end last first."""
    return MapKey.objects.filter(account=user).order_by("-expires_at", "-id")


def signed_columns() -> Iterator[tuple[type[Model], str]]:
    """Yield (table, column) of every column that acts are signed in with the name of an account."""
    for app in ("services_inventory", "replacements", "program"):
        for table in apps.get_app_config(app).get_models():
            for field in table._meta.concrete_fields:
                signs = field.name in SIGNED_IN or field.name.endswith("_by")
                if signs and isinstance(field, CharField) and field.max_length == NAME_LENGTH:
                    yield table, field.name


def signed_by(name: str) -> bool:
    """Tell whether anything on record is signed with a name, in small or large letters."""
    one, *others = (
        table._base_manager.filter(**{f"{column}__iexact": name}).order_by().values_list(Value(1))
        for table, column in signed_columns()
    )
    return one.union(*others, all=True).exists()
