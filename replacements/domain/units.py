"""Units that crews, gauges, loggers and tables use: one table, exact by definition.

The pound and the inch are defined by the kilogram and the meter (1959), standard gravity by
9.80665 m/s2; every factor here follows from those three and is kept as a fraction.

What a heading of a log calls a unit is found by `unit_named`. A word that means two units, such
as ton, is never guessed: it comes back as a code of `ASKED`, and whoever reads it has to ask.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import product

_POUND_KG = Fraction("0.45359237")
_GRAVITY = Fraction("9.80665")
_INCH_M = Fraction("0.0254")
_LBF_N = _POUND_KG * _GRAVITY
_PSI_PA = _LBF_N / _INCH_M**2
_GALLON_M3 = 231 * _INCH_M**3


class UnitError(ValueError):
    """A unit is unknown or may be two, or two do not measure the same thing; fit to show."""


@dataclass(frozen=True)
class Unit:
    """One unit.

    code : its name in this program
    symbol : as it is written
    quantity : what it measures
    si : how many SI units it holds
    spellings : lower case, ² as 2; each stands for this unit alone
    heading : spellings that stand for it in a log, where no masses are measured
    """

    code: str
    symbol: str
    quantity: str
    si: Fraction
    spellings: tuple[str, ...]
    heading: tuple[str, ...] = ()


def _per(forces: str, areas: str) -> tuple[str, ...]:
    """Return every way to write a force on an area."""
    pairs = product(forces.split(), (" per ", "/"), areas.split(","))
    return tuple(f"{force}{per}{area}" for force, per, area in pairs)


_IN2 = "in2,sq in,sq. in,sqin,square inch,square in"
_CM2 = "cm2,sq cm,sqcm,square cm,square centimeter"
_PSI = ("psi", "psig", *_per("lb lbs lbf pounds", _IN2))
_KGF_CM2 = _per("kgf kg kp", _CM2)

UNITS = (
    Unit("PSI", "psi", "pressure", _PSI_PA, _PSI),
    Unit("BAR", "bar", "pressure", Fraction(100_000), ("bar", "barg", "bars")),
    Unit("KSI", "ksi", "pressure", 1000 * _PSI_PA, ("ksi",)),
    Unit("KPA", "kPa", "pressure", Fraction(1_000), ("kpa",)),
    Unit("MPA", "MPa", "pressure", Fraction(1_000_000), ("mpa",)),
    Unit("KGF_CM2", "kgf/cm2", "pressure", _GRAVITY * 10_000, _KGF_CM2),
    Unit("PSF", "psf", "pressure", _PSI_PA / 144, ("psf", "lbf/ft2", "lb/ft2")),
    Unit("LBF", "lbf", "force", _LBF_N, ("lbf", "lb", "lbs", "pound", "pounds", "pounds-force")),
    Unit("KIP", "kip", "force", 1000 * _LBF_N, ("kip", "kips", "klbf", "klb")),
    Unit("N", "N", "force", Fraction(1), ("n", "newton", "newtons")),
    Unit("DAN", "daN", "force", Fraction(10), ("dan", "decanewton", "decanewtons")),
    Unit("KN", "kN", "force", Fraction(1000), ("kn", "kilonewton", "kilonewtons")),
    Unit("KGF", "kgf", "force", _GRAVITY, ("kgf", "kilogram-force", "kilograms-force"),
         heading=("kg", "kilogram", "kilograms")),
    Unit("TONNE_FORCE", "tf", "force", 1000 * _GRAVITY,
         ("tf", "tonne", "tonnes", "tonne-force", "tonnes-force", "metric ton", "metric tons",
          "metric tonne", "metric tonnes")),
    Unit("US_TON", "US ton", "force", 2000 * _LBF_N,
         ("us ton", "us tons", "us tonf", "short ton", "short tons", "short tonf")),
    Unit("IN", "in", "length", _INCH_M, ("in", "in.", "inch", "inches", '"')),
    Unit("FT", "ft", "length", 12 * _INCH_M, ("ft", "ft.", "feet", "foot", "'")),
    Unit("YD", "yd", "length", 36 * _INCH_M, ("yd", "yds", "yard", "yards")),
    Unit("MM", "mm", "length", Fraction(1, 1000), ("mm", "millimeter", "millimeters")),
    Unit("CM", "cm", "length", Fraction(1, 100), ("cm", "centimeter", "centimeters")),
    Unit("M", "m", "length", Fraction(1), ("m", "meter", "meters", "metre", "metres")),
    Unit("S", "s", "time", Fraction(1), ("s", "sec", "secs", "second", "seconds")),
    Unit("MS", "ms", "time", Fraction(1, 1000),
         ("ms", "msec", "msecs", "millisecond", "milliseconds")),
    Unit("MIN", "min", "time", Fraction(60), ("min", "mins", "minute", "minutes")),
    Unit("H", "h", "time", Fraction(3600), ("h", "hr", "hrs", "hour", "hours")),
    Unit("LB_MASS", "lb", "mass", _POUND_KG, ("lbm", "lb mass")),
    Unit("KG", "kg", "mass", Fraction(1), ("kg", "kilogram", "kilograms")),
    Unit("GAL", "gal", "volume", _GALLON_M3, ("gal", "gallon", "gallons", "us gal")),
    Unit("LITER", "L", "volume", Fraction(1, 1000), ("l", "liter", "liters")),
    Unit("FT_LB", "ft-lb", "energy", _LBF_N * 12 * _INCH_M, ("ft-lb", "ft lb", "ft-lbf")),
    Unit("KJ", "kJ", "energy", Fraction(1000), ("kj", "kilojoule")),
)  # fmt: skip
_BY_SPELLING = {name: unit for unit in UNITS for name in (unit.code.lower(), *unit.spellings)}

# Words that mean two units: the code they are read as, and the symbols it may stand for.
_TON = "ton tons tonf tonsf ton-force tons-force"
ASKED = {"ton?": ("US ton", "tf")}
_ASKED_SPELLINGS = {**dict.fromkeys(_TON.split(), "ton?"), "ton force": "ton?"}
ASKED_SENTENCE = {"ton?": "A ton may be the US ton of 2,000 lb or the metric tonne of 2,204.6 lb"}

# What a log measures, the quantity of the table, and the unit it is worked in.
_LOGGED = {
    "TIME": ("time", "s"),
    "PRESSURE": ("pressure", "psi"),
    "FORCE": ("force", "lbf"),
    "DISTANCE": ("length", "ft"),
}
_BY_SYMBOL = {unit.symbol: unit for unit in UNITS}
BASE_UNIT = {logged: base for logged, (_, base) in _LOGGED.items()}
FACTORS = {
    logged: {
        unit.symbol: float(unit.si / _BY_SYMBOL[base].si)
        for unit in UNITS
        if unit.quantity == quantity
    }
    for logged, (quantity, base) in _LOGGED.items()
}
QUANTITY_OF = {symbol: logged for logged, table in FACTORS.items() for symbol in table}
QUANTITY_OF["ton?"] = "FORCE"
# "m" is left to the distance alone: a logger that means minutes writes min.
_IN_HEADINGS = {
    **{name: unit.symbol for unit in UNITS if unit.symbol in QUANTITY_OF
       for name in (unit.symbol.lower(), *unit.spellings, *unit.heading)},
    **_ASKED_SPELLINGS,
}  # fmt: skip


def unit_named(text: str) -> str | None:
    """Return the symbol of the unit that a heading or cell names, None when it is not a unit.

    A word that means two units gives a code of `ASKED`.
    """
    return _IN_HEADINGS.get(_plain(text.strip().strip("[](){}.")))


def _plain(text: str) -> str:
    """Return a spelling in lower case, with single spaces and none about a slash."""
    text = " ".join(text.lower().replace("²", "2").replace("^", "").split())
    return text.replace(" /", "/").replace("/ ", "/")


def _pattern(spelling: str) -> str:
    return r"\s*".join(re.escape(part) for part in re.split(r"(/|\s)", spelling) if part.strip())


_MANY_WORDS = re.compile(
    r"(?<![a-z0-9])(?:"
    + "|".join(
        _pattern(name)
        for name in sorted(_IN_HEADINGS, key=len, reverse=True)
        if re.search(r"[^a-z0-9]", name) and len(name) > 3
    )
    + r")(?![a-z0-9])",
    re.IGNORECASE,
)


def units_of_many_words(text: str) -> tuple[list[str], str]:
    """Return the units of several words that a heading names, and the heading without them."""
    text = text.replace("²", "2").replace("^", "")
    return _MANY_WORDS.findall(text), _MANY_WORDS.sub(" ", text)


def unit(text: str) -> Unit:
    """Return the unit that a code or a usual spelling names.

    Raises
    ------
    UnitError: no unit is spelled so, with the codes there are; or the word means two units.
    """
    asked = _ASKED_SPELLINGS.get(_plain(text))
    if asked:
        raise UnitError(f"{ASKED_SENTENCE[asked]}: write {' or '.join(ASKED[asked])}.")
    try:
        return _BY_SPELLING[_plain(text)]
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


def limit_lb(value: float) -> str:
    """Return a limit as it is shown, in whole pounds rounded down: what is read is never too much.

    Examples
    --------
    >>> limit_lb(439.8), limit_lb(3840.0)
    ('439 lb', '3,840 lb')
    """
    return f"{math.floor(value + _HAIR):,} lb"


def high_lb(value: float) -> str:
    """Return a high estimate as it is shown, in whole pounds rounded up.

    Examples
    --------
    >>> high_lb(439.2), high_lb(1763.0)
    ('440 lb', '1,763 lb')
    """
    return f"{math.ceil(value - _HAIR):,} lb"


_HAIR = 1e-6  # what adding floats leaves behind


@lru_cache(maxsize=4_096)
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
