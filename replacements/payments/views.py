"""The pages of payment: a manager makes statements up, the contractor reads its own."""

from datetime import timedelta
from decimal import Decimal

from django import forms
from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.forms.days import day_field
from services_inventory.queries.keyset import part_of
from services_inventory.today import today
from services_inventory.views.acts import Act

from ..completion.views import workbook
from ..domain.methods import Method
from ..models import Contractor, ContractTerms, PayItem, PaymentStatement, StatementLine
from ..views.scope import WorkView
from .disputes import is_open, may_write, note_write, standing
from .operations import (
    change_order_record,
    pay_item_record,
    retainage_held,
    statement_make,
    terms_set,
)
from .quantities import due, unpaid_taken_back
from .statements import by_funding, by_item, lines_of, statement_workbook, totals, totals_to_date

PAY = ("replacements.pay_contractors",)
LOOK = (*PAY, "replacements.do_work")
ROWS = 8
ACTS = {
    "DISPUTED": "Dispute this row",
    "ANSWERED": "Answer",
    "CLOSED": "Close the dispute",
    "UNDONE": "Take the last note back",
}


def acts_on(line: StatementLine, of_contractor: bool) -> list[tuple[str, str]]:
    """Return what a side may write on a row, each as (code, words of its button)."""
    return [(kind, ACTS[kind]) for kind in may_write(line.notes.all(), of_contractor)]


def _money(label: str, **more) -> forms.DecimalField:
    return forms.DecimalField(label=label, max_digits=12, decimal_places=2, **more)


class ItemForm(forms.Form):
    """An item and its price."""

    code = forms.CharField(label="Item", max_length=20)
    name = forms.CharField(label="Name", max_length=120)
    measure = forms.ChoiceField(label="Counts", choices=PayItem.Measure.choices)
    method = forms.ChoiceField(
        label="Only this method",
        choices=[("", "any method"), *((m.value, m.label) for m in Method)],
        required=False,
    )
    unit_price = _money("Unit price, $", min_value=0)
    funding = forms.CharField(label="Funding source", max_length=60, required=False)
    valid_from = day_field("For work from")


class TermsForm(forms.Form):
    """The retainage."""

    retainage_percent = forms.DecimalField(
        label="Kept back of each statement, %", max_digits=5, decimal_places=2, min_value=0,
        max_value=100,
    )  # fmt: skip


class ChangeForm(forms.Form):
    """A change order."""

    number = forms.CharField(label="Change order", max_length=20)
    description = forms.CharField(label="What changes", max_length=200)
    amount = _money("More (or less, below zero), $")
    approved_on = day_field("Approved on")
    funding = forms.CharField(label="Funding source", max_length=60, required=False)


class StatementForm(forms.Form):
    """The period of a statement."""

    period_from = day_field("Work finished from")
    period_to = day_field("To")
    release = _money("Release of what was kept back, $", min_value=0, required=False)


class PaymentListView(WorkView):
    """The contractors that are paid; a contractor goes straight to its own page."""

    permissions = LOOK

    def get(self, request):
        if self.company:
            return redirect("payments", self.company.pk)
        return render(
            request,
            "replacements/payment_list.html",
            {"contractors": Contractor.objects.order_by("name").values_list("id", "name")},
        )


