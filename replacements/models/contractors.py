"""The companies that do the work, their crews, and what must be in order before they may."""

from django.conf import settings
from django.db import models

from services_inventory.models import Document


class Contractor(models.Model):
    """A company that replaces service lines for the utility."""

    name = models.CharField(max_length=120, unique=True)
    active = models.BooleanField(default=True)
    # Where federal money pays, new pipe needs its domestic-content papers as well.
    domestic_content_required = models.BooleanField(default=False, db_default=False)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)

    def __str__(self):
        return self.name


class Membership(models.Model):
    """Which company a user works for; it decides whose work they can see."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="membership"
    )
    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="members")

    def __str__(self):
        return f"{self.user} of {self.contractor}"


class Crew(models.Model):
    """A crew and its foreman."""

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="crews")
    name = models.CharField(max_length=80)
    foreman = models.CharField(max_length=120, blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contractor", "name"], name="crew_name_per_contractor")
        ]

    def __str__(self):
        return self.name


class Certificate(models.Model):
    """A paper that must be valid on the day of work: insurance, license, competent person."""

    class Kind(models.TextChoices):
        INSURANCE = "INSURANCE", "insurance"
        LICENSE = "LICENSE", "plumbing or contractor license"
        COMPETENT_PERSON = "COMPETENT_PERSON", "excavation competent person"
        OTHER = "OTHER", "other"

    contractor = models.ForeignKey(
        Contractor, on_delete=models.PROTECT, related_name="certificates"
    )
    kind = models.CharField(max_length=20, choices=Kind.choices)
    holder = models.CharField(max_length=120, blank=True)
    number = models.CharField(max_length=80, blank=True)
    expires_on = models.DateField()
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    def __str__(self):
        return f"{self.get_kind_display()} to {self.expires_on}"


class MaterialLot(models.Model):
    """A lot of new pipe or fittings with the papers that make it fit for drinking water."""

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="lots")
    lot = models.CharField(max_length=80)
    material = models.CharField(max_length=22)
    nominal_in = models.FloatField(null=True, blank=True)
    grade = models.CharField(max_length=40, blank=True)
    contact_standard = models.BooleanField(default=False)
    lead_free_standard = models.BooleanField(default=False)
    domestic_content = models.BooleanField(default=False)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contractor", "lot"], name="lot_per_contractor")
        ]

    def __str__(self):
        return self.lot

    @property
    def pipe_told(self) -> str:
        """The pipe of the lot, as a crew names it."""
        from ..domain.pipes import pipe_named

        return pipe_named(self.material, self.nominal_in, self.grade)
