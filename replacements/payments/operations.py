"""Writes of payment: items, terms, change orders, and the statement that is never recomputed."""

from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.db.models import Max, Sum

from services_inventory.domain.days import day_told
from services_inventory.refused import Refused

from ..domain.methods import Method
from ..models import (
    ChangeOrder,
    Contractor,
    ContractTerms,
    PayItem,
    PaymentStatement,
    StatementLine,
)
from .quantities import due, money


def pay_item_record(
    *,
    contractor: Contractor,
    code: str,
    name: str,
    measure: str,
    unit_price: Decimal,
    valid_from: date,
    by: str,
    at: datetime,
    method: str = "",
    funding: str = "",
) -> PayItem:
    """Record an item; a price of a later day ends the item's earlier price on that day.

    Raises
    ------
    Refused: a measure or method is not known, the item has a price from that day or a later one, or
        work of that day was paid at the earlier price.
    """
    if measure not in PayItem.Measure.values:
        raise Refused(f"An item counts one of {', '.join(PayItem.Measure.values)}.")
    if method and method not in set(Method):
        raise Refused(f"There is no method {method!r}; choose {', '.join(Method)}.")
    code = code.strip().upper()
    with transaction.atomic():
        same = PayItem.objects.filter(contractor=contractor, code=code)
        if same.filter(valid_from__gte=valid_from).exists():
            raise Refused(f"{code} has a price from {valid_from} or a later day already.")
        _refuse_paid_days(contractor, code, valid_from)
        same.filter(valid_to=None).update(valid_to=valid_from)
        return PayItem.objects.create(
            contractor=contractor,
            code=code,
            name=name.strip(),
            unit="ft" if measure == PayItem.Measure.LENGTH else "each",
            measure=measure,
            method=method,
            unit_price=unit_price,
            funding=funding.strip(),
            valid_from=valid_from,
            recorded_by=by,
            recorded_at=at,
        )


def _refuse_paid_days(contractor: Contractor, code: str, valid_from: date) -> None:
    paid = StatementLine.objects.filter(
        item__contractor=contractor, item__code=code, completion__finished_on__gte=valid_from
    )
    last = paid.aggregate(last=Max("completion__finished_on"))["last"]
    if last:
        raise Refused(
            f"{code} is paid for work up to {day_told(last)} already. Let the new price begin "
            "after that day, and settle the difference by a change order."
        )


def terms_set(*, contractor: Contractor, retainage_percent: Decimal, by: str, at: datetime):
    """Set the share of each later statement that is kept back.

    Raises
    ------
    Refused: it is not between 0 and 100.
    """
    if not 0 <= retainage_percent <= 100:
        raise Refused("The retainage is a percentage from 0 to 100.")
    return ContractTerms.objects.update_or_create(
        contractor=contractor,
        defaults={"retainage_percent": retainage_percent, "changed_by": by, "changed_at": at},
    )[0]


def change_order_record(
    *,
    contractor: Contractor,
    number: str,
    description: str,
    amount: Decimal,
    approved_on: date,
    by: str,
    at: datetime,
    funding: str = "",
) -> ChangeOrder:
    """Record an agreed change of the sum, more or less.

    Raises
    ------
    Refused: the number was used, nothing is described, or the sum does not change.
    """
    if not description.strip() or not amount:
        raise Refused("Say what changes, and by how much.")
    try:
        with transaction.atomic():
            return ChangeOrder.objects.create(
                contractor=contractor,
                number=number.strip(),
                description=description.strip(),
                amount=amount,
                funding=funding.strip(),
                approved_on=approved_on,
                approved_by=by,
                recorded_at=at,
            )
    except IntegrityError as error:
        raise Refused(f"There is a change order {number} already.") from error


def retainage_held(contractor: Contractor) -> Decimal:
    """Return what was kept back so far and not released."""
    held = Decimal(0)
    for statement in contractor.statements.annotate(sum=Sum("lines__amount")):
        held += retained(statement.sum or Decimal(0), statement.retainage_percent)
        held -= statement.retainage_released
    return held


def retained(total: Decimal, percent: Decimal) -> Decimal:
    """Return what is kept back of a statement's total; nothing of a total below zero."""
    return money(max(total, Decimal(0)) * percent / 100)


def statement_make(
    *,
    contractor: Contractor,
    period_from: date,
    period_to: date,
    by: str,
    at: datetime,
    release: Decimal = Decimal(0),
) -> PaymentStatement:
    """Make up the statement of a period from accepted work that is not paid yet.

    Parameters
    ----------
    release : part of what was kept back before that is paid out now

    Raises
    ------
    Refused: the period ends before it begins, nothing is due, more is released than is held, or
        somebody made up a statement of the same work at the same moment.
    """
    if period_to < period_from:
        raise Refused("The period ends before it begins.")
    try:
        with transaction.atomic():
            return _make(contractor, period_from, period_to, by, at, release)
    except IntegrityError as error:
        raise Refused(
            "Somebody made up a statement at the same moment; nothing is paid twice. Look again."
        ) from error


def _make(contractor, period_from, period_to, by, at, release: Decimal) -> PaymentStatement:
    contractor = Contractor.objects.select_for_update().get(pk=contractor.pk)
    held = retainage_held(contractor)
    if not 0 <= release <= held:
        raise Refused(f"{held:,.2f} is held back; {release:,.2f} cannot be released.")
    lines = due(contractor, period_from, period_to)
    if not lines and not release:
        raise Refused("Nothing is due: no accepted work of this period is unpaid.")
    terms = ContractTerms.objects.filter(contractor=contractor).first()
    last = contractor.statements.aggregate(last=Max("number"))["last"]
    statement = PaymentStatement.objects.create(
        contractor=contractor,
        number=(last or 0) + 1,
        period_from=period_from,
        period_to=period_to,
        retainage_percent=terms.retainage_percent if terms else 0,
        retainage_released=release,
        made_by=by,
        made_at=at,
    )
    StatementLine.objects.bulk_create(
        [
            StatementLine(
                statement=statement,
                completion=line.completion,
                item=line.item,
                code=line.item.code if line.item else "",
                change_order=line.change_order,
                quantity=line.quantity,
                unit_price=line.unit_price,
                amount=line.amount,
                funding=line.funding,
            )
            for line in lines
        ],
        batch_size=500,
    )
    return statement
