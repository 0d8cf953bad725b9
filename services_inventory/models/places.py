"""Places: a premise is where a service line ends; a neighborhood is what one plans by."""

from django.db import models

from ..domain.addresses.written import with_unit
from ..domain.columns import OF_PREMISE, Field
from ..domain.plumbing import Plumbing, Treatment

PLUMBINGS = [(code.value, code.label) for code in Plumbing]
TREATMENTS = [(code.value, code.label) for code in Treatment]


class Neighborhood(models.Model):
    """A planning area with a boundary (WKB, longitude/latitude, EPSG:4326)."""

    name = models.CharField(max_length=120, unique=True)
    boundary_wkb = models.BinaryField(null=True, blank=True)
    west = models.FloatField(null=True, blank=True)
    south = models.FloatField(null=True, blank=True)
    east = models.FloatField(null=True, blank=True)
    north = models.FloatField(null=True, blank=True)
    attributes = models.JSONField(default=dict, blank=True)
    batch = models.ForeignKey(
        "services_inventory.Batch", null=True, blank=True, on_delete=models.PROTECT
    )

    class Meta:
        permissions = [("change_boundaries", "Can take in neighborhood boundaries")]

    def __str__(self):
        return self.name


class PremiseKind(models.TextChoices):
    """Who drinks here; schools and child care come first in any plan."""

    NOT_STATED = "", "not stated"
    SINGLE_FAMILY = "SINGLE_FAMILY", "single-family home"
    MULTI_FAMILY = "MULTI_FAMILY", "multi-family building"
    SCHOOL = "SCHOOL", "school"
    CHILD_CARE = "CHILD_CARE", "child care"
    HEALTH_CARE = "HEALTH_CARE", "health care"
    BUSINESS = "BUSINESS", "business"
    OTHER = "OTHER", "other"


COMMON_KIND = PremiseKind.SINGLE_FAMILY.value


class Premise(models.Model):
    """A building or lot that a service line serves.

    City, postcode and whatever else an intake file may tell of it are columns by
    `domain/columns.toml`.
    """

    address = models.CharField(max_length=200, blank=True)
    address_key = models.CharField(max_length=200, blank=True, db_index=True)
    street_key = models.CharField(max_length=120, blank=True)
    house_number = models.IntegerField(null=True, blank=True)
    unit = models.CharField(max_length=40, blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    neighborhood = models.ForeignKey(
        Neighborhood, null=True, blank=True, on_delete=models.SET_NULL, related_name="premises"
    )
    kind = models.CharField(
        max_length=16, choices=PremiseKind.choices, default="", blank=True, db_default=""
    )
    plumbing = models.CharField(
        max_length=24, choices=PLUMBINGS, default="", blank=True, db_default=""
    )
    treatment = models.CharField(
        max_length=16, choices=TREATMENTS, default="", blank=True, db_default=""
    )
    batch = models.ForeignKey(
        "services_inventory.Batch",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        db_index=False,
    )

    class Meta:
        indexes = [
            models.Index(fields=["latitude", "longitude"], name="premise_lat_lon"),
            models.Index(fields=["street_key", "house_number"], name="premise_street"),
            models.Index(
                fields=["kind"],
                name="premise_rarer_kind",
                condition=~models.Q(kind="") & ~models.Q(kind=COMMON_KIND),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(latitude__isnull=True) | models.Q(latitude__range=(-90, 90)),
                name="premise_latitude_range",
            ),
            models.CheckConstraint(
                condition=models.Q(longitude__isnull=True) | models.Q(longitude__range=(-180, 180)),
                name="premise_longitude_range",
            ),
            models.CheckConstraint(
                condition=models.Q(plumbing__in=["", *Plumbing]), name="premise_plumbing_known"
            ),
            models.CheckConstraint(
                condition=models.Q(treatment__in=["", *Treatment]), name="premise_treatment_known"
            ),
        ]

    def __str__(self):
        return self.address or f"premise {self.pk}"

    @property
    def place(self) -> str:
        """The address with its unit, which stands once; empty where there is none."""
        return with_unit(self.address, self.unit)


def _column(field: Field) -> models.Field:
    if field.number:
        return models.SmallIntegerField(null=True, blank=True)
    return models.CharField(max_length=field.longest, blank=True)


for _field in OF_PREMISE:
    if not hasattr(Premise, _field.premise):
        Premise.add_to_class(_field.premise, _column(_field))


class PremiseChange(models.Model):
    """What a later source corrected about a place: before, after, from what. Append-only.

    `source` says on what a person relied; a file's own change names its batch instead.
    """

    premise = models.ForeignKey(Premise, on_delete=models.PROTECT, related_name="changes")
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=150)
    source = models.CharField(max_length=300, blank=True, default="", db_default="")
    batch = models.ForeignKey(
        "services_inventory.Batch", null=True, blank=True, on_delete=models.PROTECT
    )

    def __str__(self):
        return f"{self.premise_id} on {self.recorded_at:%Y-%m-%d}"
