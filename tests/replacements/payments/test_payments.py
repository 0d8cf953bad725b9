"""Payment: quantities from accepted records only, each once, by database; sums to the cent."""

from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from django.db import IntegrityError, transaction
from openpyxl import load_workbook

from replacements.models import PaymentStatement, StatementLine
from replacements.operations.completions import completion_accept, completion_return
from replacements.payments.operations import (
    change_order_record,
    pay_item_record,
    retainage_held,
    statement_make,
    terms_set,
)
from replacements.payments.quantities import due, unpaid_taken_back
from replacements.payments.statements import (
    by_funding,
    lines_of,
    statement_workbook,
    totals,
    totals_to_date,
)
from services_inventory.models import Evidence
from services_inventory.operations.evidence import evidence_withdraw
from services_inventory.refused import Refused
from tests.replacements.factories import REVIEW, contractor, handed_in, order, user

pytestmark = pytest.mark.django_db
APRIL = (date(2028, 4, 1), date(2028, 4, 30))
WHO = {"by": "manager", "at": REVIEW}


@pytest.fixture
def company(db):
    return contractor()


def items(company):
    """Record two prices: a length and each customer side by another purse."""
    start = date(2028, 1, 1)
    pay_item_record(
        contractor=company, code="pull", name="New pipe pulled in", measure="LENGTH",
        unit_price=Decimal("41.35"), valid_from=start, funding="State fund", **WHO,
    )  # fmt: skip
    pay_item_record(
        contractor=company, code="CUST", name="Customer side", measure="CUSTOMER_SIDE",
        unit_price=Decimal("500"), valid_from=start, funding="Utility", **WHO,
    )  # fmt: skip


def accepted(company, **changed):
    """Return an accepted record of 35 ft, both sides replaced."""
    record = handed_in(order(company), **changed)
    completion_accept(completion=record, by="reviewer", at=REVIEW)
    return record


def test_only_accepted_records_are_due_and_by_what_they_hold(company):
    items(company)
    accepted(company, length_ft=35.5)
    returned, waiting = handed_in(order(company)), handed_in(order(company))
    completion_return(completion=returned, by="reviewer", at=REVIEW, reasons="Photo is dark.")
    lines = due(company, *APRIL)
    assert {line.completion.work_order_id for line in lines}.isdisjoint(
        {returned.work_order_id, waiting.work_order_id}
    )
    # 35.5 ft x 41.35 = 1,467.925, half a cent up; one customer side x 500.
    assert {line.item.code: (line.quantity, line.amount) for line in lines} == {
        "PULL": (Decimal("35.5"), Decimal("1467.93")),
        "CUST": (Decimal(1), Decimal("500.00")),
    }


def test_nothing_is_paid_twice_not_even_past_the_program(company):
    items(company)
    accepted(company)
    first = statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1], **WHO)
    with pytest.raises(Refused, match="Nothing is due"):
        statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1], **WHO)
    line = first.lines.first()
    with pytest.raises(IntegrityError), transaction.atomic():
        StatementLine.objects.create(
            statement=first, completion=line.completion, item=line.item, code=line.code,
            quantity=1, unit_price=1, amount=1,
        )  # fmt: skip
    assert PaymentStatement.objects.count() == 1


def test_a_price_dated_back_does_not_pay_the_same_work_again(company):
    items(company)
    record = accepted(company)
    paid = statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1], **WHO)
    dearer = {
        "contractor": company, "code": "pull", "name": "New pipe pulled in", "measure": "LENGTH",
        "unit_price": Decimal("50"), **WHO,
    }  # fmt: skip
    with pytest.raises(Refused, match="paid for work up to Apr 10, 2028"):
        pay_item_record(valid_from=record.finished_on, **dearer)
    later = pay_item_record(valid_from=date(2028, 4, 11), **dearer)
    with pytest.raises(IntegrityError), transaction.atomic():
        StatementLine.objects.create(
            statement=paid, completion=record, item=later, code=later.code, quantity=1,
            unit_price=50, amount=50,
        )  # fmt: skip
    assert due(company, *APRIL) == []


def test_retainage_change_orders_and_release_add_up_to_date(company):
    items(company)
    terms_set(contractor=company, retainage_percent=Decimal("7.5"), **WHO)
    accepted(company)
    change_order_record(
        contractor=company, number="CO-1", description="Rock at Kiln Lane", amount=Decimal("250"),
        approved_on=date(2028, 4, 20), **WHO,
    )  # fmt: skip
    one = statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1], **WHO)
    # 35 ft x 41.35 = 1,447.25; + 500 + 250 = 2,197.25; 7.5 % of it is 164.79 (164.79375).
    assert (totals(one).work, totals(one).retained) == (Decimal("2197.25"), Decimal("164.79"))
    assert totals(one).payable == Decimal("2032.46")
    assert retainage_held(company) == Decimal("164.79")
    accepted(company)
    with pytest.raises(Refused, match="cannot be released"):
        statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1],
                       release=Decimal("164.80"), **WHO)  # fmt: skip
    two = statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1],
                         release=Decimal("100"), **WHO)  # fmt: skip
    to_date = totals_to_date(two)
    # 1,947.25 more; 146.04 (146.04375) kept back; 100 released.
    assert to_date.work == Decimal("4144.50")
    assert to_date.retained == Decimal("310.83")
    assert to_date.payable == Decimal("3933.67")
    assert retainage_held(company) == Decimal("210.83")
    assert {row["funding"]: row["amount"] for row in by_funding(lines_of(one))} == {
        "State fund": Decimal("1447.25"), "Utility": Decimal("500.00"),
        "not stated": Decimal("250.00"),
    }  # fmt: skip


