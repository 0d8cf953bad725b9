"""A size as people write it: 3/8, 1 1/4 in, 9.5 mm, 0.375, 5 ft 3 in.

A crew reads fractions off a tool and millimeters off an import's tag; both are read here, once, for
every form. What may mean two things is refused by a sentence and never guessed.
"""

import re
from fractions import Fraction

from replacements.domain.units import Unit, UnitError, unit

_SIGNS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_MARKS = str.maketrans({"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "⁄": "/"})
_TERM = re.compile(
    r"(?:(?P<whole>\d{1,6})(?:\s+|\s*-\s*))?(?P<above>\d{1,6})\s*/\s*(?P<below>\d{1,6})(?![\d.])"
    r"|(?P<plain>\d{1,9}(?:\.\d{0,12})?|\.\d{1,12})(?![\d./])"
)
_UNIT = re.compile(r"\s*-?\s*(?P<unit>[a-z]+\.?|\"|')?\s*")
_HOW = "Write it as 3/8, 1 1/4 in, 0.375 or 9.5 mm."


class LengthError(ValueError):
    """A size cannot be read, or may mean two things; fit to show."""


def length(text: str, want: str = "IN") -> float:
    """Return a written length in a unit; a number without a unit is in that unit.

    Raises
    ------
    LengthError: it is no length, or may be two.

    Examples
    --------
    >>> length("3/8"), length("1 1/4 in"), length("1-1/4"), length("9.5 mm"), length('½"')
    (0.375, 1.25, 1.25, 0.374, 0.5)
    >>> length("5 ft 3 in", "FT"), length("27 1/2", "FT"), length("18 in", "FT")
    (5.25, 27.5, 1.5)
    """
    terms = _terms(text)
    if len(terms) > 1:
        terms = _feet_and_inches(text, terms)
    wanted = unit(want)
    found = sum((number * (each or wanted).si for number, each in terms), Fraction(0)) / wanted.si
    metric = any(each and each.code in ("MM", "CM", "M") for _, each in terms)
    return round(float(found), 4) if metric else float(found)


def lengths(text: str, want: str = "IN") -> list[float]:
    """Return the sizes of a list with commas, such as 3/4, 1 or 19 mm, 25 mm.

    Examples
    --------
    >>> lengths("5/8, 3/4; 1 in")
    [0.625, 0.75, 1.0]
    """
    return [length(part, want) for part in re.split("[,;]", text) if part.strip()]


def written(value: float) -> str:
    """Return a length as a field shows it: a fraction only where it is exactly one.

    Examples
    --------
    >>> written(0.375), written(1.25), written(2.0), written(0.374), written(27.5)
    ('3/8', '1-1/4', '2', '0.374', '27-1/2')
    """
    part = Fraction(value).limit_denominator(32)
    if float(part) != value or part.denominator & (part.denominator - 1):
        return repr(float(value))
    whole, rest = divmod(part.numerator, part.denominator)
    fraction = f"{rest}/{part.denominator}" if rest else ""
    return "-".join(str(each) for each in (whole, fraction) if each) or "0"


def _terms(text: str) -> list[tuple[Fraction, Unit | None]]:
    """Return each number of a text with the unit behind it."""
    plain = text.translate(_MARKS).casefold().strip()
    for sign, fraction in _SIGNS.items():
        plain = plain.replace(sign, f" {fraction}")
    plain, found, at = plain.strip(), [], 0
    while at < len(plain):
        number = _TERM.match(plain, at)
        if number is None:
            raise LengthError(_unread(text))
        behind = _UNIT.match(plain, number.end())
        named = behind["unit"] if behind else None
        found.append((_number(text, number), _unit(text, named) if named else None))
        at = behind.end() if behind else number.end()
    if not found:
        raise LengthError(_unread(text))
    return found


def _unread(text: str) -> str:
    if "," in text:
        return f"{text!r} has a comma: write one size, and decimals with a point. {_HOW}"
    if text.strip().startswith("-"):
        return f"{text!r} is below zero, and a length is not."
    return f"{text[:40]!r} is no length. {_HOW}"


def _number(text: str, term: re.Match) -> Fraction:
    if term["plain"]:
        return Fraction(term["plain"].rstrip("."))
    above, below = int(term["above"]), int(term["below"])
    if not below:
        raise LengthError(f"{text!r} divides by zero. {_HOW}")
    if term["whole"] and above >= below:
        raise LengthError(f"{text!r}: the fraction behind a whole number is less than one.")
    return int(term["whole"] or 0) + Fraction(above, below)


def _unit(text: str, named: str) -> Unit:
    try:
        known = unit(named)
    except UnitError:
        known = None
    if known is None or known.quantity != "length":
        raise LengthError(f"{text!r}: {named} is no unit of length. {_HOW}")
    return known


def _feet_and_inches(text: str, terms: list) -> list:
    """Return two terms as feet and inches, the only two that are written one behind the other."""
    (first, feet), (second, inches), *more = terms
    if more or feet is None or feet.code != "FT" or (inches and inches.code != "IN"):
        raise LengthError(f"{text!r} holds more than one length. {_HOW}")
    return [(first, feet), (second, unit("IN"))]
