"""Other utilities near an order's run: recording, correcting and withdrawing one."""

from django.shortcuts import get_object_or_404

from services_inventory.forms.reasons import TakeBackForm
from services_inventory.views.acts import Act

from ..forms.ground import NearbyLineForm
from ..models import NearbyLine
from ..operations.ground import nearby_line_record, nearby_line_withdraw
from .scope import ESTIMATE, OrderFormPage


class NearbyLineNewView(OrderFormPage):
    """A line that someone saw, or found marked."""

    permissions, form_class = ESTIMATE, NearbyLineForm
    template_name = "replacements/nearby_line.html"

    def keep(self, order, given):
        self.record(order, given)
        return "The line is on record."

    def record(self, order, given, **corrected) -> None:
        """Record what the form says."""
        nearby_line_record(work_order=order, line=self.form.line(), note=given["note"],
                           **self.signed(), **corrected)  # fmt: skip

    def beside(self, order, form):
        return {"order": order}


class NearbyLineView(NearbyLineNewView):
    """Correcting a record, or taking it back."""

    @property
    def taken_back(self) -> bool:
        """Whether the record is to be taken back."""
        return "reason" in self.request.POST

    def nearby(self, order) -> NearbyLine:
        """The record that the address names."""
        return get_object_or_404(order.nearby_lines.standing(), pk=self.kwargs["line"])

    def first(self, order):
        return NearbyLineForm.of(self.nearby(order))

    def filled(self, order):
        return (TakeBackForm if self.taken_back else NearbyLineForm)(self.request.POST)

    def keep(self, order, given):
        nearby = self.nearby(order)
        if self.taken_back:
            nearby_line_withdraw(nearby=nearby, **given, **self.signed())
            return "The line is withdrawn."
        self.record(order, given, instead_of=nearby)
        return "The line is on record."

    def refuse(self, order):
        return Act.refuse(self, order) if self.taken_back else super().refuse(order)

    def beside(self, order, form):
        return {"order": order, "nearby": self.nearby(order), "withdraw_form": TakeBackForm()}
