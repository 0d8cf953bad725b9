"""Names that loggers give to units, and what they are worth in the units this program works in.

Times are worked in seconds, pressures in psi, forces in lbf, distances in ft.
The factors are those of `replacements.domain.units`.
"""

from replacements.domain.units import convert

_CODES = {
    "PRESSURE": {"psi": "PSI", "bar": "BAR", "kPa": "KPA", "MPa": "MPA"},
    "FORCE": {
        **{"lbf": "LBF", "kip": "KIP", "ton": "US_TON", "N": "N", "kN": "KN"},
        **{"kgf": "KGF", "tf": "TONNE_FORCE"},
    },
    "DISTANCE": {"ft": "FT", "in": "IN", "m": "M", "cm": "CM", "mm": "MM"},
}
_BASE_CODE = {"PRESSURE": "PSI", "FORCE": "LBF", "DISTANCE": "FT"}

FACTORS = {
    "TIME": {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0},
    **{
        quantity: {unit: convert(1.0, code, _BASE_CODE[quantity]) for unit, code in codes.items()}
        for quantity, codes in _CODES.items()
    },
}
FACTORS["PRESSURE"]["ksi"] = 1000.0
FACTORS["FORCE"]["daN"] = 10 * FACTORS["FORCE"]["N"]
FACTORS["DISTANCE"]["yd"] = 3.0

BASE_UNIT = {"TIME": "s", "PRESSURE": "psi", "FORCE": "lbf", "DISTANCE": "ft"}

# "m" is left to the distance alone: a logger that means minutes writes min.
_SPELLINGS = {
    "s": "s sec secs second seconds",
    "ms": "ms msec msecs millisecond milliseconds",
    "min": "min mins minute minutes",
    "h": "h hr hrs hour hours",
    "psi": "psi psig lb/in2 lbs/in2 lbf/in2",
    "ksi": "ksi",
    "bar": "bar bars barg",
    "kPa": "kpa",
    "MPa": "mpa",
    "lbf": "lbf lb lbs pound pounds pounds-force",
    "kip": "kip kips klbf klb",
    "ton": "ton tons",
    "N": "n newton newtons",
    "daN": "dan",
    "kN": "kn kilonewton kilonewtons",
    "kgf": "kgf kg kilogram kilograms",
    "tf": "tf tonf tonne tonnes",
    "ft": "ft feet foot '",
    "in": 'in inch inches "',
    "yd": "yd yds yard yards",
    "m": "m meter meters metre metres",
    "cm": "cm",
    "mm": "mm",
}
UNIT_OF = {spelling: unit for unit, line in _SPELLINGS.items() for spelling in line.split()}
QUANTITY_OF = {unit: quantity for quantity, table in FACTORS.items() for unit in table}


def unit_named(text: str) -> str | None:
    """Return the unit code that a spelling stands for, None when it is not a unit."""
    cleaned = text.strip().strip("[](){}.").strip()
    return UNIT_OF.get(cleaned.lower().replace("²", "2").replace("^", ""))
