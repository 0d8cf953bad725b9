"""Text that a spreadsheet would run as a formula, and how it is disarmed (OWASP, CSV Injection)."""

_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_PASSED_OVER = " \u00a0\ufeff"


def could_run(text: str) -> bool:
    """Tell whether a spreadsheet could take the text for a formula."""
    return text.lstrip(_PASSED_OVER).startswith(_SIGNS)


def without_formula(text: str) -> str:
    """Return the text with an apostrophe before it when a spreadsheet could run it."""
    return f"'{text}" if could_run(text) else text
