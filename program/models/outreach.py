"""Who is told of lead outside of the addresses with such lines, and proof that they were."""

from django.db import models

from services_inventory.models import Document
from services_inventory.models.withdrawal import Entry, once_standing, says_why


class Audience(models.TextChoices):
    """To whom outreach goes."""

    HEALTH = "HEALTH", "health agencies"
    SCHOOL = "SCHOOL", "schools and child care"
    PLUMBER = "PLUMBER", "plumbers and contractors"
    COMMUNITY = "COMMUNITY", "community groups and the public"


class OutreachPartner(Entry):
    """An agency, school or group on the list. Taken off with a reason, never removed."""

    audience = models.CharField(max_length=10, choices=Audience.choices)
    name = models.CharField(max_length=160)
    reached_at = models.CharField(max_length=200, blank=True)
    since = models.DateField()

    class Meta:
        constraints = [
            once_standing("audience", "name", name="outreach_partner_once"),
            says_why("withdrawn_partner_says_why"),
        ]

    def __str__(self):
        return self.name


class OutreachAct(Entry):
    """What was sent or said to some of the list on a day, with its proof."""

    partners = models.ManyToManyField(OutreachPartner, related_name="acts")
    done_on = models.DateField()
    what = models.CharField(max_length=300)
    proof = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    proof_words = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [says_why("withdrawn_outreach_says_why")]

    def __str__(self):
        return f"{self.what}, {self.done_on}"

    @property
    def done_key(self) -> str:
        """What its form on a page is told apart by."""
        return f"act-{self.pk}"