def test_a_new_price_holds_from_its_day_and_a_method_can_have_its_own(company):
    items(company)
    pay_item_record(
        contractor=company, code="PULL", name="New pipe pulled in", measure="LENGTH",
        unit_price=Decimal("50"), valid_from=date(2028, 4, 10), **WHO,
    )  # fmt: skip
    pay_item_record(
        contractor=company, code="CUT", name="Open cut", measure="LINE", method="OPEN_CUT",
        unit_price=Decimal("3000"), valid_from=date(2028, 1, 1), **WHO,
    )  # fmt: skip
    before = accepted(company, finished_on=date(2028, 4, 9))
    on_day = accepted(company, finished_on=date(2028, 4, 10), method_used="OPEN_CUT")
    prices = {
        (line.completion.pk, line.item.code): line.unit_price for line in due(company, *APRIL)
    }
    assert prices[(before.pk, "PULL")] == Decimal("41.35")
    assert prices[(on_day.pk, "PULL")] == Decimal("50")
    assert (before.pk, "CUT") not in prices
    assert prices[(on_day.pk, "CUT")] == Decimal("3000")
    with pytest.raises(Refused, match="already"):
        pay_item_record(
            contractor=company, code="PULL", name="x", measure="LENGTH",
            unit_price=Decimal("1"), valid_from=date(2028, 4, 1), **WHO,
        )  # fmt: skip


def test_the_workbook_holds_the_same_sums_as_the_statement(company):
    items(company)
    terms_set(contractor=company, retainage_percent=Decimal("5"), **WHO)
    for _ in range(2):
        accepted(company)
    made = statement_make(contractor=company, period_from=APRIL[0], period_to=APRIL[1], **WHO)
    book = load_workbook(BytesIO(statement_workbook(made)))
    summary = {row[0].value: row[1].value for row in book["Statement"]["A7:B10"]}
    assert summary["Payable"] == pytest.approx(float(totals(made).payable))
    records = list(book["Records"].iter_rows(min_row=2, values_only=True))
    assert sum(row[8] for row in records) == pytest.approx(float(totals(made).work))
    assert len(records) == 4


def test_a_manager_writes_a_contractor_reads_its_own_others_find_nothing(client, company):
    accepted(company)
    address = f"/work/payments/{company.pk}/"
    client.force_login(user("manager", "Program manager"))
    sent = {"code": "PULL", "name": "Pipe", "measure": "LENGTH", "unit_price": "40",
            "valid_from": "2028-01-01"}  # fmt: skip
    assert client.post(f"{address}item/", sent).status_code == 302
    assert client.post(f"{address}terms/", {"retainage_percent": "5"}).status_code == 302
    bad = client.post(f"{address}statement/", {"period_from": "2028-05-01",
                                               "period_to": "2028-04-01"})  # fmt: skip
    assert "ends before it begins" in bad.content.decode()
    client.post(f"{address}statement/", {"period_from": "2028-04-01", "period_to": "2028-04-30"})
    statement = PaymentStatement.objects.get()
    pages = (address, f"/work/statements/{statement.pk}/",
             f"/work/statements/{statement.pk}/statement.xlsx")  # fmt: skip
    assert [client.get(page).status_code for page in pages] == [200, 200, 200]
    client.force_login(user("crew", "Contractor", company))
    assert [client.get(page).status_code for page in pages] == [200, 200, 200]
    assert "Make up a statement" not in client.get(address).content.decode()
    assert client.post(f"{address}item/", sent).status_code == 403
    client.force_login(user("rival", "Contractor", contractor()))
    assert [client.get(page).status_code for page in pages] == [404, 404, 404]
    client.force_login(user("compliance", "Compliance staff"))
    assert client.get(address).status_code == 403


def test_work_whose_record_was_taken_back_is_not_due_and_said(company):
    items(company)
    record = accepted(company, length_ft=35.5)
    assert due(company, *APRIL)
    for row in Evidence.objects.filter(line=record.work_order.line, basis="REPLACEMENT"):
        evidence_withdraw(
            evidence=row, by="manager", recorded_at=REVIEW, reason="It was 14", never_true=True
        )
    assert due(company, *APRIL) == []
    assert unpaid_taken_back(company) == 1
