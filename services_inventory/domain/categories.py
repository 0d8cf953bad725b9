"""The categories that a service line can have; which it has is decided by `classification`."""

from services_inventory.domain.labels import Labeled


class Category(Labeled):
    """The category of a whole line."""

    LEAD = "LEAD"
    GRR = "GRR", "galvanized requiring replacement"
    NON_LEAD = "NON_LEAD", "non-lead"
    UNKNOWN = "UNKNOWN", "lead status unknown"
