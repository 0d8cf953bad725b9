"""Keeping a view of a list by name, and letting it go."""

from urllib.parse import parse_qsl, urlencode

from services_inventory.refused import Refused

from ..models import KeptView
from ..rooms import keeps_views

MOST = 30
NOT_KEPT = ("page", "after", "before")  # where one stands in a list is no part of a view


def without_place(query: str) -> str:
    """Return a list's filters alone, in the order in which they were given."""
    return urlencode([pair for pair in parse_qsl(query) if pair[0] not in NOT_KEPT])


def view_keep(*, user, path: str, query: str, name: str) -> tuple[KeptView, bool]:
    """Keep a list's filters by a name; return the view, and False where it replaced one.

    Raises
    ------
    Refused: no name, no filters, no list of ours, too many, or too long.
    """
    name, query = " ".join(name.split()), without_place(query)
    views = KeptView.objects.filter(account=user, path=path)
    if not keeps_views(path):
        raise Refused("Only views of lists with filters are kept.")
    if not name or len(name) > 60:
        raise Refused("Name the view in 1 to 60 letters.")
    if not query:
        raise Refused("Choose filters and press Show first; without any it is the whole list.")
    if len(query) > 2000:
        raise Refused("These filters are too long to keep; draw a simpler shape.")
    if views.exclude(name=name).count() >= MOST:
        raise Refused(f"{MOST} views of this list are kept. Let one go first.")
    return KeptView.objects.update_or_create(
        defaults={"query": query}, account=user, path=path, name=name
    )


def view_let_go(*, user, pk: int) -> KeptView | None:
    """Let one's own view go, and return what it was; of another's, or one that is gone, nothing."""
    view = KeptView.objects.filter(account=user, pk=pk).first()
    if view is not None:
        view.delete()
    return view
