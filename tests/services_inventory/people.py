"""Signed-in browsers of each role, and the day that they work on."""

from datetime import UTC, date, datetime

from django.contrib.auth.models import Group, User
from django.test import Client

from program.roles import COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER

BACKEND = "program.roles.RolesBackend"
STAFF, MANAGER, CREW = COMPLIANCE, PROGRAM_MANAGER, CONTRACTOR


def browser_of(role: str = "") -> Client:
    """Return a browser signed in as a user of the role; without a role, as nobody."""
    client = Client()
    if role:
        user, _ = User.objects.get_or_create(username=role.split()[0].lower())
        user.groups.set([Group.objects.get(name=role)])
        client.force_login(user, backend=BACKEND)
    return client


def today() -> date:
    """Return the day that these tests stand at."""
    return date(2028, 4, 1)


def now() -> datetime:
    """Return the moment that these tests stand at."""
    return datetime(2028, 4, 1, 15, tzinfo=UTC)
