"""What may be done with the lines that filters or a shape on the map keep: orders and letters."""

from django import forms
from django.contrib import messages
from django.db.models import Count, Min
from django.shortcuts import redirect
from django.urls import reverse
from django.views.generic import TemplateView

from program.clock import today
from program.notices.forms import KINDS, PrintForm
from program.notices.printing import waiting_at
from program.views.permitted import Permitted
from replacements.models import Contractor
from replacements.operations.many_orders import MOST, orders_make
from replacements.queries.many_orders import orderable
from services_inventory.filters import choose
from services_inventory.forms.days import day_field
from services_inventory.forms.reasons import TakeBackForm
from services_inventory.operations.inspections import (
    inspections_order,
    inspections_take_back,
    ordered,
    unordered,
)
from services_inventory.queries.lines import Survey, neighborhood_names
from services_inventory.views.acts import Act, PageAct
from services_inventory.views.inspections import InspectionForm
from services_inventory.views.lines import told

ORDER, WRITE = "replacements.plan_work", "program.send_notices"
LOOK = "services_inventory.record_evidence"


class OrdersForm(forms.Form):
    """Whose orders, in which package, due when."""

    contractor = forms.ModelChoiceField(Contractor.objects.filter(active=True).order_by("name"))
    name = forms.CharField(label="Name of the package", max_length=120)
    due_on = day_field("Due on")


class ChosenLinesView(Permitted, TemplateView):
    """The lines that the address keeps, and what can be done with them, counted beforehand."""

    template_name = "program/chosen_lines.html"
    order_form = look_form = None

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
            waiting_state=chosen.address(inspection="waiting"),
            most=MOST,
            can=orderable(chosen.condition()) if may_order else None,
            form=self.order_form or OrdersForm(),
            to_look=unordered(chosen.condition()).count() if user.has_perm(LOOK) else None,
            looks=ordered(chosen.condition()).count() if user.has_perm(LOOK) else 0,
            look_form=self.look_form or InspectionForm(),
            waiting=_letters(chosen) if may_write else None,
            letters=letters,
            **kwargs,
        )


def _letters(chosen) -> list[dict]:
    rows = waiting_at(chosen.condition()).values("kind").order_by("kind")
    counted = rows.annotate(number=Count("id"), due=Min("due_on"))
    return [{**row, "label": dict(KINDS)[row["kind"]]} for row in counted]


class ChosenOrdersView(PageAct, ChosenLinesView):
    """Make the orders in a package of their own, which its page can call off again."""

    permission_required, form_class, shown_as = ORDER, OrdersForm, "order_form"
    http_method_names = ("post",)

    def keep(self, thing, given):
        chosen = choose(self.request.GET).condition()
        made = orders_make(lines=chosen, **given, **self.signed())
        many = "order" if made.orders == 1 else "orders"
        for problem in made.problems[:10]:
            messages.warning(self.request, problem)
        return self.done(f"{made.orders:,} planned {many} made.", "package", made.package.pk)


class ChosenInspectionsView(PageAct, ChosenLinesView):
    """Order an inspection of each unknown line, and go to the list of those that wait."""

    permission_required, form_class, shown_as = LOOK, InspectionForm, "look_form"
    http_method_names = ("post",)

    def keep(self, thing, given):
        chosen = choose(self.request.GET)
        told = inspections_order(chosen=chosen.condition(), **given, **self.signed())
        waiting = chosen.address(inspection="waiting")
        return self.done(told, f"{reverse('line_list')}?{waiting}")


class ChosenInspectionsBackView(Permitted, Act):
    """Take back every inspection that waits at these lines: the wrong ones were chosen."""

    permission_required, form_class = LOOK, TakeBackForm

    def keep(self, thing, given):
        return inspections_take_back(
            chosen=choose(self.request.GET).condition(), **given, **self.signed()
        )

    def back(self, thing):
        return redirect(f"{reverse('chosen_lines')}?{self.request.GET.urlencode()}#inspections")
