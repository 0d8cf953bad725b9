"""Work orders: the list, one order's page, making, changing, releasing and calling one off."""

from functools import cached_property

from django.shortcuts import get_object_or_404, render

from services_inventory.given import number_given
from services_inventory.models import Neighborhood, ServiceLine
from services_inventory.today import today

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
from .scope import PLAN, OrderAct, OrderFormPage, WorkForm, WorkView

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


class OrderNewView(WorkForm):
    """An order made from a line."""

    permissions, form_class = PLAN, OrderForm
    template_name = "replacements/order_form.html"

    def thing(self):
        """Return the line that the address names."""
        given = self.request.GET.get("line") or self.request.POST.get("line") or ""
        lines = ServiceLine.objects.select_related("premise", "decision")
        return get_object_or_404(lines, pk=number_given(given, "Line to order for"))

    def first(self, line):
        return OrderForm(initial=defaults_for(line))

    def beside(self, line, form):
        return {"line": line}

    def keep(self, line, given):
        order = self.made(line, **self.signed(), **self.form.particulars())
        return self.done(f"{order.number} is made.", "work_order", order.pk)

    def made(self, line: ServiceLine, **particulars) -> WorkOrder:
        """The order that the form describes."""
        return work_order_create(line=line, **particulars)


class OrderAgainView(OrderNewView):
    """An order made in place of one that ended without a result."""

    @cached_property
    def earlier(self) -> WorkOrder:
        """The order that ended."""
        return self.order()

    def thing(self, pk):
        """Return the line of the order that ended."""
        return self.earlier.line

    def first(self, line):
        return OrderForm.again(self.earlier, defaults_for(line))

    def beside(self, line, form):
        return {"line": line, "earlier": self.earlier}

    def made(self, line, **particulars) -> WorkOrder:
        """The order that the form describes, with what is known of the ground."""
        return work_order_again(earlier=self.earlier, **particulars)


class OrderEditView(OrderFormPage):
    """Correcting an open order."""

    permissions, template_name = PLAN, "replacements/order_form.html"

    def first(self, order):
        return OrderForm.of(order)

    def filled(self, order):
        return OrderForm(self.request.POST, changing=True)

    def beside(self, order, form):
        return {"line": order.line, "order": order}

    def keep(self, order, given):
        work_order_change(work_order=order, **self.signed(), **self.form.particulars(clear=True))
        return self.done(f"{order.number} is changed.", "work_order", order.pk)


class OrderReleaseView(OrderAct):
    """Handing an order to its contractor, or saying who must do what first."""

    permissions = PLAN

    def keep(self, order, given):
        work_order_release(work_order=order, **self.signed())
        return f"{order.number} is released to {order.contractor}."

    def fault(self, error):
        self.form.add_error(None, f"Not released. {error}")


class OrderCallOffView(OrderAct):
    """Ending an order without the work."""

    permissions, form_class = PLAN, CallOffForm

    def keep(self, order, given):
        work_order_call_off(work_order=order, **given, **self.signed())
        return f"{order.number} is called off."
