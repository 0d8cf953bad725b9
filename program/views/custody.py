"""Custody of one line, on one page and as a PDF."""

from django.shortcuts import get_object_or_404
from django.views.generic import TemplateView

from program.clock import now, today
from program.queries.custody import custody
from program.queries.seals import head_now
from program.utility import the_utility
from services_inventory.models import ServiceLine
from services_inventory.sending import pdf_shown

from .permitted import Permitted


class CustodyView(Permitted, TemplateView):
    """All that is on record of a line's replacement, in the order in which it came there."""

    template_name = "program/custody.html"

    def get_context_data(self, pk, **kwargs):
        lines = ServiceLine.objects.select_related("premise")
        line = get_object_or_404(lines, pk=pk)
        return super().get_context_data(
            line=line, steps=custody(line, today()), head=head_now(), printed_at=now(), **kwargs
        )


class CustodyPdfView(CustodyView):
    """The same on paper."""

    def get(self, request, pk):
        told = self.get_context_data(pk=pk)
        from program.custody_pdf import custody_pdf  # what draws waits until it is needed

        drawn = custody_pdf(told["line"], told["steps"], told["head"], today(), the_utility())
        return pdf_shown(drawn, f"custody-{pk}.pdf")
