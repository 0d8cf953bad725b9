"""What can stand against a completion record."""

from services_inventory.refused import Refused

from ...domain.findings import Level, by_severity


class CompletionError(Refused):
    """The record cannot be handed in, accepted or returned so; the message says why."""


class StopsShownFirst(Exception):
    """A record with stops was not handed in yet; `findings` tells them, the worst first.

    No refusal: who has seen them may hand it in all the same.
    """

    def __init__(self, findings):
        super().__init__("This record has stops.")
        self.findings = by_severity(f for f in findings if f.level is not Level.NOTE)
