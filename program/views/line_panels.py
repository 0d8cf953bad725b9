"""What a line's page shows of the program: what is due there, and where its owner stands.

The page itself stands first; what is due is worked out from many facts and comes after it.
"""

from django.shortcuts import get_object_or_404, render
from django.views import View

from program.clock import today
from program.queries.deadlines import Chosen, deadlines_on
from replacements.queries.access import consent_state
from replacements.queries.owners import owner_since
from services_inventory.models import ServiceLine

from .permitted import Permitted

SHOWN = 6


def deadline_panel(request, line) -> dict | None:
    """Return the panel that asks for what is due, or None for those who may not see boards."""
    if not request.user.has_perm("program.view_boards"):
        return None
    template = "program/_line_panel.html"
    return {"title": "Due here", "template": template, "context": {"line": line}}


class LineDueView(Permitted, View):
    """What is due at one line, and where consent stands, as a part of its page."""

    def get(self, request, pk):
        line = get_object_or_404(ServiceLine, pk=pk)
        found = deadlines_on(today(), Chosen(f"line {line.location_id}", (line.pk,)))
        rows = [(due, due.state(found.as_of)) for due in found.dues]
        context = {"line": line, "rows": rows[:SHOWN], "more": len(rows) - SHOWN}
        if request.user.has_perm("replacements.record_access"):
            context |= {
                "consent": consent_state(line, found.as_of),
                "since": owner_since(line, found.as_of),
            }
        return render(request, "program/_line_due.html", context)
