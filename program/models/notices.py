"""Notices to the people served: who must get which, by when, and proof that they got it."""

from django.db import models
from django.db.models import Q

from services_inventory.models import Document
from services_inventory.models.withdrawal import Entry


class NoticeSlot(models.Model):
    """Text that the rule prescribes, filled by staff from their primacy agency's wording."""

    kind = models.CharField(max_length=30)
    slot = models.CharField(max_length=40)
    language = models.CharField(max_length=8, default="en")
    text = models.TextField(blank=True)
    taken_from = models.CharField(max_length=300, blank=True)
    filled_by = models.CharField(max_length=150)
    filled_at = models.DateTimeField()

    class Meta:
        permissions = [("send_notices", "Can prepare and send notices")]
        constraints = [
            models.UniqueConstraint(fields=["kind", "slot", "language"], name="slot_once")
        ]

    def __str__(self):
        return f"{self.kind} {self.slot} ({self.language})"


class NoticeBatch(models.Model):
    """One printing of letters."""

    kind = models.CharField(max_length=30)
    year = models.PositiveSmallIntegerField()
    batch = models.ForeignKey("services_inventory.Batch", null=True, on_delete=models.PROTECT)
    made_by = models.CharField(max_length=150)
    made_at = models.DateTimeField()
    letters = models.PositiveIntegerField(default=0)
    languages = models.CharField(max_length=40, blank=True)
    due_by = models.DateField(null=True, blank=True)
    files = models.JSONField(default=list, blank=True)
    delivered_on = models.DateField(null=True, blank=True)
    delivered_by = models.CharField(max_length=30, blank=True)
    proof = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)

    def __str__(self):
        return f"{self.kind} {self.year}"

    @property
    def means_label(self) -> str:
        """How it was delivered, in words."""
        return means_label(self.delivered_by)


class NoticeQuerySet(models.QuerySet):
    """Reads of notices by how they stand."""

    def open(self):
        """Keep what is owed: neither delivered nor called off."""
        return self.filter(delivered_on__isnull=True, withdrawn_on__isnull=True)


class Notice(models.Model):
    """One notice owed to or sent to the persons served at one line.

    `subject` names the event where there is one ("replacement-7"); `values` what only this
    letter says; `language` the one that the person asked in, empty where nobody said. Returned
    mail makes the notice owed again; what came back is a `NoticeReturn`.
    """

    class Means(models.TextChoices):
        POST = "POST", "post"
        BY_HAND = "BY_HAND", "by hand"
        DOOR_HANGER = "DOOR_HANGER", "left at the door"
        EMAIL = "EMAIL", "e-mail"
        OTHER = "OTHER", "another way that the State approved"

    line = models.ForeignKey(
        "services_inventory.ServiceLine", on_delete=models.PROTECT, related_name="notices"
    )
    kind = models.CharField(max_length=30)
    due_on = models.DateField()
    rule_id = models.CharField(max_length=80)
    how_computed = models.TextField(blank=True)
    notice_batch = models.ForeignKey(
        NoticeBatch, null=True, blank=True, on_delete=models.PROTECT, related_name="notices"
    )
    delivered_on = models.DateField(null=True, blank=True)
    delivered_by = models.CharField(max_length=30, blank=True)
    returned_on = models.DateField(null=True, blank=True)
    recorded_by = models.CharField(max_length=150, blank=True)
    subject = models.CharField(max_length=60, blank=True, db_default="", default="")
    values = models.JSONField(default=dict, blank=True)
    language = models.CharField(max_length=8, blank=True, db_default="", default="")
    withdrawn_on = models.DateField(null=True, blank=True)
    withdrawn_why = models.CharField(max_length=200, blank=True, db_default="", default="")

    objects = NoticeQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["delivered_on", "due_on"], name="notice_due"),
            models.Index(
                fields=["kind", "due_on", "id"],
                condition=Q(delivered_on__isnull=True, withdrawn_on__isnull=True),
                name="notice_open",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["line", "kind", "due_on", "subject"],
                condition=Q(withdrawn_on__isnull=True),
                name="notice_once",
            )
        ]

    def __str__(self):
        return f"{self.kind} for {self.line_id} by {self.due_on}"

    @property
    def means_label(self) -> str:
        """How it was delivered, in words."""
        return means_label(self.delivered_by)


def means_label(means: str) -> str:
    """Return a means of delivery in words."""
    return Notice.Means(means).label if means in Notice.Means.values else means


class NoticeReturn(Entry):
    """A letter that came back: when and how it had gone out, why it returned.

    Never edited; one entered for the wrong letter is withdrawn, with the reason.
    """

    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, related_name="returns")
    sent_on = models.DateField()
    means = models.CharField(max_length=30, blank=True)
    returned_on = models.DateField()
    why = models.CharField(max_length=200, blank=True)

    def __str__(self):
        return f"notice {self.notice_id} returned on {self.returned_on}"


class SentAgain(models.Model):
    """Why letters go to an address once more from which one came back. Append-only."""

    returned = models.ForeignKey(NoticeReturn, on_delete=models.PROTECT, related_name="sent_again")
    why = models.CharField(max_length=200)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    def __str__(self):
        return f"again after return {self.returned_id}"


class DeliveryCorrection(models.Model):
    """A recorded delivery put right: what was recorded, what holds now, why. Append-only.

    Either of one notice or of a whole printing; without a day now, nothing was delivered.
    """

    notice = models.ForeignKey(
        Notice, null=True, on_delete=models.PROTECT, related_name="corrections"
    )
    notice_batch = models.ForeignKey(
        NoticeBatch, null=True, on_delete=models.PROTECT, related_name="corrections"
    )
    was_on = models.DateField()
    was_by = models.CharField(max_length=30, blank=True)
    now_on = models.DateField(null=True)
    now_by = models.CharField(max_length=30, blank=True)
    notices = models.PositiveIntegerField(default=1)
    why = models.CharField(max_length=200)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(notice__isnull=True) ^ Q(notice_batch__isnull=True),
                name="correction_of_one_thing",
            )
        ]

    def __str__(self):
        return f"{self.was_on} -> {self.now_on}"

    @property
    def sentence(self) -> str:
        """What was put right, in one sentence."""
        was = f"{self.was_on}, {means_label(self.was_by)}"
        now = f"{self.now_on}, {means_label(self.now_by)}" if self.now_on else "not delivered"
        return f"{was} became {now}: {self.why}"
