"""A paragraph of the rule, read against the values: which it touches, and what it says of them.

It looks for quantities with their unit ("within 60 days", "three business days", "0.010 mg/L"),
percentages and days. It helps whoever reads; it never decides: a person says what holds.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from services_inventory.domain.days import day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.regulation import Value

MOST = 12
_WORDS_SHARED = 3
_NUMBERS = {
    word: number
    for number, word in enumerate(
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
        "fifteen sixteen seventeen eighteen nineteen".split()
    )
} | {
    word: 10 * number
    for number, word in enumerate(
        "twenty thirty forty fifty sixty seventy eighty ninety".split(), 2
    )
}  # fmt: skip
_TENS = "|".join(word for word, number in _NUMBERS.items() if number >= 20)
_NUMBER = (
    rf"\d[\d,]*(?:\.\d+)?|(?:{_TENS})(?:[- ](?:one|two|three|four|five|six|seven|eight|nine))?|"
    rf"{'|'.join(sorted(_NUMBERS, key=len, reverse=True))}"
)
_UNITS = (
    ("business days", r"(?:business|working)[- ]days?"),
    ("days", r"(?:calendar[- ])?days?"),
    ("hours", r"hours?"),
    ("months", r"months?"),
    ("years", r"years?"),
    ("percent", r"percent|%"),
    ("mg/L", r"mg/l|milligrams? per liter"),
    ("ug/L", r"[uµμ]g/l|micrograms? per liter|parts per billion|ppb"),
    ("persons", r"(?:persons|people|customers)(?: served)?"),
    ("samples", r"samples?"),
    ("attempts", r"attempts?"),
)
_QUANTITY = re.compile(
    rf"\b(?P<number>{_NUMBER})(?:\s*\(\d+\))?[\s-]*"
    + "(?:" + "|".join(f"(?P<u{at}>{words})" for at, (_, words) in enumerate(_UNITS)) + r")(?!\w)",
    re.IGNORECASE,
)  # fmt: skip
_MONTHS = "January February March April May June July August September October November December"
_DAY = re.compile(
    rf"\b(?P<month>{'|'.join(_MONTHS.split())})\s+(?P<day>\d{{1,2}})(?:,?\s+(?P<year>\d{{4}}))?",
    re.IGNORECASE,
)
_CITED = re.compile(r"(\d+\.\d+)((?:\s*\([0-9a-zA-Z]+\))*)")
_WORD = re.compile(r"[a-z]{5,}")
_COMMON = frozenset(
    "shall water system systems value after before where which within under these those their "
    "other every section paragraph person persons state lines service least first until there "
    "later general public rule's required requirements".split()
)


class Finding(Labeled):
    """What a paragraph seems to say of a value."""

    SAME = "SAME", "seems to say the same"
    OTHER = "OTHER", "seems to say something else"
    OPEN = "OPEN", "read it yourself"


@dataclass(frozen=True)
class Touched:
    """A value that a paragraph seems to be about."""

    value: Value
    cited: bool
    shared: tuple[str, ...]
    finding: Finding
    found: tuple[str, ...]

    @property
    def other(self) -> str:
        """What it says instead, where it is one amount of the value's own unit."""
        one = len(self.found) == 1 and self.finding is Finding.OTHER
        return self.found[0].split()[0] if one else ""


def touched(text: str, citation: str, values: Iterable[Value]) -> list[Touched]:
    """Return the values that a paragraph touches, those at its own citation first.

    A value is touched by its citation, or by at least three of its own words with an amount of
    its unit.

    text : as pasted; citation : such as "40 CFR 141.84(b)(4)", or empty
    """
    said = quantities(text)
    words = set(_WORD.findall(text.casefold())) - _COMMON
    found = []
    for value in values:
        cited = same_place(citation, value.citation)
        shared = words & (set(_WORD.findall(f"{value.name} {value.summary}".casefold())) - _COMMON)
        finding, amounts = _compared(value, said)
        if cited or (len(shared) >= _WORDS_SHARED and finding is not Finding.OPEN):
            found.append(Touched(value, cited, tuple(sorted(shared)), finding, amounts))
    found.sort(key=lambda one: (not one.cited, one.finding is Finding.OPEN, -len(one.shared)))
    return found[:MOST]


def same_place(one: str, other: str) -> bool:
    """Tell whether two citations name the same paragraph, or one a part of the other's.

    Examples
    --------
    >>> same_place("141.84(b)(4)", "40 CFR 141.84(b)(4)(i)"), same_place("141.84(b)", "141.84(d)")
    (True, False)
    >>> same_place("40 CFR 141.84", "40 CFR 141.84(b)")
    False
    """
    first, second = _place(one), _place(other)
    if not first or not second or first[0] != second[0]:
        return False
    shorter = min(len(first), len(second))
    return shorter > 1 and first[:shorter] == second[:shorter] or first == second


def _place(citation: str) -> tuple[str, ...]:
    found = _CITED.search(citation)
    if not found:
        return ()
    return (found[1], *re.findall(r"\(([0-9a-zA-Z]+)\)", found[2]))


def quantities(text: str) -> list[tuple[str, Fraction | date | str]]:
    """Return (unit, amount) of what a text names, in order; a day has the unit "date".

    Examples
    --------
    >>> quantities("within 60 days, or three business days; 0.010 mg/L")
    [('days', Fraction(60, 1)), ('business days', Fraction(3, 1)), ('ug/L', Fraction(10, 1))]
    """
    found: list[tuple[int, str, Fraction | date | str]] = []
    for match in _QUANTITY.finditer(text):
        at = next(at for at in range(len(_UNITS)) if match[f"u{at}"])
        unit, amount = _UNITS[at][0], _amount(match["number"])
        if unit == "mg/L":
            unit, amount = "ug/L", amount * 1000
        found.append((match.start(), unit, amount))
    for match in _DAY.finditer(text):
        if day := _day(match):
            found.append((match.start(), "date" if isinstance(day, date) else "month-day", day))
    return [(unit, amount) for _, unit, amount in sorted(found, key=lambda one: one[0])]


def _amount(written: str) -> Fraction:
    if written[0].isdigit():
        return Fraction(written.replace(",", ""))
    return Fraction(sum(_NUMBERS[word] for word in re.split("[- ]", written.casefold())))


def _day(match: re.Match) -> date | str | None:
    month = _MONTHS.split().index(match["month"].capitalize()) + 1
    try:
        day = date(int(match["year"] or 2000), month, int(match["day"]))
    except ValueError:
        return None
    return day if match["year"] else f"{day:%m-%d}"


def _compared(value: Value, said: list) -> tuple[Finding, tuple[str, ...]]:
    """Return what amounts of a value's own unit say of it."""
    unit, own = _own(value)
    same_unit = [amount for named, amount in said if named == unit]
    if own is None or not same_unit:
        return Finding.OPEN, ()
    told = tuple(dict.fromkeys(f"{_told(amount)} {unit}".strip() for amount in same_unit))
    return (Finding.SAME if own in same_unit else Finding.OTHER), told


def _own(value: Value) -> tuple[str, Fraction | date | str | None]:
    if value.unit == "fraction" and isinstance(value.value, Fraction):
        return "percent", value.value * 100
    if value.unit in ("date", "month-day"):
        return value.unit, value.value
    if isinstance(value.value, int) and not isinstance(value.value, bool):
        unit = "persons" if value.unit.startswith("persons") else value.unit
        return unit, Fraction(value.value)
    return value.unit, None


def _told(amount: Fraction | date | str) -> str:
    if isinstance(amount, date):
        return day_told(amount)
    return amount if isinstance(amount, str) else f"{float(amount):g}"
