"""One act of a page with several short forms, for whoever may see the program's boards."""

from services_inventory.views import acts

from .permitted import Permitted


class Act(Permitted, acts.Act):
    """A form of a page of several."""


class PageAct(Permitted, acts.PageAct):
    """A form that is shown again on its page."""


class TakeBack(Permitted, acts.TakeBack):
    """A record is taken back with a reason."""
