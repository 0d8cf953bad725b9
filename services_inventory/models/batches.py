"""Long operations: who asked for what, from which file, how far it is, how it ended."""

from django.conf import settings
from django.db import models


class Batch(models.Model):
    """One long operation: an intake file, a restatement, an export, a contractor's bundle.

    It is provenance first (file name, SHA-256, who, when) and progress second. A worker
    advances it; a killed worker leaves the record as it was before the batch.
    """

    class State(models.TextChoices):
        RECEIVED = "RECEIVED", "received"
        QUEUED = "QUEUED", "waiting for the worker"
        CHECKING = "CHECKING", "being checked"
        CHECKED = "CHECKED", "checked, nothing written yet"
        APPLYING = "APPLYING", "being applied"
        APPLIED = "APPLIED", "applied"
        REFUSED = "REFUSED", "refused"
        STOPPED = "STOPPED", "stopped"
        WITHDRAWN = "WITHDRAWN", "withdrawn"

    kind = models.CharField(max_length=40)
    state = models.CharField(max_length=12, choices=State.choices, default=State.RECEIVED)
    title = models.CharField(max_length=200, blank=True)
    file = models.FileField(upload_to="batches/%Y/", blank=True, max_length=300)
    file_name = models.CharField(max_length=255, blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    file_bytes = models.BigIntegerField(default=0)
    parameters = models.JSONField(default=dict, blank=True)
    done = models.BigIntegerField(default=0)
    total = models.BigIntegerField(default=0)
    counts = models.JSONField(default=dict, blank=True)
    result = models.JSONField(default=dict, blank=True)
    message = models.TextField(blank=True)
    requested_by = models.CharField(max_length=150)
    owner_key = models.CharField(max_length=60, blank=True, db_index=True)
    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    # Which worker took it up last, and when: its machine and process.
    held_by = models.CharField(max_length=120, blank=True, db_default="")
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    # How often it was taken up again after its worker was killed or lost the database.
    taken_up = models.PositiveSmallIntegerField(default=0, db_default=0)
    cancel_requested = models.BooleanField(default=False)
    withdraws = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="withdrawn_by"
    )
    first_evidence_id = models.BigIntegerField(null=True, blank=True)
    last_evidence_id = models.BigIntegerField(null=True, blank=True)

    class Meta:
        permissions = [
            ("intake", "Can take in inventory files"),
            ("undo_batch", "Can withdraw a whole batch"),
        ]
        indexes = [models.Index(fields=["kind", "state", "-id"], name="batch_kind_state")]

    def __str__(self):
        return f"{self.get_kind_label()} {self.pk}"

    def get_kind_label(self) -> str:
        """Return the words a page uses for this kind of operation."""
        return settings.BATCH_KINDS.get(self.kind, {}).get("label", self.kind.lower())

    @property
    def percent(self) -> int:
        """Progress in whole percent, 100 only when finished."""
        if self.state in (self.State.APPLIED, self.State.WITHDRAWN):
            return 100
        return min(99, int(100 * self.done / self.total)) if self.total else 0

    @property
    def is_running(self) -> bool:
        """True while a worker has it, or it waits for one."""
        return self.state in (self.State.QUEUED, self.State.CHECKING, self.State.APPLYING)


class HeldRow(models.Model):
    """An input row that was not taken in, with the reason and the row as it came.

    `mended` is what a person typed instead, by the cell's place; the row then goes on in a
    batch of its own, and waits again where that one ends without it. A person may leave it out
    for a reason; it can be brought back.
    """

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="held_rows")
    row_number = models.PositiveIntegerField()
    reason = models.TextField()
    cells = models.JSONField(default=list)
    mended = models.JSONField(null=True, blank=True)
    mended_by = models.CharField(max_length=150, blank=True, db_default="")
    mended_at = models.DateTimeField(null=True, blank=True)
    went_to = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.SET_NULL, related_name="mended_rows"
    )
    left_out_why = models.CharField(max_length=300, blank=True, db_default="")
    left_out_by = models.CharField(max_length=150, blank=True, db_default="")
    left_out_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["batch", "row_number"], name="held_batch_row")]

    def __str__(self):
        return f"row {self.row_number}: {self.reason}"


class SavedColumns(models.Model):
    """A column map that staff corrected once, found again by the headings that it names.

    Whatever columns were added since: those of the file and the sheet it was made for are kept.
    """

    headings = models.JSONField(default=list)
    sheet = models.CharField(max_length=120, blank=True)
    name = models.CharField(max_length=120)
    header_sha256 = models.CharField(max_length=64, unique=True)
    columns = models.JSONField()
    saved_by = models.CharField(max_length=150)
    saved_at = models.DateTimeField()

    def __str__(self):
        return self.name
