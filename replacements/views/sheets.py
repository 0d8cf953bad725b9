"""The job sheet and the string sheet, one page each."""

from importlib import import_module

from django.http import HttpResponse

from services_inventory.today import today

from .scope import WorkView


class SheetView(WorkView):
    """An order's sheet as PDF; what draws it is loaded when the first sheet is asked for."""

    name = "job"

    def sheet(self, order, as_of) -> bytes:
        """Return the PDF."""
        drawn = import_module(f"replacements.sheets.{self.name}_sheet")
        return getattr(drawn, f"{self.name}_sheet")(order, as_of)

    def get(self, request, pk):
        order = self.order()
        response = HttpResponse(self.sheet(order, today()), content_type="application/pdf")
        response["Content-Disposition"] = f'inline; filename="{order.number}-{self.name}.pdf"'
        return response


class StringSheetView(SheetView):
    """The tool string's sheet as PDF."""

    name = "string"
