"""What a line's page shows of the program: what is due there, and the customer's own work."""

from program.clock import today
from program.queries.deadlines import Chosen, deadlines_on

SHOWN = 6


def deadline_panel(request, line) -> dict | None:
    """Return the panel of what is due at a line, or None for those who may not see boards."""
    if not request.user.has_perm("program.view_boards"):
        return None
    found = deadlines_on(today(), Chosen(f"line {line.location_id}", (line.pk,)))
    rows = [(due, due.state(found.as_of)) for due in found.dues]
    context = {"line": line, "rows": rows[:SHOWN], "more": len(rows) - SHOWN}
    return {"title": "Due here", "template": "program/_line_panel.html", "context": context}
