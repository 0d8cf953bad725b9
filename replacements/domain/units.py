"""Units that crews, gauges and tables use, converted by their exact definitions.

The pound and the inch are defined by the kilogram and the meter (1959), standard gravity by
9.80665 m/s2; every factor here follows from those three and is kept as a fraction.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

_POUND_KG = Fraction("0.45359237")
_GRAVITY = Fraction("9.80665")
_INCH_M = Fraction("0.0254")
_LBF_N = _POUND_KG * _GRAVITY
_PSI_PA = _LBF_N / _INCH_M**2
_GALLON_M3 = 231 * _INCH_M**3


class UnitError(ValueError):
    """A unit is unknown, or two units do not measure the same thing; fit to show."""


@dataclass(frozen=True)
class Unit:
    """One unit: its code, what it measures, and how many SI units it holds."""

    code: str
    quantity: str
    si: Fraction
    spellings: tuple[str, ...]


UNITS = (
    Unit("PSI", "pressure", _PSI_PA, ("psi", "psig", "lbf/in2", "lb/in2")),
    Unit("BAR", "pressure", Fraction(100_000), ("bar", "barg", "bars")),
    Unit("KPA", "pressure", Fraction(1_000), ("kpa",)),
    Unit("MPA", "pressure", Fraction(1_000_000), ("mpa",)),
    Unit("PSF", "pressure", _PSI_PA / 144, ("psf", "lbf/ft2", "lb/ft2")),
    Unit("LBF", "force", _LBF_N, ("lbf", "lb", "lbs", "pound", "pounds")),
    Unit("KIP", "force", 1000 * _LBF_N, ("kip", "kips", "klbf")),
    Unit("N", "force", Fraction(1), ("n", "newton", "newtons")),
    Unit("KN", "force", Fraction(1000), ("kn", "kilonewton")),
    Unit("KGF", "force", _GRAVITY, ("kgf", "kilogram-force")),
    Unit("TONNE_FORCE", "force", 1000 * _GRAVITY, ("tonne", "tonnes", "tf", "tonne-force")),
    Unit("US_TON", "force", 2000 * _LBF_N, ("us ton", "us tons", "short ton", "short tons")),
    Unit("IN", "length", _INCH_M, ("in", "in.", "inch", "inches", '"')),
    Unit("FT", "length", 12 * _INCH_M, ("ft", "ft.", "feet", "foot", "'")),
    Unit("MM", "length", Fraction(1, 1000), ("mm", "millimeter", "millimetre")),
    Unit("CM", "length", Fraction(1, 100), ("cm",)),
    Unit("M", "length", Fraction(1), ("m", "meter", "metre", "meters", "metres")),
    Unit("LB_MASS", "mass", _POUND_KG, ("lbm", "lb mass")),
    Unit("KG", "mass", Fraction(1), ("kg", "kilogram", "kilograms")),
    Unit("GAL", "volume", _GALLON_M3, ("gal", "gallon", "gallons", "us gal")),
    Unit("LITER", "volume", Fraction(1, 1000), ("l", "liter", "liter", "liters", "liters")),
    Unit("FT_LB", "energy", _LBF_N * 12 * _INCH_M, ("ft-lb", "ft lb", "ft-lbf")),
    Unit("KJ", "energy", Fraction(1000), ("kj", "kilojoule")),
)
_BY_SPELLING = {name: unit for unit in UNITS for name in (unit.code.lower(), *unit.spellings)}


def unit(text: str) -> Unit:
    """Return the unit that a code or a usual spelling names.

    Raises
    ------
    UnitError: no unit is spelled so; the sentence lists the codes there are.
    """
    try:
        return _BY_SPELLING[text.strip().lower()]
    except KeyError:
        codes = ", ".join(known.code for known in UNITS)
        raise UnitError(f"{text!r} is not a unit known here. Known are: {codes}.") from None


def convert(value: float, have: str, want: str) -> float:
    """Return a value in another unit of the same quantity.

    Raises
    ------
    UnitError: a unit is unknown, or the two do not measure the same thing.

    Examples
    --------
    >>> round(convert(1, "BAR", "PSI"), 4)
    14.5038
    >>> round(convert(12.8, "KN", "LBF"), 1)
    2877.6
    """
    source, target = unit(have), unit(want)
    if source.quantity != target.quantity:
        raise UnitError(
            f"{source.code} measures {source.quantity} and {target.code} {target.quantity}: "
            f"one cannot become the other. Check the unit of the column."
        )
    return value * float(source.si / target.si)


def fahrenheit(celsius: float) -> float:
    """Return a temperature in degrees Fahrenheit."""
    return celsius * 1.8 + 32


def inches(value: float) -> str:
    """Return a size as the trade writes it: a fraction to 1/32 in. where it is one, else decimals.

    Examples
    --------
    >>> inches(0.75), inches(1.25), inches(2), inches(1.212)
    ('3/4 in.', '1-1/4 in.', '2 in.', '1.212 in.')
    """
    if not math.isfinite(value):
        return f"{value} in."
    part = Fraction(value).limit_denominator(32)
    if abs(float(part) - value) > 0.0004 or part.denominator & (part.denominator - 1):
        return f"{value:.3f}".rstrip("0").rstrip(".") + " in."
    whole, rest = divmod(part.numerator, part.denominator)
    if not rest:
        return f"{whole} in."
    fraction = f"{rest}/{part.denominator}"
    return f"{whole}-{fraction} in." if whole else f"{fraction} in."
