"""Ordering inspections of unknown lines, and taking an order back."""

from django import forms
from django.db.models import Q
from django.shortcuts import redirect

from ..models import InspectionOrder
from ..operations.inspections import inspections_order
from .acts import Act, TakeBack
from .permitted import Permitted

MAY = "services_inventory.record_evidence"


class InspectionForm(forms.Form):
    """What to look at."""

    look_at = forms.CharField(
        label="What to look at, and whom to ask",
        required=False,
        max_length=300,
        help_text="For instance: customer side where it enters the basement; call before coming.",
    )


class InspectionOrderView(Permitted, Act):
    """An inspection of one line is ordered."""

    permission_required, form_class, page = MAY, InspectionForm, "line"

    def keep(self, thing, given):
        return inspections_order(chosen=Q(pk=self.kwargs["pk"]), **given, **self.signed())


class InspectionTakeBackView(Permitted, TakeBack):
    """An inspection ordered by mistake, or no longer needed."""

    permission_required, model = MAY, InspectionOrder
    told = "Taken back: nobody is sent to look."

    def back(self, order):
        return redirect("line", order.line_id)
