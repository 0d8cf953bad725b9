"""Completion records: handed in by the contractor, accepted or returned by the utility."""

from datetime import date, datetime

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Value, When

from services_inventory.asked_once import once
from services_inventory.domain.evidence import Basis
from services_inventory.models import Document, Evidence, ServiceLine

from .pulls import PullRecord
from .tools import ToolStringRecord
from .work_orders import WorkOrder


class CompletionRecord(models.Model):
    """What the contractor says was done. Returned work gets a new revision; none is edited."""

    class Outcome(models.TextChoices):
        REPLACED = "REPLACED", "replaced"
        FOUND_NOT_LEAD = "FOUND_NOT_LEAD", "found not to be lead"
        NO_ACCESS = "NO_ACCESS", "no access"
        STOPPED = "STOPPED", "pull stopped, not finished"

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="completions")
    revision = models.PositiveSmallIntegerField(default=1)
    outcome = models.CharField(max_length=16, choices=Outcome.choices, default=Outcome.REPLACED)
    finished_on = models.DateField()
    method_used = models.CharField(max_length=12, default="SPLIT")
    system_found = models.CharField(max_length=22, blank=True)
    customer_found = models.CharField(max_length=22, blank=True)
    connector_found = models.CharField(max_length=8, blank=True)
    system_material_after = models.CharField(max_length=22, blank=True)
    customer_material_after = models.CharField(max_length=22, blank=True)
    connector_after = models.CharField(max_length=8, blank=True)
    system_replaced = models.BooleanField(default=False)
    customer_replaced = models.BooleanField(default=False)
    connector_replaced = models.BooleanField(default=False)
    new_nominal_in = models.FloatField(null=True, blank=True)
    new_grade = models.CharField(max_length=20, blank=True)
    length_ft = models.FloatField(null=True, blank=True)
    tool_string = models.ForeignKey(
        ToolStringRecord, null=True, blank=True, on_delete=models.PROTECT
    )
    pull = models.ForeignKey(PullRecord, null=True, blank=True, on_delete=models.PROTECT)
    quality = models.JSONField(default=dict, blank=True)
    findings = models.JSONField(default=list, blank=True)
    photos = models.ManyToManyField(Document, blank=True, related_name="+")
    note = models.TextField(blank=True)
    idempotency_key = models.CharField(max_length=80, null=True, blank=True, unique=True)
    handed_in_by = models.CharField(max_length=150)
    handed_in_by_user_id = models.BigIntegerField(null=True, blank=True)
    handed_in_at = models.DateTimeField()
    # Until somebody of the utility opens it, its crew may take it back.
    review_begun_by = models.CharField(max_length=150, blank=True)
    review_begun_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["work_order", "revision"], name="revision_once"),
        ]

    def __str__(self):
        return f"{self.work_order_id} revision {self.revision}"


class CompletionReview(models.Model):
    """The answer to one completion record: accepted, or returned with reasons by the utility.

    `mend` holds what is wrong by the part of the record. A crew that takes its own record back
    before the review begins is an answer, too, so that nobody reviews it.
    """

    class Answer(models.TextChoices):
        ACCEPTED = "ACCEPTED", "accepted"
        RETURNED = "RETURNED", "returned"
        TAKEN_BACK = "TAKEN_BACK", "taken back"

    GIVEN_BACK = (Answer.RETURNED, Answer.TAKEN_BACK)

    completion = models.OneToOneField(
        CompletionRecord, on_delete=models.PROTECT, related_name="review"
    )
    answer = models.CharField(max_length=10, choices=Answer.choices)
    reasons = models.TextField(blank=True)
    mend = models.JSONField(default=dict, blank=True)
    reviewed_by = models.CharField(max_length=150)
    reviewed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(answer="RETURNED") | ~Q(reasons=""),
                name="returned_work_says_why",
            )
        ]

    def __str__(self):
        return f"{self.get_answer_display()} by {self.reviewed_by}"


