"""Where a file says another category than the evidence gives: by reason, as a list, as CSV."""

from django.views import View
from django.views.generic import TemplateView

from ..queries.said_categories import HEADER, said_found, said_groups, said_told
from ..sending import csv_streamed
from ..today import today
from .batches import IntakeView

SHOWN = 100


class SaidListView(IntakeView, TemplateView):
    """The groups, and the lines of the chosen one."""

    template_name = "services_inventory/said_list.html"

    def get_context_data(self, **kwargs):
        """Give the groups with their numbers, and the first lines."""
        groups, asked = said_groups(), self.request.GET.dict()
        found = said_found(asked)
        return super().get_context_data(
            groups=groups, number=found.count(), shown=SHOWN,
            rows=list(said_told(found, SHOWN)), asked=asked,
            asked_text=self.request.GET.urlencode(), **kwargs,
        )  # fmt: skip


class SaidCsvView(IntakeView, View):
    """The same lines as CSV, all of them."""

    def get(self, request):
        rows = (cells for _, cells in said_told(said_found(request.GET.dict())))
        return csv_streamed(f"files-say-{today()}", HEADER, rows)
