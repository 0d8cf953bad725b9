"""Erasing, on request, what names residents at a line."""

from django.shortcuts import get_object_or_404
from django.views.generic import TemplateView

from program.operations.purging import residents_named, residents_purge
from services_inventory.models import ServiceLine

from .acts import Act


class ResidentsView(Act, TemplateView):
    """What would be erased of a line, what stays, and what was erased before."""

    permission_required, confirmed_within = "program.answer_inquiry", 15 * 60
    template_name, model, page = "program/residents.html", ServiceLine, "residents"

    def get_context_data(self, pk, **kwargs):
        """Give the line and the counts."""
        line = get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)
        purges = line.purges.order_by("-id")
        return super().get_context_data(
            line=line, named=residents_named(line), purges=purges, **kwargs
        )

    def keep(self, line, given):
        """Erase it, or say why not."""
        residents_purge(line=line, reason=self.request.POST.get("reason", ""), **self.signed())
        return "Nothing on record names anybody at this line any more."
