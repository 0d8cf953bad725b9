"""Evidence: what somebody saw or a record says about a portion of a line. Append-only."""

from django.db import models

from ..domain.evidence import Basis
from .lines import ServiceLine

PORTIONS = [
    ("SYSTEM", "system side"),
    ("CUSTOMER", "customer side"),
    ("CONNECTOR", "connector"),
]
ERAS = [("NOW", "the pipe in the ground"), ("BEFORE", "an earlier pipe")]


class Document(models.Model):
    """A stored file (photo, card, log, letter), kept by content and never overwritten."""

    file = models.FileField(upload_to="documents/%Y/%m/", max_length=300)
    name = models.CharField(max_length=255)
    kind = models.CharField(max_length=30, blank=True)
    content_type = models.CharField(max_length=100)
    sha256 = models.CharField(max_length=64, db_index=True)
    bytes = models.BigIntegerField()
    owner_key = models.CharField(max_length=60, blank=True)
    uploaded_by = models.CharField(max_length=150)
    uploaded_at = models.DateTimeField()

    def __str__(self):
        return self.name


class LineDocument(models.Model):
    """A photograph or scan that shows a line, or a card that names several: no statement by itself.

    It came with a batch, and goes where that is taken back.
    """

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="line_documents")
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="of_lines")
    page = models.PositiveSmallIntegerField(null=True, blank=True)
    batch = models.ForeignKey("Batch", on_delete=models.PROTECT, related_name="line_documents")
    row_number = models.PositiveIntegerField()

    def __str__(self):
        return f"{self.document_id} of line {self.line_id}"


class Evidence(models.Model):
    """One statement about one portion of one line.

    A mistake is withdrawn by a new row (`withdraws`), never edited; a whole batch is
    withdrawn by a batch that withdraws it. `era` BEFORE speaks of a pipe that lay there
    earlier, which decides whether galvanized pipe below it requires replacement.

    A row counts from the day it was recorded, or from `counts_from`: what it says was true since
    then, or what it withdraws was never true. What was filed before it was recorded stays.
    """

    line = models.ForeignKey(
        ServiceLine, on_delete=models.PROTECT, related_name="evidence", db_index=False
    )
    portion = models.CharField(max_length=9, choices=PORTIONS)
    material = models.CharField(max_length=22, blank=True)
    basis = models.CharField(max_length=24)
    era = models.CharField(max_length=6, choices=ERAS, default="NOW")
    points_seen = models.SmallIntegerField(default=0)
    observed_on = models.DateField(null=True, blank=True)
    installed_on = models.DateField(null=True, blank=True)
    installed_year = models.SmallIntegerField(null=True, blank=True)
    diameter_in = models.FloatField(null=True, blank=True)
    length_ft = models.FloatField(null=True, blank=True)
    place = models.CharField(max_length=60, blank=True, db_default="", default="")
    every_earlier_pipe = models.BooleanField(default=False, db_default=False)
    below_lead = models.BooleanField(default=False, db_default=False)
    resolves = models.CharField(max_length=22, blank=True, db_default="", default="")
    both_true = models.BooleanField(default=False, db_default=False)
    counts_from = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=150)
    batch = models.ForeignKey(
        "services_inventory.Batch",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        db_index=False,
    )
    row_number = models.PositiveIntegerField(null=True, blank=True)
    # What the statement says, as one number (`statements.content_key`): equal statements about
    # a line are found by it without reading them.
    content_key = models.BigIntegerField(null=True, blank=True)
    # What the statement reduces to under the rule (`facts.Facts`); found anew when that changes.
    fact_code = models.BigIntegerField(null=True, blank=True)
    document = models.ForeignKey(
        Document, null=True, blank=True, on_delete=models.PROTECT, db_index=False
    )
    withdraws = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="withdrawn_by",
        db_index=False,
    )  # fmt: skip

    class Meta:
        indexes = [
            # Rows that take another back are few: the others need no place in it.
            models.Index(
                fields=["withdraws"],
                name="evidence_withdraws",
                condition=models.Q(withdraws__isnull=False),
            ),
            # With all that the standings of many lines are added up from.
            models.Index(
                fields=["line", "content_key", "fact_code", "batch"], name="evidence_of_line"
            ),
            # Rows that speak of days before they were recorded are few.
            models.Index(
                fields=["counts_from"],
                name="evidence_of_the_past",
                condition=models.Q(counts_from__isnull=False),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(portion__in=[p for p, _ in PORTIONS]),
                name="evidence_portion_known",
            ),
            models.CheckConstraint(
                condition=models.Q(basis__in=[basis.value for basis in Basis]),
                name="evidence_basis_known",
            ),
            models.CheckConstraint(
                condition=models.Q(points_seen__gte=0), name="evidence_points_not_negative"
            ),
        ]

    def __str__(self):
        return f"{self.get_portion_display()}: {self.material} ({self.basis})"


class Conflict(models.Model):
    """Evidence that contradicts itself, waiting for a person to decide with a reason.

    Until then the line keeps the more protective reading. The decision itself is a new
    evidence row.
    """

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="conflicts")
    portion = models.CharField(max_length=9, choices=PORTIONS)
    sentence = models.TextField()
    evidence_ids = models.JSONField(default=list)
    opened_at = models.DateTimeField()
    resolved_at = models.DateTimeField(null=True, blank=True)
    resolved_by = models.CharField(max_length=150, blank=True)
    reason = models.TextField(blank=True)
    resolution = models.ForeignKey(
        Evidence, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["line", "portion"],
                condition=models.Q(resolved_at__isnull=True),
                name="one_open_conflict_per_portion",
            )
        ]

    def __str__(self):
        return self.sentence


class Proposal(models.Model):
    """An answer to a conflict that is less protective than what was seen, and the second person's.

    It becomes a decision, a row of evidence, once somebody else agrees; until then the more
    protective reading stands. Accounts are kept by number, as a name may change.
    """

    class Answer(models.TextChoices):
        AGREED = "AGREED", "agreed"
        DECLINED = "DECLINED", "declined"
        TAKEN_BACK = "TAKEN_BACK", "taken back"

    conflict = models.ForeignKey(Conflict, on_delete=models.PROTECT, related_name="proposals")
    material = models.CharField(max_length=22)
    reason = models.TextField()
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")
    evidence_ids = models.JSONField(default=list)
    set_aside_ids = models.JSONField(default=list)
    proposed_by = models.CharField(max_length=150)
    proposed_by_account = models.BigIntegerField()
    proposed_at = models.DateTimeField()
    answer = models.CharField(max_length=10, choices=Answer.choices, blank=True)
    answered_by = models.CharField(max_length=150, blank=True)
    answered_by_account = models.BigIntegerField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answer_reason = models.TextField(blank=True)
    decision = models.OneToOneField(
        Evidence, null=True, blank=True, on_delete=models.PROTECT, related_name="proposal"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["conflict"],
                condition=models.Q(answer=""),
                name="one_open_proposal_per_conflict",
            ),
            models.CheckConstraint(
                condition=~models.Q(answer="AGREED")
                | ~models.Q(answered_by_account=models.F("proposed_by_account")),
                name="proposal_agreed_by_another",
            ),
        ]

    def __str__(self):
        return f"{self.material}: {self.reason}"
