"""What can stand against a completion record."""


class CompletionError(Exception):
    """The record cannot be handed in, accepted or returned so; the message says why."""
