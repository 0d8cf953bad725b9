"""Who speaks: a contractor's device with its token, or the phone pages with their session."""

import hashlib
import secrets
from datetime import datetime, timedelta

from django.db.models import Q
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.permissions import BasePermission
from rest_framework.throttling import BaseThrottle

from services_inventory.asked_often import MINUTE, client_address, times_asked
from services_inventory.refused import Refused
from services_inventory.today import now

from ..models import DeviceToken

LONGEST = timedelta(days=90)
_USED_EVERY = timedelta(minutes=5)


def device_let_in(*, user, name: str, days: int, by: str, at: datetime) -> tuple[DeviceToken, str]:
    """Let a device speak for a user of a company; the secret is returned once and not kept.

    Raises
    ------
    Refused: the user belongs to no company, the device has no name, or the time is too long.
    """
    membership = getattr(user, "membership", None)
    if membership is None:
        raise Refused("Only the people of a contractor let devices in.")
    if not membership.contractor.active:
        raise Refused(f"{membership.contractor.name} no longer works for the utility.")
    if not name.strip():
        raise Refused("Name the device, so that you know which one to stop when it is lost.")
    if not 0 < days <= LONGEST.days:
        raise Refused(f"A device may be let in for 1 to {LONGEST.days} days.")
    secret = secrets.token_urlsafe(32)
    token = DeviceToken.objects.create(
        contractor_id=membership.contractor_id,
        user=user,
        name=name.strip()[:80],
        shown=secret[:6],
        secret_sha256=_digest(secret),
        created_by=by,
        created_at=at,
        expires_at=at + timedelta(days=days),
    )
    return token, secret


def device_shut_out(*, token: DeviceToken, by: str, at: datetime) -> None:
    """Stop a device at once; shutting it out twice changes nothing."""
    DeviceToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=at, revoked_by=by)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


class DeviceTokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer <token>` of a device that is let in and not shut out."""

    def authenticate(self, request):
        """Return the user and the token, or None where no token was sent."""
        kind, _, secret = get_authorization_header(request).partition(b" ")
        if kind.lower() != b"bearer":
            return None
        try:
            digest = _digest(secret.strip().decode("ascii"))
        except UnicodeDecodeError as error:
            raise exceptions.AuthenticationFailed("The token is not one of ours.") from error
        token = (
            DeviceToken.objects.filter(secret_sha256=digest)
            .select_related("user__membership", "contractor")
            .first()
        )
        self._refuse(token)
        moment = now()
        DeviceToken.objects.filter(
            Q(last_used_at=None) | Q(last_used_at__lt=moment - _USED_EVERY), pk=token.pk
        ).update(last_used_at=moment)
        return token.user, token

    def _refuse(self, token: DeviceToken | None) -> None:
        if token is None:
            raise exceptions.AuthenticationFailed("The token is not one of ours.")
        if token.revoked_at:
            raise exceptions.AuthenticationFailed("This device was shut out.")
        if token.expires_at <= now():
            raise exceptions.AuthenticationFailed("The token's time is over; let the device in.")
        membership = getattr(token.user, "membership", None)
        gone = membership is None or membership.contractor_id != token.contractor_id
        if gone or not (token.user.is_active and token.contractor.active):
            raise exceptions.AuthenticationFailed("The device's user no longer has access.")

    def authenticate_header(self, request) -> str:
        """Return what a 401 asks for."""
        return 'Bearer realm="work"'


class DeviceTokenScheme(OpenApiAuthenticationExtension):
    """How the schema tells of the token."""

    target_class = DeviceTokenAuthentication
    name = "deviceToken"

    def get_security_definition(self, auto_schema) -> dict:
        """Return the scheme's entry."""
        return {"type": "http", "scheme": "bearer", "description": "The token of a device."}


class OfAContractor(BasePermission):
    """A user of an active contractor who may hand in work."""

    message = "Only the people and devices of a contractor work here."

    def has_permission(self, request, view) -> bool:
        """Tell whether the request may go on."""
        user = request.user
        return bool(getattr(user, "membership", None)) and user.has_perm("replacements.do_work")


class Throttle(BaseThrottle):
    """So many requests a minute for each user, fewer for whoever does not show who they are."""

    of_user, of_stranger = 1200, 60

    def allow_request(self, request, view) -> bool:
        """Tell whether the request may go on."""
        if request.user.is_authenticated:
            return times_asked("device", str(request.user.pk), MINUTE) <= self.of_user
        return times_asked("stranger", client_address(request), MINUTE) <= self.of_stranger

    def wait(self) -> int:
        """Return how many seconds to wait at most."""
        return MINUTE
