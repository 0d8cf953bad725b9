"""The short code on a tool's label: its number and a check sign, without signs that look alike.

Thirty-one signs, a prime: one sign mistyped, or two neighbors swapped, never gives another code.
"""

SIGNS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_LEAST = 4


class CodeError(ValueError):
    """A code cannot be one of ours; fit to show."""


def code_of(number: int) -> str:
    """Return the code of a tool's number.

    Examples
    --------
    >>> code_of(1000123), code_of(7)
    ('34KR3-X', '2229-G')
    """
    signs = ""
    while number:
        number, rest = divmod(number, len(SIGNS))
        signs = SIGNS[rest] + signs
    signs = signs.rjust(_LEAST, SIGNS[0])
    return f"{signs}-{_check(signs)}"


def number_of(code: str) -> int:
    """Return the number of the tool that a typed or scanned code names.

    Raises
    ------
    CodeError: it holds a sign that no code has, or was mistyped.

    Examples
    --------
    >>> number_of("34kr3x"), number_of(" 34KR3-X ")
    (1000123, 1000123)
    """
    signs = "".join(code.upper().replace("-", " ").split())
    if len(signs) <= _LEAST or len(signs) > 13 or set(signs) - set(SIGNS):
        raise CodeError(f"{code[:20]!r} is no code of a tool. Type it as its label says.")
    if _check(signs[:-1]) != signs[-1]:
        raise CodeError(f"{code[:20]!r} was mistyped: its last sign does not fit. Look again.")
    number = 0
    for sign in signs[:-1]:
        number = number * len(SIGNS) + SIGNS.index(sign)
    return number


def _check(signs: str) -> str:
    """Return the sign that makes every single slip and every swap of neighbors show."""
    places = enumerate(reversed(signs), start=2)
    return SIGNS[sum(place * SIGNS.index(sign) for place, sign in places) % len(SIGNS)]
