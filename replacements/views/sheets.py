"""The job sheet and the string sheet, one page each."""

from django.http import HttpResponse

from services_inventory.today import today

from ..sheets.job_sheet import job_sheet
from ..sheets.string_sheet import string_sheet
from .scope import WorkView


class SheetView(WorkView):
    """An order's sheet as PDF."""

    sheet = staticmethod(job_sheet)
    name = "job"

    def get(self, request, pk):
        """Send the sheet."""
        order = self.order()
        response = HttpResponse(self.sheet(order, today()), content_type="application/pdf")
        response["Content-Disposition"] = f'inline; filename="{order.number}-{self.name}.pdf"'
        return response


class StringSheetView(SheetView):
    """The tool string's sheet as PDF."""

    sheet = staticmethod(string_sheet)
    name = "string"
