"""Who may open a page of the program."""

from services_inventory.views.permitted import Permitted as OfInventory


class Permitted(OfInventory):
    """Whoever may see the program's boards, unless a page says otherwise."""

    permission_required = "program.view_boards"
