"""The ways of replacing a service line; which suits a line is `method_advice`."""

from services_inventory.domain.labels import Labeled


class Method(Labeled):
    """A way of replacing a service line."""

    PULL_OUT = "PULL_OUT", "Pull the old pipe out"
    SPLIT = "SPLIT", "Slit in place, new pipe follows"
    ROD_SPLIT = "ROD_SPLIT", "Split with rods"
    PIERCING = "PIERCING", "Piercing tool"
    DRILLING = "DRILLING", "Directional drilling"
    OPEN_CUT = "OPEN_CUT", "Open cut"


PULLED = frozenset({Method.PULL_OUT, Method.SPLIT, Method.ROD_SPLIT})


def pulled_as(method: str) -> Method:
    """Return how an order is pulled; one of another method as if it were slit, to try it out."""
    return Method(method) if method in PULLED else Method.SPLIT


def is_pulled(method: str) -> bool:
    """Tell whether a cable or rod under load draws the new pipe in; a method not known may."""
    return method in PULLED or method not in set(Method)
