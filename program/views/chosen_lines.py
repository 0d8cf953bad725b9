"""What may be done with the lines that filters or a shape on the map keep: orders and letters."""

from django import forms
from django.contrib import messages
from django.db.models import Count, Min
from django.shortcuts import redirect
from django.views.generic import TemplateView

from program.clock import now, today
from program.notices.forms import KINDS, PrintForm
from program.notices.printing import waiting_at
from program.views.permitted import Permitted
from replacements.models import Contractor
from replacements.operations.many_orders import MOST, orders_make
from replacements.operations.work_orders import WorkOrderError
from replacements.queries.many_orders import orderable
from services_inventory.filters import choose
from services_inventory.forms.days import day_field
from services_inventory.queries.lines import Survey, neighborhood_names
from services_inventory.views.lines import told

ORDER, WRITE = "replacements.plan_work", "program.send_notices"


class OrdersForm(forms.Form):
    """Whose orders, in which package, due when."""

    contractor = forms.ModelChoiceField(Contractor.objects.filter(active=True).order_by("name"))
    name = forms.CharField(label="Name of the package", max_length=120)
    due_on = day_field("Due on")


class ChosenLinesView(Permitted, TemplateView):
    """The lines that the address keeps, and what can be done with them, counted beforehand."""

    template_name = "program/chosen_lines.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give what can be ordered and which letters wait, for those who may."""
        chosen, user = choose(self.request.GET), self.request.user
        may_order, may_write = user.has_perm(ORDER), user.has_perm(WRITE)
        letters = PrintForm(initial={"due_by": today(), "languages": ["en"]})
        return super().get_context_data(
            **told(Survey(chosen), neighborhood_names(), in_full=True),
            chosen=chosen,
            state=chosen.address(),
            unknown_state=chosen.address(category="UNKNOWN"),
            most=MOST,
            can=orderable(chosen.condition()) if may_order else None,
            form=self.form or OrdersForm(),
            waiting=_letters(chosen) if may_write else None,
            letters=letters,
            **kwargs,
        )


def _letters(chosen) -> list[dict]:
    rows = waiting_at(chosen.condition()).values("kind").order_by("kind")
    counted = rows.annotate(number=Count("id"), due=Min("due_on"))
    return [{**row, "label": dict(KINDS)[row["kind"]]} for row in counted]


class ChosenOrdersView(ChosenLinesView):
    """Make the orders in a package of their own, which its page can call off again."""

    permission_required = ORDER
    http_method_names = ("post",)

    def post(self, request):
        """Make them and go to the package, or say in the form why not."""
        self.form, chosen = OrdersForm(request.POST), choose(request.GET)
        if self.form.is_valid():
            try:
                made = orders_make(
                    lines=chosen.condition(), by=request.user.get_username(), at=now(),
                    **self.form.cleaned_data,
                )  # fmt: skip
            except WorkOrderError as error:
                self.form.add_error(None, str(error))
            else:
                many = "order" if made.orders == 1 else "orders"
                messages.success(request, f"{made.orders:,} planned {many} made.")
                for problem in made.problems[:10]:
                    messages.warning(request, problem)
                return redirect("package", made.package.pk)
        return self.render_to_response(self.get_context_data(), status=422)
