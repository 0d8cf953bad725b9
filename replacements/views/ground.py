"""Other utilities near an order's run: recording, correcting and withdrawing one."""

from django.shortcuts import get_object_or_404, render

from services_inventory.refused import Refused
from services_inventory.today import now

from ..forms.ground import NearbyLineForm, WithdrawLineForm
from ..models import NearbyLine
from ..operations.ground import nearby_line_record, nearby_line_withdraw
from .scope import ESTIMATE, WorkView


class NearbyLineNewView(WorkView):
    """A line that someone saw, or found marked."""

    permissions = ESTIMATE

    def get(self, request, pk):
        return self._show(self.order(), NearbyLineForm())

    def post(self, request, pk):
        order, form = self.order(), NearbyLineForm(request.POST)
        return self._kept(order, form) or self._show(order, form)

    def _kept(self, order, form, instead_of=None):
        """Keep what the form says; None, with the reason on the form, where it cannot be."""
        if not form.is_valid():
            return None
        try:
            nearby_line_record(work_order=order, line=form.line(), note=form.cleaned_data["note"],
                               by=self.by, at=now(), instead_of=instead_of)  # fmt: skip
        except Refused as error:
            form.add_error(None, str(error))
            return None
        return self.done("The line is on record.", "work_order", order.pk)

    def _show(self, order, form, **more):
        context = {"order": order, "form": form, **more}
        return render(self.request, "replacements/nearby_line.html", context)


class NearbyLineView(NearbyLineNewView):
    """Correcting a record, or taking it back."""

    def nearby(self, order) -> NearbyLine:
        """The record that the address names."""
        return get_object_or_404(order.nearby_lines.standing(), pk=self.kwargs["line"])

    def get(self, request, pk, line):
        order = self.order()
        nearby = self.nearby(order)
        return self._show(order, NearbyLineForm.of(nearby), nearby=nearby,
                          withdraw_form=WithdrawLineForm())  # fmt: skip

    def post(self, request, pk, line):
        """Correct the record, or withdraw it."""
        order = self.order()
        nearby = self.nearby(order)
        if "reason" in request.POST:
            return self._withdraw(nearby)
        form = NearbyLineForm(request.POST)
        return self._kept(order, form, instead_of=nearby) or self._show(
            order, form, nearby=nearby, withdraw_form=WithdrawLineForm()
        )

    def _withdraw(self, nearby):
        try:
            nearby_line_withdraw(nearby=nearby, by=self.by, at=now(),
                                 reason=self.request.POST["reason"])  # fmt: skip
        except Refused as error:
            return self.refused(str(error), "work_order", nearby.work_order_id)
        return self.done("The line is withdrawn.", "work_order", nearby.work_order_id)
