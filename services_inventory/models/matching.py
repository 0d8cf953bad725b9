"""Rows that may belong to a line we know, and what persons said of them."""

from django.db import models

from .batches import Batch
from .lines import ServiceLine


class MatchQuestions(models.QuerySet):
    """Questions about rows."""

    def waiting(self) -> "MatchQuestions":
        """Those that nobody answered yet, of files that stand: a withdrawn one asks no more."""
        return self.filter(decision=None, batch__withdrawn_by=None)


class MatchQuestion(models.Model):
    """An input row without a sure match: scored candidates, and the answer that stands.

    `score` is the best candidate's; `clear` says that it alone has it, and that the row is no
    range of house numbers: what many questions can be answered by at once.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="match_questions")
    row_number = models.PositiveIntegerField()
    given_key = models.CharField(max_length=200, db_index=True)
    given = models.JSONField()
    candidates = models.JSONField(default=list)
    score = models.FloatField(default=0)
    clear = models.BooleanField(default=False)
    decision = models.ForeignKey(
        "MatchDecision", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = MatchQuestions.as_manager()

    class Meta:
        indexes = [
            models.Index(
                fields=["id"], name="match_open", condition=models.Q(decision__isnull=True)
            )
        ]

    def __str__(self):
        return f"row {self.row_number} of batch {self.batch_id}"


class MatchDecision(models.Model):
    """What a person said a row means: these lines, or (none) a line of its own. Append-only.

    One that asks again takes the one before it back: the question is open as it was.
    """

    question = models.ForeignKey(MatchQuestion, on_delete=models.PROTECT, related_name="decisions")
    lines = models.ManyToManyField(ServiceLine, related_name="match_decisions")
    reason = models.CharField(max_length=300, blank=True)
    asks_again = models.BooleanField(default=False)
    followed = models.JSONField(default=dict)
    decided_by = models.CharField(max_length=150)
    decided_at = models.DateTimeField()

    def __str__(self):
        return f"decision {self.pk} of question {self.question_id}"


class MatchUse(models.Model):
    """A row of a file that was taken in as a decision says."""

    decision = models.ForeignKey(MatchDecision, on_delete=models.PROTECT, related_name="uses")
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="+")
    row_number = models.PositiveIntegerField()

    def __str__(self):
        return f"row {self.row_number} of batch {self.batch_id}"
