"""The job sheet and the string sheet, one page each."""

from importlib import import_module

from services_inventory.given import number_given
from services_inventory.sending import pdf_shown
from services_inventory.today import today

from .scope import WorkView, in_crew_words


class SheetView(WorkView):
    """An order's sheet as PDF; what draws it is loaded when the first sheet is asked for."""

    name = "job"

    def sheet(self, order, as_of) -> bytes:
        """Return the PDF."""
        drawn = import_module(f"replacements.sheets.{self.name}_sheet")
        return getattr(drawn, f"{self.name}_sheet")(order, as_of)

    def get(self, request, pk):
        order = self.order()
        with in_crew_words(request):
            return pdf_shown(self.sheet(order, today()), f"{order.number}-{self.name}.pdf")


class LabelsView(WorkView):
    """Labels of tools with their codes: of one tool, or of all in use."""

    def get(self, request):
        drawn = import_module("replacements.sheets.tool_labels")
        tools = self.components().filter(retired_on=None).order_by("kind", "mark", "pk")
        if number := number_given(request.GET.get("tool"), "tool"):
            tools = tools.filter(pk=number)
        return pdf_shown(drawn.tool_labels(tools), "tool-labels.pdf")


class StringSheetView(SheetView):
    """The tool string's sheet as PDF."""

    name = "string"
