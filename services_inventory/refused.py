"""What is refused: one kind for every operation, so that every page tells it in one way."""


class Refused(Exception):
    """It can't be done so; the message says why and what to do, and nothing was kept."""
