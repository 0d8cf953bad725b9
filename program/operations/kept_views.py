"""Keeping a view of a list by name, and letting it go."""

from urllib.parse import parse_qsl, urlencode

from ..models import KeptView
from ..rooms import keeps_views

MOST = 30
NOT_KEPT = ("page", "after", "before")  # where one stands in a list is no part of a view


class KeptViewError(Exception):
    """A view cannot be kept so; the message says why."""


def without_place(query: str) -> str:
    """Return a list's filters alone, in the order in which they were given."""
    return urlencode([pair for pair in parse_qsl(query) if pair[0] not in NOT_KEPT])


def view_keep(*, user, path: str, query: str, name: str) -> KeptView:
    """Keep a list's filters by a name; one of the same name is replaced.

    Raises
    ------
    KeptViewError: no name, no filters, no list of ours, too many, or too long.
    """
    name, query = " ".join(name.split()), without_place(query)
    views = KeptView.objects.filter(account=user, path=path)
    if not keeps_views(path):
        raise KeptViewError("Only views of lists with filters are kept.")
    if not name or len(name) > 60:
        raise KeptViewError("Name the view in 1 to 60 letters.")
    if not query:
        raise KeptViewError(
            "Choose filters and press Show first; without any it is the whole list."
        )
    if len(query) > 2000:
        raise KeptViewError("These filters are too long to keep; draw a simpler shape.")
    if views.exclude(name=name).count() >= MOST:
        raise KeptViewError(f"{MOST} views of this list are kept. Let one go first.")
    return views.update_or_create(
        defaults={"query": query}, account=user, path=path, name=name
    )[0]  # fmt: skip


def view_let_go(*, user, pk: int) -> str:
    """Let one's own view go, and return its path; of another's, or one that is gone, nothing."""
    view = KeptView.objects.filter(account=user, pk=pk).first()
    if view is None:
        return ""
    view.delete()
    return view.path