class PaymentView(WorkView):
    """One contractor's items, change orders, what is due, and statements."""

    permissions = LOOK

    def contractor(self) -> Contractor:
        """Return the contractor of the address; another company's answers 404."""
        rows = Contractor.objects.all()
        if self.company:
            rows = rows.filter(pk=self.company.pk)
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    @property
    def may_pay(self) -> bool:
        return not self.company and self.request.user.has_perm(PAY[0])

    def get(self, request, pk):
        return self.show(self.contractor(), {})

    def show(self, contractor: Contractor, bound: dict):
        """Show the page, with a form that was sent and could not be taken."""
        day_of_page = today()
        first = day_of_page.replace(day=1)
        period = (first - timedelta(days=1)).replace(day=1), first - timedelta(days=1)
        terms = ContractTerms.objects.filter(contractor=contractor).first()
        open_lines = due(contractor, day_of_page.replace(year=day_of_page.year - 5, day=1),
                         day_of_page)  # fmt: skip
        statements = contractor.statements.prefetch_related("lines").order_by("-number")[:100]
        context = {
            "contractor": contractor,
            "may_pay": self.may_pay,
            "items": contractor.pay_items.order_by("code", "valid_from"),
            "changes": contractor.change_orders.select_related("paid__statement").order_by("id"),
            "terms": terms,
            "held": retainage_held(contractor),
            "open_total": sum((line.amount for line in open_lines), Decimal(0)),
            "open_records": len({line.completion.pk for line in open_lines if line.completion}),
            "taken_back": unpaid_taken_back(contractor),
            "statements": [(each, totals(each)) for each in statements],
            "forms": {
                "item": ItemForm(initial={"valid_from": day_of_page}),
                "terms": TermsForm(
                    initial={"retainage_percent": terms.retainage_percent if terms else 5}
                ),
                "change": ChangeForm(initial={"approved_on": day_of_page}),
                "statement": StatementForm(
                    initial={"period_from": period[0], "period_to": period[1]}
                ),
                **bound,
            },
        }
        return render(self.request, "replacements/payments.html", context)


class PaymentWriteView(Act, PaymentView):
    """Recording an item, terms, a change order or a statement."""

    permissions = PAY
    KINDS = {
        "item": (ItemForm, pay_item_record, "The item is recorded."),
        "terms": (TermsForm, terms_set, "The terms hold from the next statement on."),
        "change": (ChangeForm, change_order_record, "The change order is recorded."),
        "statement": (StatementForm, statement_make, "The statement is made up."),
    }

    def get(self, request, pk, kind):
        return redirect("payments", self.contractor().pk)

    def thing(self, pk, kind):
        return self.contractor()

    def filled(self, contractor):
        return self.KINDS[self.kwargs["kind"]][0](self.request.POST)

    def keep(self, contractor, given):
        _, operation, sentence = self.KINDS[self.kwargs["kind"]]
        said = {name: value for name, value in given.items() if value is not None}
        operation(contractor=contractor, **self.signed(), **said)
        return self.done(sentence, "payments", contractor.pk)

    def refuse(self, contractor):
        """Show what is wrong with it."""
        return self.show(contractor, {self.kwargs["kind"]: self.form})


class StatementView(WorkView):
    """One statement."""

    permissions = LOOK

    def statement(self) -> PaymentStatement:
        """Return the statement of the address; another company's answers 404."""
        rows = PaymentStatement.objects.select_related("contractor")
        if self.company:
            rows = rows.filter(contractor=self.company)
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def get(self, request, pk):
        statement = self.statement()
        lines, of_contractor = lines_of(statement), self.company is not None
        code = request.GET.get("item", "")
        shown = [line for line in lines if code in ("", line.code)]
        part, after = part_of(shown, request.GET.get("after", ""), ROWS)
        context = {
            "statement": statement,
            "code": code,
            "disputed": sum(is_open(line.notes.all()) for line in lines),
            "rows": [
                (line, standing(line.notes.all()), acts_on(line, of_contractor)) for line in part
            ],
            "after": after,
            "count": len(shown),
            "totals": totals(statement),
            "to_date": totals_to_date(statement),
            "items": by_item(lines),
            "fundings": by_funding(lines),
        }
        return render(request, "replacements/statement.html", context)


class StatementNoteView(Act, StatementView):
    """A note on a row of a statement."""

    def get(self, request, pk):
        return self.back(self.thing(pk))

    def thing(self, pk) -> StatementLine:
        """Return the row of the address; another company's answers 404."""
        rows = StatementLine.objects.select_related("statement")
        if self.company:
            rows = rows.filter(statement__contractor=self.company)
        return get_object_or_404(rows, pk=pk)

    def keep(self, line, given):
        kind, said = (self.request.POST.get(name, "") for name in ("kind", "said"))
        of_contractor = self.company is not None
        note_write(line=line, kind=kind, said=said, of_contractor=of_contractor, **self.signed())
        return "The note stands on its row."

    def back(self, line):
        return redirect("statement", line.statement_id)


class StatementWorkbookView(StatementView):
    """The statement as a workbook."""

    def get(self, request, pk):
        statement = self.statement()
        return workbook(statement_workbook(statement), f"statement-{statement.number}.xlsx")
