"""A statement as figures and as a workbook: by item, record and funding, now and to date."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO

from ..models import PaymentStatement, StatementLine
from .disputes import standing
from .operations import retained

NO_FUNDING = "not stated"


@dataclass(frozen=True)
class Totals:
    """Sums of one statement, or of all up to it."""

    work: Decimal
    retained: Decimal
    released: Decimal

    @property
    def payable(self) -> Decimal:
        """What is paid out."""
        return self.work - self.retained + self.released


def totals(statement: PaymentStatement) -> Totals:
    """Return the sums of one statement."""
    work = sum((line.amount for line in statement.lines.all()), Decimal(0))
    return Totals(work, retained(work, statement.retainage_percent), statement.retainage_released)


def totals_to_date(statement: PaymentStatement) -> Totals:
    """Return the sums of the contractor's statements up to and with this one."""
    earlier = PaymentStatement.objects.filter(
        contractor_id=statement.contractor_id, number__lte=statement.number
    ).prefetch_related("lines")
    parts = [totals(each) for each in earlier]
    return Totals(
        sum((part.work for part in parts), Decimal(0)),
        sum((part.retained for part in parts), Decimal(0)),
        sum((part.released for part in parts), Decimal(0)),
    )


def by_item(lines) -> list[dict]:
    """Return quantity and amount of each item at each price, then of each change order."""
    sums: dict = defaultdict(lambda: [Decimal(0), Decimal(0)])
    for line in lines:
        if line.item is not None:
            key = (line.item.code, line.item.name, line.item.unit, line.unit_price)
        else:
            change = line.change_order
            key = (change.number, change.description, "change order", line.unit_price)
        sums[key][0] += line.quantity
        sums[key][1] += line.amount
    return [
        {"code": code, "name": name, "unit": unit, "price": price, "quantity": q, "amount": a}
        for (code, name, unit, price), (q, a) in sums.items()
    ]


def by_funding(lines) -> list[dict]:
    """Return the amount of each funding source."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for line in lines:
        sums[line.funding or NO_FUNDING] += line.amount
    return [{"funding": name, "amount": amount} for name, amount in sorted(sums.items())]


def lines_of(statement: PaymentStatement) -> list[StatementLine]:
    """Return the lines with what they speak of."""
    rows = statement.lines.select_related(
        "item", "change_order", "completion__work_order__line__premise"
    ).prefetch_related("notes", "completion__photos")
    return list(rows.order_by("completion__finished_on", "completion_id", "item__code", "id"))


def statement_workbook(statement: PaymentStatement) -> bytes:
    """Return the statement as a workbook: summary, items, records."""
    import xlsxwriter

    buffer = BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(buffer, options)
    looks = {
        "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True}),
        "money": book.add_format({"num_format": "#,##0.00"}),
        "amount": book.add_format({"num_format": "#,##0.###"}),
        "day": book.add_format({"num_format": "yyyy-mm-dd", "align": "left"}),
        "bold": book.add_format({"bold": True, "num_format": "#,##0.00"}),
    }
    lines = lines_of(statement)
    _summary(book, looks, statement, lines)
    _items(book, looks, lines)
    _records(book, looks, lines)
    book.close()
    return buffer.getvalue()


def _summary(book, looks, statement: PaymentStatement, lines) -> None:
    sheet = book.add_worksheet("Statement")
    sheet.set_column(0, 0, 44)
    sheet.set_column(1, 2, 18)
    now, to_date = totals(statement), totals_to_date(statement)
    sheet.write_row(0, 0, [f"Statement {statement.number}", statement.contractor.name],
                    looks["head"])  # fmt: skip
    sheet.write_row(1, 0, ["Work finished from", str(statement.period_from)])
    sheet.write_row(2, 0, ["to", str(statement.period_to)])
    sheet.write_row(3, 0, ["Made up", f"{statement.made_at:%Y-%m-%d} by {statement.made_by}"])
    sheet.write_row(5, 0, ["", "This statement, $", "To date, $"], looks["head"])
    percent = f"{statement.retainage_percent:g}% of {now.work:,.2f}"
    for row, (name, one, two) in enumerate(
        [
            ("Accepted work and change orders", now.work, to_date.work),
            (f"Kept back ({percent} on this one)", -now.retained, -to_date.retained),
            ("Released of what was kept back", now.released, to_date.released),
        ],
        start=6,
    ):
        sheet.write(row, 0, name)
        sheet.write_number(row, 1, one, looks["money"])
        sheet.write_number(row, 2, two, looks["money"])
    sheet.write(9, 0, "Payable", looks["bold"])
    sheet.write_number(9, 1, now.payable, looks["bold"])
    sheet.write_number(9, 2, to_date.payable, looks["bold"])
    sheet.write_row(11, 0, ["Funding source", "This statement, $"], looks["head"])
    for row, part in enumerate(by_funding(lines), start=12):
        sheet.write(row, 0, part["funding"])
        sheet.write_number(row, 1, part["amount"], looks["money"])


def _items(book, looks, lines) -> None:
    sheet = book.add_worksheet("Items")
    sheet.set_column(0, 0, 12)
    sheet.set_column(1, 1, 40)
    sheet.set_column(2, 5, 16)
    heads = ["Item", "Name", "Unit", "Quantity", "Unit price, $", "Amount, $"]
    sheet.write_row(0, 0, heads, looks["head"])
    for row, part in enumerate(by_item(lines), start=1):
        sheet.write_row(row, 0, [part["code"], part["name"], part["unit"]])
        sheet.write_number(row, 3, part["quantity"], looks["amount"])
        sheet.write_number(row, 4, part["price"], looks["money"])
        sheet.write_number(row, 5, part["amount"], looks["money"])


def _records(book, looks, lines) -> None:
    sheet = book.add_worksheet("Records")
    sheet.set_column(0, 10, 16)
    heads = ["Work order", "Address", "Revision", "Finished on", "Item", "Unit", "Quantity",
             "Unit price, $", "Amount, $", "Funding", "Disputed"]  # fmt: skip
    sheet.write_row(0, 0, heads, looks["head"])
    done = [line for line in lines if line.completion is not None]
    for row, line in enumerate(done, start=1):
        record, order = line.completion, line.completion.work_order
        sheet.write_row(row, 0, [order.number, order.line.premise.address, record.revision])
        sheet.write_datetime(row, 3, record.finished_on, looks["day"])
        sheet.write_row(row, 4, [line.item.code, line.item.unit])
        sheet.write_number(row, 6, line.quantity, looks["amount"])
        sheet.write_number(row, 7, line.unit_price, looks["money"])
        sheet.write_number(row, 8, line.amount, looks["money"])
        sheet.write(row, 9, line.funding)
        sheet.write(row, 10, "; ".join(str(note) for note in standing(line.notes.all())))
