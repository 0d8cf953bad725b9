"""What a line's page shows of the work on it: orders, replacements, and the way to a new order."""

from services_inventory.today import today

from ..models import WorkOrder


def work_panel(request, line) -> dict | None:
    """Return the panel for the line's page, or None for those who may not see work."""
    if not request.user.has_perm("replacements.view_all_work"):
        return None
    orders = WorkOrder.objects.filter(line=line).select_related("contractor").order_by("-id")
    stands = line.replacements.standing(today())
    context = {
        "orders": orders[:10],
        "replacements": stands.order_by("-replaced_on")[:5],
        "taken_back": line.replacements.exclude(pk__in=stands.values("pk"))[:5],
        "may_order": _may_order(request.user, line, orders),
        "line": line,
    }
    return {"title": "Work", "template": "replacements/_line_panel.html", "context": context}


def _may_order(user, line, orders) -> bool:
    if line.category == "NON_LEAD" or not user.has_perm("replacements.plan_work"):
        return False
    return not orders.filter(state__in=WorkOrder.OPEN_STATES).exists()
