"""What a line's page shows of the work on it: orders, replacements, and the way to a new order."""

from ..models import WorkOrder


def work_panel(request, line) -> dict | None:
    """Return the panel for the line's page, or None for those who may not see work."""
    if not request.user.has_perm("replacements.view_all_work"):
        return None
    orders = list(
        WorkOrder.objects.filter(line=line).select_related("contractor").order_by("-id")[:10]
    )
    open_order = any(order.state in WorkOrder.OPEN_STATES for order in orders)
    return {
        "title": "Work",
        "template": "replacements/_line_panel.html",
        "context": {
            "orders": orders,
            "replacements": list(line.replacements.order_by("-replaced_on")[:5]),
            "may_order": request.user.has_perm("replacements.plan_work")
            and not open_order
            and line.category != "NON_LEAD",
            "line": line,
        },
    }
