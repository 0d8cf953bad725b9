"""What accepted work is paid: items with a unit and a price, change orders, period statements."""

from django.db import models
from django.db.models import F, Q

from ..domain.methods import Method
from .completions import CompletionRecord
from .contractors import Contractor


class ContractTerms(models.Model):
    """A contractor's payment terms: the share of each statement that is kept back."""

    contractor = models.OneToOneField(
        Contractor, on_delete=models.PROTECT, related_name="payment_terms"
    )
    retainage_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    changed_by = models.CharField(max_length=150)
    changed_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "contract terms"
        constraints = [
            models.CheckConstraint(
                condition=Q(retainage_percent__gte=0) & Q(retainage_percent__lte=100),
                name="retainage_is_a_share",
            )
        ]

    def __str__(self):
        return f"{self.contractor_id}: {self.retainage_percent}% retainage"


class PayItem(models.Model):
    """Something that is paid by the unit, and what of an accepted record counts as one."""

    class Measure(models.TextChoices):
        LINE = "LINE", "each accepted replacement"
        SYSTEM_SIDE = "SYSTEM_SIDE", "each system side replaced"
        CUSTOMER_SIDE = "CUSTOMER_SIDE", "each customer side replaced"
        CONNECTOR = "CONNECTOR", "each connector replaced"
        LENGTH = "LENGTH", "length of new pipe, ft"
        FOUND_NOT_LEAD = "FOUND_NOT_LEAD", "each line dug up and found not to be lead"
        NO_ACCESS = "NO_ACCESS", "each visit without access"
        STOPPED = "STOPPED", "each pull stopped and not finished"

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="pay_items")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    unit = models.CharField(max_length=12, default="each")
    measure = models.CharField(max_length=16, choices=Measure.choices)
    method = models.CharField(max_length=12, blank=True)
    unit_price = models.DecimalField(max_digits=12, decimal_places=2)
    funding = models.CharField(max_length=60, blank=True)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["contractor", "code", "valid_from"], name="item_code_once_per_day"
            ),
            models.CheckConstraint(condition=Q(unit_price__gte=0), name="item_price_not_negative"),
            models.CheckConstraint(
                condition=Q(valid_to__isnull=True) | Q(valid_to__gt=F("valid_from")),
                name="item_ends_after_it_starts",
            ),
        ]

    def __str__(self):
        return f"{self.code} {self.name}"

    @property
    def method_label(self) -> str:
        """The method that alone counts, in words; blank where any does."""
        return Method(self.method).label if self.method else ""


class ChangeOrder(models.Model):
    """An agreed change of the contract sum, more or less, with the reason. Append-only."""

    contractor = models.ForeignKey(
        Contractor, on_delete=models.PROTECT, related_name="change_orders"
    )
    number = models.CharField(max_length=20)
    description = models.CharField(max_length=200)
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    funding = models.CharField(max_length=60, blank=True)
    approved_on = models.DateField()
    approved_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contractor", "number"], name="change_order_once")
        ]

    def __str__(self):
        return f"{self.number}: {self.description}"


class PaymentStatement(models.Model):
    """What a contractor is due for a period, as it was made up. Never recomputed."""

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="statements")
    number = models.PositiveIntegerField()
    period_from = models.DateField()
    period_to = models.DateField()
    retainage_percent = models.DecimalField(max_digits=5, decimal_places=2)
    retainage_released = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    made_by = models.CharField(max_length=150)
    made_at = models.DateTimeField()

    class Meta:
        permissions = [("pay_contractors", "Can make up payment statements")]
        constraints = [
            models.UniqueConstraint(fields=["contractor", "number"], name="statement_number_once"),
            models.CheckConstraint(
                condition=Q(period_to__gte=F("period_from")), name="statement_period_in_order"
            ),
            models.CheckConstraint(
                condition=Q(retainage_released__gte=0), name="released_not_negative"
            ),
        ]

    def __str__(self):
        return f"statement {self.number} of {self.contractor_id}"


class StatementLine(models.Model):
    """One quantity of one accepted record, or one change order. Each is paid once, ever."""

    statement = models.ForeignKey(PaymentStatement, on_delete=models.PROTECT, related_name="lines")
    completion = models.ForeignKey(
        CompletionRecord, null=True, blank=True, on_delete=models.PROTECT, related_name="paid"
    )
    item = models.ForeignKey(
        PayItem, null=True, blank=True, on_delete=models.PROTECT, related_name="paid"
    )
    # The item's code at the time: an item has one row for each price, and is paid once in all.
    code = models.CharField(max_length=20, default="", db_default="", editable=False)
    change_order = models.OneToOneField(
        ChangeOrder, null=True, blank=True, on_delete=models.PROTECT, related_name="paid"
    )
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    unit_price = models.DecimalField(max_digits=12, decimal_places=2)
    amount = models.DecimalField(max_digits=14, decimal_places=2)
    funding = models.CharField(max_length=60, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["completion", "code"],
                condition=Q(completion__isnull=False),
                name="record_paid_once_for_an_item",
            ),
            models.CheckConstraint(
                condition=Q(completion__isnull=False, item__isnull=False, change_order__isnull=True)
                | Q(completion__isnull=True, item__isnull=True, change_order__isnull=False),
                name="line_is_work_or_change",
            ),
        ]

    def __str__(self):
        return f"{self.amount} of statement {self.statement_id}"


class StatementNote(models.Model):
    """A word on a row of a statement: disputed, answered, closed or taken back. Append-only.

    The statement itself stays as it was made up; what is agreed is settled by a change order.
    """

    class Kind(models.TextChoices):
        DISPUTED = "DISPUTED", "disputed"
        ANSWERED = "ANSWERED", "answered"
        CLOSED = "CLOSED", "closed"
        UNDONE = "UNDONE", "taken back"

    line = models.ForeignKey(StatementLine, on_delete=models.PROTECT, related_name="notes")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    said = models.CharField(max_length=300)
    # Who speaks: a user of the contractor, or the utility's own staff.
    of_contractor = models.BooleanField()
    written_by = models.CharField(max_length=150)
    written_at = models.DateTimeField()

    def __str__(self):
        return f"{self.get_kind_display()}: {self.said}"
