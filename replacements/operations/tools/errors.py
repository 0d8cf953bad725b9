"""What the tools' operations refuse."""

from services_inventory.refused import Refused


class ToolError(Refused):
    """A tool, a string or an answer cannot be recorded so; the message says why."""
