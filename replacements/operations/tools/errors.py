"""What the tools' operations refuse."""


class ToolError(Exception):
    """A tool, a string or an answer cannot be recorded so; the message says why."""
