"""Who is let in: changes of accounts, never rewritten; sessions, recovery codes, keys for maps."""

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.utils.crypto import salted_hmac
from django_otp.plugins.otp_totp.models import TOTPDevice

from replacements.models import Contractor


class PeopleChange(models.Model):
    """One change of an account, or of a company that works for the utility."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="changes",
    )
    company = models.ForeignKey(
        Contractor, null=True, blank=True, on_delete=models.PROTECT, related_name="changes"
    )
    account_name = models.CharField(max_length=150, blank=True)  # as the account signed then
    what = models.CharField(max_length=60)
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    changed_by = models.CharField(max_length=150)
    changed_at = models.DateTimeField()

    class Meta:
        permissions = [
            ("manage_people", "Can let people in and change what they may do"),
            ("view_people", "Can see who was let in, and who signed in"),
        ]
        indexes = [models.Index(fields=["-changed_at"], name="people_changes_by_day")]

    def __str__(self):
        return f"{self.what}: {self.account_name or self.company}"


class SignedIn(AbstractBaseSession):
    """A browser's session: of whom, from where, and when it was last used."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.CASCADE, related_name="sessions"
    )
    came_from = models.CharField(max_length=64, blank=True)
    browser = models.CharField(max_length=60, blank=True)
    begun_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)

    @classmethod
    def get_session_store_class(cls):
        """Return what keeps sessions in this table."""
        from ..sessions import SessionStore

        return SessionStore


class RecoveryCode(models.Model):
    """A code, used once, for whoever has lost the telephone of their second step."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="recovery_codes"
    )
    code_sha256 = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True)


class MapKey(models.Model):
    """What a map program shows in place of a password; it reads, and nothing else."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="map_keys"
    )
    name = models.CharField(max_length=80)
    shown = models.CharField(max_length=6)
    secret_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    ended_by = models.CharField(max_length=150, blank=True)

    def __str__(self):
        return self.name


class Telephone(TOTPDevice):
    """The telephone of a second step.

    Its secret follows from what the database keeps and the installation's own key together, so
    that whoever reads the database alone, or a back-up of it, can make no code.
    """

    class Meta:
        proxy = True

    @property
    def bin_key(self) -> bytes:
        """The secret, as the telephone has it."""
        made = salted_hmac("program.second_step", self.key, algorithm="sha256")
        return made.digest()[:20]


class PersonalOpened(models.Model):
    """Who opened a page that names residents, and of what."""

    opened_by = models.CharField(max_length=150)
    page = models.CharField(max_length=60)
    of = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["-at"], name="opened_latest")]

    def __str__(self):
        return f"{self.opened_by}: {self.page} {self.of}"


class Purge(models.Model):
    """That what names residents at a line was erased: when, by whom, why; what it was is gone."""

    line = models.ForeignKey(
        "services_inventory.ServiceLine", on_delete=models.PROTECT, related_name="purges"
    )
    erased = models.JSONField()
    reason = models.CharField(max_length=300)
    purged_by = models.CharField(max_length=150)
    purged_at = models.DateTimeField()

    def __str__(self):
        return f"line {self.line_id}: {self.reason}"
