"""Work orders: the list, one order's page, making, changing, releasing and calling one off."""

from functools import cached_property

from django.shortcuts import get_object_or_404, render

from services_inventory.given import number_given
from services_inventory.models import Neighborhood, ServiceLine
from services_inventory.today import now, today

from ..domain.methods import is_pulled
from ..forms.access import (
    AppointmentCloseForm,
    AppointmentForm,
    AttemptForm,
    ConsentForm,
    PersonForm,
)
from ..forms.orders import CallOffForm, OrderForm
from ..forms.pulls import EstimateForm
from ..models import Contractor, WorkOrder
from ..operations.replanning import work_order_again
from ..operations.work_orders import (
    WorkOrderError,
    defaults_for,
    work_order_call_off,
    work_order_change,
    work_order_create,
    work_order_release,
)
from ..queries.access import consent_state
from ..queries.estimate_told import estimate_shown
from ..queries.gate import latest_estimate, latest_string, start_shown
from ..queries.order_history import order_history
from ..queries.order_list import may_plan_again, order_page, orders_filtered, state_counts
from ..queries.order_page import (
    advice_shown,
    completion_shown,
    ground_shown,
    pipes_shown,
    pull_shown,
    standing_and_withdrawn,
    string_shown,
    unlogged_shown,
)
from ..queries.order_path import order_path
from ..queries.readiness import order_blocks
from ..queries.together import rows_of, together
from ..queries.visits import access_page
from .scope import PLAN, WorkView

FILTERS = ("state", "contractor", "neighborhood", "number")


class OrderListView(WorkView):
    """Orders within the user's scope, with filters."""

    def get(self, request):
        chosen = {name: request.GET.get(name, "") for name in FILTERS}
        page = order_page(orders_filtered(request.user, **chosen), request.GET.get("before", ""))
        context = {
            "page": page,
            "chosen": chosen,
            "states": state_counts(request.user),
            "company": self.company,
            "neighborhoods": Neighborhood.objects.order_by("name").values_list("id", "name"),
        }
        if not self.company:
            context["contractors"] = Contractor.objects.order_by("name").values_list("id", "name")
        return render(request, "replacements/order_list.html", context)


class OrderView(WorkView):
    """One order with everything known of its pull."""

    def get(self, request, pk):
        with together([self.order()]) as (order,):
            context = order_context(order, today()) | access_page(order.line, self.company)
            return render(request, "replacements/order.html", context)


def order_context(order: WorkOrder, day) -> dict:
    """Return what an order's page shows on a day."""
    logs = order.pulls.select_related("log").prefetch_related("explanations").order_by("-id")
    pulls, withdrawn = standing_and_withdrawn(logs)
    estimate = latest_estimate(order)
    completions = rows_of(order, "completions", "review")[::-1]
    shown = {
        "order": order,
        "pipes": pipes_shown(order),
        "consent": consent_state(order.line, day),
        "ground": ground_shown(order, day),
        "advice": advice_shown(order, day, estimate.verdict if estimate else ""),
        "string": string_shown(order, latest_string(order), day),
        "estimate": estimate_shown(estimate, pulls[0] if pulls else None),
        "pulls": [pull_shown(pull) for pull in pulls],
        "unlogged": unlogged_shown(order),
        "pulled": is_pulled(order.method),
        "withdrawn_pulls": withdrawn,
        "completions": [completion_shown(record, day) for record in completions],
        "history": order_history(order, order.changes.order_by("id"), pulls + withdrawn),
        **start_shown(order, day),
        "blocks": order_blocks(order, day) if order.state == "PLANNED" else [],
        "may_plan_again": may_plan_again(order),
        "estimate_form": EstimateForm.of(order, estimate),
        **_order_forms(),
    }
    return shown | {"path": order_path(order, shown)}