class ReplacementQuerySet(models.QuerySet):
    """Reads of accepted work."""

    def standing(self, as_of: date, known_at: datetime | None = None) -> "ReplacementQuerySet":
        """Keep the work up to a day whose record stands; every reader begins here.

        What was never true stands on no day, what was only taken back until then; what was
        recorded again stands. `system_stands`, `customer_stands` and `connector_stands` tell
        which of the replaced portions are left.

        Parameters
        ----------
        known_at : only what was accepted and recorded by this moment counts
        """
        rows = self.filter(replaced_on__lte=as_of)
        if known_at is not None:
            rows = rows.filter(accepted_at__lte=known_at)
        touched = _touched(as_of, known_at)
        if touched is None:
            return _by_evidence(rows, as_of, known_at)
        for at, portion in enumerate(PORTIONS, start=1):
            gone = [row[0] for row in touched if not row[at]]
            told = F(f"{portion}_replaced")
            if gone:
                told = Case(When(pk__in=gone, then=Value(False)), default=told)
            rows = rows.annotate(**{f"{portion}_stands": told})
        return rows.exclude(pk__in=[pk for pk, *left in touched if not any(left)])


PORTIONS = ("system", "customer", "connector")
FEW = 500


@once
def _touched(as_of: date, known_at: datetime | None) -> list[tuple] | None:
    """Return (work, which portions are left) of lines with work taken back; None for over FEW."""
    # Not by distinct lines, which SQLite would look for through all evidence.
    lines = list(_taken_back(as_of, known_at).values_list("line", flat=True)[: FEW + 1])
    if not lines or len(lines) > FEW:
        return None if lines else []
    works = ReplacementQuerySet(Replacement).filter(line__in=lines)
    told = _by_evidence(works, as_of, known_at, whole=False)
    return list(told.values_list("pk", *(f"{portion}_stands" for portion in PORTIONS)))


def _taken_back(as_of: date, known_at: datetime | None) -> models.QuerySet:
    known = Q() if known_at is None else Q(recorded_at__lte=known_at)
    return Evidence.objects.filter(
        known, Q(counts_from__isnull=False) | Q(recorded_at__date__lte=as_of),
        basis=Basis.REPLACEMENT, withdraws__gt=0,
    )  # fmt: skip


def _by_evidence(
    rows: models.QuerySet, as_of: date, known_at: datetime | None, whole: bool = True
) -> models.QuerySet:
    """Tell what is left by one statement, however much was taken back; `whole` drops the rest."""
    known = Q() if known_at is None else Q(recorded_at__lte=known_at)
    backs = _taken_back(as_of, known_at)
    laid = Evidence.objects.filter(
        known, line=OuterRef("line"), observed_on=OuterRef("replaced_on"),
        basis=Basis.REPLACEMENT, withdraws=None,
    )  # fmt: skip
    gone, left = (Q(pk__in=backs.values("withdraws")), ~Q(pk__in=backs.values("withdraws")))
    touched = Q(line__in=backs.values("line"))
    for portion in PORTIONS:
        of = laid.filter(portion=portion.upper())
        stands = ~Exists(of.filter(gone)) | Exists(of.filter(left))
        told = Case(When(touched & ~stands, then=Value(False)), default=F(f"{portion}_replaced"))
        rows = rows.annotate(**{f"{portion}_stands": told})
    some = Q(system_stands=True) | Q(customer_stands=True) | Q(connector_stands=True)
    return rows.filter(~touched | some) if whole else rows


class Replacement(models.Model):
    """An accepted piece of work, once: the facts before and after, and the day it was done.

    What it counts as (full, partial, neither) follows from these facts by the rule and is
    worked out in the program, never typed here.
    """

    completion = models.OneToOneField(
        CompletionRecord, on_delete=models.PROTECT, related_name="replacement"
    )
    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="replacements")
    replaced_on = models.DateField(db_index=True)
    category_before = models.CharField(max_length=8)
    facts_before = models.CharField(max_length=80)
    category_after = models.CharField(max_length=8)
    facts_after = models.CharField(max_length=80)
    system_replaced = models.BooleanField(default=False)
    customer_replaced = models.BooleanField(default=False)
    connector_replaced = models.BooleanField(default=False)
    length_ft = models.FloatField(null=True, blank=True)
    accepted_at = models.DateTimeField()

    objects = ReplacementQuerySet.as_manager()

    def __str__(self):
        return f"line {self.line_id} on {self.replaced_on}"
