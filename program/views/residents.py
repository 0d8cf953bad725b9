"""Erasing, on request, what names residents at a line."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.views.generic import TemplateView

from program.clock import now
from program.operations.purging import PurgeRefused, residents_named, residents_purge
from services_inventory.models import ServiceLine

from .permitted import Permitted


class ResidentsView(Permitted, TemplateView):
    """What would be erased of a line, what stays, and what was erased before."""

    permission_required, confirmed_within = "program.answer_inquiry", 15 * 60
    template_name = "program/residents.html"

    def get_context_data(self, pk, **kwargs):
        """Give the line and the counts."""
        line = get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)
        purges = line.purges.order_by("-id")
        return super().get_context_data(
            line=line, named=residents_named(line), purges=purges, **kwargs
        )

    def post(self, request, pk):
        """Erase it, or say why not."""
        line = get_object_or_404(ServiceLine, pk=pk)
        said = {"reason": request.POST.get("reason", ""), "by": request.user.get_username()}
        try:
            residents_purge(line=line, at=now(), **said)
            messages.success(request, "Nothing on record names anybody at this line any more.")
        except PurgeRefused as error:
            messages.error(request, str(error))
        return redirect("residents", pk)