def _order_forms() -> dict:
    """Return the empty forms that stand on an order's page."""
    return {
        "attempt_form": AttemptForm(auto_id="attempt_%s"),
        "consent_form": ConsentForm(auto_id="consent_%s"),
        "appointment_form": AppointmentForm(auto_id="appointment_%s"),
        "close_form": AppointmentCloseForm(auto_id=False),
        "person_form": PersonForm(auto_id="person_%s"),
        "call_off_form": CallOffForm(),
    }


class OrderNewView(WorkView):
    """An order made from a line."""

    permissions = PLAN

    def line(self) -> ServiceLine:
        """The line that the address names."""
        given = self.request.GET.get("line") or self.request.POST.get("line") or ""
        lines = ServiceLine.objects.select_related("premise", "decision")
        return get_object_or_404(lines, pk=number_given(given, "Line to order for"))

    def get(self, request):
        line = self.line()
        return self._show(line, OrderForm(initial=defaults_for(line)))

    def post(self, request):
        line, form = self.line(), OrderForm(request.POST)
        if form.is_valid():
            try:
                order = self.made(line, form.particulars())
                return self.done(f"{order.number} is made.", "work_order", order.pk)
            except WorkOrderError as error:
                form.add_error(None, str(error))
        return self._show(line, form)

    def made(self, line: ServiceLine, particulars: dict) -> WorkOrder:
        """The order that the form describes."""
        return work_order_create(line=line, by=self.by, at=now(), **particulars)

    def _show(self, line: ServiceLine, form: OrderForm, **more):
        context = {"form": form, "line": line, **more}
        return render(self.request, "replacements/order_form.html", context)


class OrderAgainView(OrderNewView):
    """An order made in place of one that ended without a result."""

    @cached_property
    def earlier(self) -> WorkOrder:
        """The order that ended."""
        return self.order()

    def line(self) -> ServiceLine:
        """The line of the order that ended."""
        return self.earlier.line

    def get(self, request, pk):
        form = OrderForm.again(self.earlier, defaults_for(self.line()))
        return self._show(self.line(), form, earlier=self.earlier)

    def post(self, request, pk):
        return super().post(request)

    def made(self, line: ServiceLine, particulars: dict) -> WorkOrder:
        """The order that the form describes, with what is known of the ground."""
        return work_order_again(earlier=self.earlier, by=self.by, at=now(), **particulars)


class OrderEditView(WorkView):
    """Correcting an open order."""

    permissions = PLAN

    def get(self, request, pk):
        order = self.order()
        return self._show(order, OrderForm.of(order))

    def post(self, request, pk):
        order, form = self.order(), OrderForm(request.POST, changing=True)
        if form.is_valid():
            try:
                work_order_change(
                    work_order=order, by=self.by, at=now(), **form.particulars(clear=True)
                )
                return self.done(f"{order.number} is changed.", "work_order", order.pk)
            except WorkOrderError as error:
                form.add_error(None, str(error))
        return self._show(order, form)

    def _show(self, order: WorkOrder, form: OrderForm):
        context = {"form": form, "line": order.line, "order": order}
        return render(self.request, "replacements/order_form.html", context)


class OrderReleaseView(WorkView):
    """Handing an order to its contractor."""

    permissions = PLAN

    def post(self, request, pk):
        """Release the order, or say who must do what first."""
        order = self.order()
        try:
            work_order_release(work_order=order, by=self.by, at=now())
        except WorkOrderError as error:
            return self.refused(f"Not released. {error}", "work_order", pk)
        return self.done(f"{order.number} is released to {order.contractor}.", "work_order", pk)


class OrderCallOffView(WorkView):
    """Ending an order without the work."""

    permissions = PLAN

    def post(self, request, pk):
        order, form = self.order(), CallOffForm(request.POST)
        reason = form.cleaned_data["reason"] if form.is_valid() else ""
        try:
            work_order_call_off(work_order=order, by=self.by, at=now(), reason=reason)
        except WorkOrderError as error:
            return self.refused(str(error), "work_order", pk)
        return self.done(f"{order.number} is called off.", "work_order", pk)
