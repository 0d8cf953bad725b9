"""What of an accepted record counts for an item, and what has not been paid yet.

Only accepted records count. An item is chosen by the day of the work and, where the item names one,
by the method used.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Exists, OuterRef, Q

from ..models import ChangeOrder, CompletionRecord, Contractor, PayItem, Replacement, StatementLine

CENT = Decimal("0.01")
_Measure = PayItem.Measure
# What an order holds in lists: much to read, and nothing is paid by it.
_LISTS = tuple(
    f"work_order__{name}" for name in ("safety", "joints", "bends", "surfaces", "ground_conditions")
)


@dataclass(frozen=True)
class Due:
    """One quantity of one record at one price, or a change order."""

    amount: Decimal
    quantity: Decimal
    unit_price: Decimal
    funding: str
    completion: CompletionRecord | None = None
    item: PayItem | None = None
    change_order: ChangeOrder | None = None


def money(value) -> Decimal:
    """Return an amount in whole cents, half a cent up.

    Examples
    --------
    >>> money(Decimal("2.345"))
    Decimal('2.35')
    """
    return Decimal(value).quantize(CENT, ROUND_HALF_UP)


def quantity_of(item: PayItem, record: CompletionRecord) -> Decimal:
    """Return how many units of an item an accepted record holds; 0 where it does not count."""
    if item.method and item.method != record.method_used:
        return Decimal(0)
    replaced = record.outcome == CompletionRecord.Outcome.REPLACED
    counts = {
        _Measure.LINE: replaced,
        _Measure.SYSTEM_SIDE: replaced and record.system_replaced,
        _Measure.CUSTOMER_SIDE: replaced and record.customer_replaced,
        _Measure.CONNECTOR: replaced and record.connector_replaced,
    }
    if item.measure in counts:
        return Decimal(int(counts[item.measure]))
    if item.measure == _Measure.LENGTH:
        feet = record.length_ft if replaced and record.length_ft else 0
        return Decimal(str(round(feet, 3)))
    return Decimal(int(record.outcome == item.measure))


def accepted_records(contractor: Contractor, first: date, last: date):
    """Return accepted records of work of a period whose record stands, oldest first."""
    return (
        _accepted(contractor)
        .exclude(replaced_and_taken_back())
        .filter(finished_on__range=(first, last))
        .select_related("work_order__line__premise", "review")
        .defer("quality", "findings", *_LISTS)
        .order_by("finished_on", "id")
    )


def _accepted(contractor: Contractor):
    return CompletionRecord.objects.filter(
        work_order__contractor=contractor, review__answer="ACCEPTED"
    )


def replaced_and_taken_back() -> Q:
    """Tell of a record of completion whether what it says was replaced was taken back since."""
    stands = Replacement.objects.standing(date.max).filter(completion=OuterRef("pk"))
    return Q(replacement__isnull=False) & ~Exists(stands)


def unpaid_taken_back(contractor: Contractor) -> int:
    """Return how many records are not due because of that."""
    gone = _accepted(contractor).filter(replaced_and_taken_back())
    return gone.exclude(pk__in=StatementLine.objects.values("completion")).count()


def due(contractor: Contractor, first: date, last: date) -> list[Due]:
    """Return what is due for work accepted up to now of a period and not paid yet."""
    items = list(PayItem.objects.filter(contractor=contractor).order_by("code"))
    records = list(accepted_records(contractor, first, last))
    paid = set(
        StatementLine.objects.filter(completion__in=records).values_list("completion_id", "code")
    )
    found = [
        _of_record(record, item, quantity)
        for record in records
        for item in items
        if (quantity := _unpaid(record, item, paid))
    ]
    return found + [_of_change(change) for change in _changes(contractor, last)]


def _unpaid(record: CompletionRecord, item: PayItem, paid: set) -> Decimal:
    day = record.finished_on
    valid = item.valid_from <= day and (item.valid_to is None or day < item.valid_to)
    if not valid or (record.pk, item.code) in paid:
        return Decimal(0)
    return quantity_of(item, record)


def _of_record(record: CompletionRecord, item: PayItem, quantity: Decimal) -> Due:
    amount = money(quantity * item.unit_price)
    return Due(amount, quantity, item.unit_price, item.funding, completion=record, item=item)


def _changes(contractor: Contractor, last: date) -> Iterable[ChangeOrder]:
    unpaid = Q(paid__isnull=True)
    return contractor.change_orders.filter(unpaid, approved_on__lte=last).order_by("number")


def _of_change(change: ChangeOrder) -> Due:
    return Due(change.amount, Decimal(1), change.amount, change.funding, change_order=change)
