"""From the text of an address to its parts and its key."""

import re
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple

from services_inventory.domain.addresses import tables
from services_inventory.domain.addresses.folding import parts
from services_inventory.domain.addresses.streets import Street, is_complete, parse_street
from services_inventory.domain.addresses.units import (
    NO_NUMBER,
    NO_UNIT,
    Unit,
    is_unit,
    parse_unit,
    split_unit,
)

CACHED_STREETS = 32_768
NO_HOUSE_NUMBER = "No house number."
NO_STREET = "A number without a street."
EMPTY = "No address."
NO_BOX = "A rural route without a box number."
TWO_READINGS = "It can be read in more than one way."
TWO_STREETS = "Two streets with a house number."

HOUSE_NUMBER = re.compile(
    r"(?P<number>\d+(?!(?:ST|ND|RD|TH)\b)[A-Z]{0,2}\b|\d+\.\d+|[A-Z]\d+[A-Z]?\b|"
    r"[NSEW]\d+[NSEW]\d+|\d+[NSEW]\d+)"
    r"(?:[ -]+(?P<fraction>\d{1,2}/\d{1,2})(?!\S)|"
    r" ?(?:-|&|/|\bAND\b|\bTO\b) ?(?P<to>\d+[A-Z]?)(?!\S)|-(?P<letter>[A-Z])(?!\S)|-(?P<tail>\w+))?"
    r"(?: (?P<rest>.+))?"
)
NUMBER_CONTINUES = re.compile(r"\d+/\d+\b|[-&/]|(?:AND|TO) \d|[A-DF-MO-RT-VX-Z] ")
POST_OFFICE_BOX = re.compile(
    r"(?:P ?O ?|POST OFFICE )(?:BOX|B|DRAWER)(?: #| NO| NUMBER)? ?(?P<box>[\w-]+)|"
    r"(?:POB|BOX)(?: #)? (?P<box2>\w*\d[\w-]*)"
)
RURAL_ROUTE = re.compile(
    r"(?P<kind>RURAL ROUTE|RURAL RTE|RURAL RT|R ?R|RFD|R F D|RURAL DELIVERY|"
    r"HC|H C|HIGHWAY CONTRACT(?: ROUTE)?|STAR ROUTE)"
    r"(?: #| NO)? ?(?P<route>\d+[A-Z]?)(?: (?:BOX|BX|#)(?: #| NO)? ?(?P<box>\w[\w-]*))?"
)
PLAIN_UNIT = re.compile(r"(?:APT|UNIT|STE|#) [1-9]\d*[A-Z]?")
LEADING_ZEROS = re.compile(r"^0+(?=\d)")
CROSSING = re.compile(r" (?:&|@|/|AT) | AND ")
CORNER_OF = re.compile(r"^(?:(?:[NS][EW] |NORTH|SOUTH)?(?:CORNER|COR|INTERSECTION|INT)(?: OF)? )")


class AddressKind(StrEnum):
    """What sort of place the text names."""

    STREET = "STREET"
    RANGE = "RANGE"
    FRACTION = "FRACTION"
    RURAL_ROUTE = "RURAL_ROUTE"
    INTERSECTION = "INTERSECTION"
    PO_BOX = "PO_BOX"
    UNPARSED = "UNPARSED"


class NormalAddress(NamedTuple):
    """An address in parts; equal keys mean equal places.

    `street` and `unit` are in Publication 28's spelling ("N MAIN ST", "APT 3"). `place` is what
    followed a comma and is no unit; it does not enter the key. Only an address that `is_place`
    may be matched by its key: a street without a house number is many places. `street_key` is
    the street as the key spells it, the same for all houses of the street.
    """

    number: str
    street: str
    unit: str
    key: str
    pre_direction: str = ""
    street_name: str = ""
    street_type: str = ""
    post_direction: str = ""
    fraction: str = ""
    range_to: str = ""
    kind: AddressKind = AddressKind.STREET
    place: str = ""
    problems: tuple[str, ...] = ()
    street_key: str = ""

    @property
    def text(self) -> str:
        """The address on one line, in Publication 28's spelling."""
        number = f"{self.number}-{self.range_to}" if self.range_to else self.number
        return " ".join(word for word in (number, self.fraction, self.street, self.unit) if word)

    @property
    def is_place(self) -> bool:
        """Whether the text names one premise, so that an equal key means the same premise."""
        if self.kind is AddressKind.RURAL_ROUTE:
            return NO_BOX not in self.problems
        return self.kind in (AddressKind.STREET, AddressKind.RANGE, AddressKind.FRACTION)


def normalize(text: str, unit: str = "") -> NormalAddress:
    """Read an address and bring it to one spelling; never raises, see `problems`.

    Parameters
    ----------
    text : str
        The delivery line, with or without unit; a place after a comma is set apart.
    unit : str, optional
        A unit that is written apart from the line: "3" and "Apt 3" are the same.

    Source: USPS Publication 28.

    Examples
    --------
    >>> normalize("12 N. Main Street Apt 3").key == normalize("12 NORTH MAIN ST #3").key
    True
    """
    if unit:
        return _with_unit(normalize(text), unit)
    number, _, rest = text.partition(" ")
    if number.isdecimal() and number.isascii() and number[0] != "0":
        tail = _after_number(rest)
        if tail is not None:
            # A plain tuple made into a NormalAddress: half the time of naming each field.
            return tuple.__new__(
                NormalAddress, (number, tail[0], tail[1], number + tail[2], *tail[3:])
            )
    return _from_any(text)


def _with_unit(address: NormalAddress, text: str) -> NormalAddress:
    """The address with a unit that stands in a column of its own; said twice it counts once."""
    unit = _unit_apart(text)
    if not unit.text or not address.is_place or address.key.endswith(f" {unit.key}") and unit.key:
        return address
    return address._replace(
        unit=f"{address.unit} {unit.text}" if address.unit else unit.text,
        key=f"{address.key} {unit.key}" if unit.key else address.key,
        problems=(*address.problems, unit.problem) if unit.problem else address.problems,
    )


@lru_cache(maxsize=CACHED_STREETS // 4)
def _unit_apart(text: str) -> Unit:
    return parse_unit(" ".join(parts(text)).split())


@lru_cache(maxsize=CACHED_STREETS)
def _street(text: str) -> Street:
    return parse_street(text.split())


@lru_cache(maxsize=CACHED_STREETS)
def _after_number(text: str) -> tuple | None:
    """The rest of a plain house number's address, its key without the number; None: not plain."""
    lines = parts(text)
    if not lines or text[0] in ",;-/&" or NUMBER_CONTINUES.match(lines[0]):
        return None
    found = _street_address("1", lines)
    if found.kind is not AddressKind.STREET or not _reads_the_same(found):
        return None
    return (found.street, found.unit, found.key[1:], *found[4:])


@lru_cache(maxsize=CACHED_STREETS // 4)
def _from_any(text: str) -> NormalAddress:
    lines = parts(text)
    if not lines:
        return NormalAddress("", "", "", "", kind=AddressKind.UNPARSED, problems=(EMPTY,))
    found = _read(lines)
    return found if _reads_the_same(found) else _unparsed(lines, TWO_READINGS)


def _read(lines: list[str]) -> NormalAddress:
    for reading in (_post_office_box, _rural_route, _numbered, _intersection):
        found = reading(lines)
        if found is not None:
            return found
    return _unparsed(lines, NO_HOUSE_NUMBER)


def _reads_the_same(found: NormalAddress) -> bool:
    """Whether the standard spelling reads as the same place; names made of other words may not."""
    if not found.is_place:
        return True
    plain_name = found.street_type and tables.vocabulary().isdisjoint(found.street_name.split())
    if plain_name and (not found.unit or PLAIN_UNIT.fullmatch(found.unit)):
        return True
    again = _read(parts(found.text))
    return again.key == found.key and again.kind == found.kind


def _unparsed(lines: list[str], problem: str) -> NormalAddress:
    text = " ".join(lines)
    return NormalAddress("", text, "", text, kind=AddressKind.UNPARSED, problems=(problem,))


def _post_office_box(lines: list[str]) -> NormalAddress | None:
    found = POST_OFFICE_BOX.fullmatch(lines[0])
    if not found:
        return None
    text = f"PO BOX {_without_zeros(found['box'] or found['box2'])}"
    return NormalAddress(
        "", text, "", text, kind=AddressKind.PO_BOX, place=" ".join(lines[1:]),
        problems=("A post office box is not where a service line is.",),
    )  # fmt: skip


def _rural_route(lines: list[str]) -> NormalAddress | None:
    if len(lines) > 1 and lines[1].startswith(("BOX", "BX", "#")):
        lines = [" ".join(lines[:2]), *lines[2:]]
    found = RURAL_ROUTE.fullmatch(lines[0])
    if not found:
        return None
    kind = "HC" if found["kind"][0] in "HS" else "RR"
    text = f"{kind} {_without_zeros(found['route'])}"
    if found["box"]:
        text += f" BOX {_without_zeros(found['box'])}"
    return NormalAddress(
        "", text, "", text, kind=AddressKind.RURAL_ROUTE, place=" ".join(lines[1:]),
        problems=() if found["box"] else (NO_BOX,),
    )  # fmt: skip


def _numbered(lines: list[str]) -> NormalAddress | None:
    found = HOUSE_NUMBER.fullmatch(lines[0])
    if not found:
        return None
    rest = found["rest"] or ""
    if not rest and (len(lines) == 1 or is_unit(lines[1].split())):
        return _unparsed(lines, NO_STREET)
    lines = [rest, *lines[1:]] if rest else lines[1:]
    number = _without_zeros(found["number"]) + (found["letter"] or "")
    if found["fraction"]:
        return _street_address(number, lines, fraction=found["fraction"])
    if found["to"]:
        return _hyphenated(number, found["to"], lines)
    if found["tail"]:
        return _street_address(f"{number}-{found['tail']}", lines)
    return _lettered(number, lines)


def _hyphenated(number: str, last: str, lines: list[str]) -> NormalAddress:
    """A range (11-13; 1101-07 is short for 1101-1107) or one hyphenated number (112-10)."""
    last_digits = last.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    if number.isdecimal():
        full = number[: -len(last_digits)] + last if len(number) > len(last_digits) else last
        if int(full.rstrip(last[len(last_digits) :] or " ")) > int(number):
            return _street_address(number, lines, range_to=_without_zeros(full))
    return _street_address(f"{number}-{last}", lines)


def _lettered(number: str, lines: list[str]) -> NormalAddress:
    """Join a letter set apart from its number (12 A MAIN ST) when a whole street follows it."""
    words = lines[0].split()
    letter = words[0]
    if (
        len(letter) == 1
        and letter.isalpha()
        and letter not in tables.directionals()
        and number.isdecimal()
        and words[1:2]
        and words[1] not in tables.suffixes()
        and is_complete(words[1:])
    ):
        return _street_address(number + letter, [" ".join(words[1:]), *lines[1:]])
    return _street_address(number, lines)


def _street_address(
    number: str, lines: list[str], *, fraction: str = "", range_to: str = ""
) -> NormalAddress:
    street_words, unit_words = split_unit(lines[0].split())
    place: list[str] = []
    for line in lines[1:]:
        words = line.split()
        if is_unit(words) and not place:
            unit_words += words
        else:
            place.append(line)
    if _crossing(" ".join(street_words), both=True):
        return _unparsed([number, *lines], TWO_STREETS)
    street = _street(" ".join(street_words))
    unit = parse_unit(unit_words) if unit_words else NO_UNIT
    return _assembled(number, fraction, range_to, street, unit, " ".join(place))


def _assembled(number, fraction, range_to, street, unit: Unit, place: str) -> NormalAddress:
    numbers = f"{number}-{range_to}" if range_to else number
    key = " ".join(word for word in (numbers, fraction, street.key, unit.key) if word)
    kind = AddressKind.STREET
    if range_to:
        kind = AddressKind.RANGE
    elif fraction:
        kind = AddressKind.FRACTION
    problems = (NO_NUMBER,) if unit.problem else ()
    return NormalAddress(
        number, street.text, unit.text, key, street.pre_direction, street.name, street.suffix,
        street.post_direction, fraction, range_to, kind, place, problems, street.key,
    )  # fmt: skip


def _intersection(lines: list[str]) -> NormalAddress | None:
    text = CORNER_OF.sub("", lines[0])
    sides = _crossing(text, corner=text != lines[0])
    if not sides:
        return None
    streets = [parse_street(side.split()) for side in sides]
    shown = " & ".join(street.text for street in streets)
    key = " & ".join(sorted(street.key for street in streets))
    return NormalAddress(
        "", shown, "", key, kind=AddressKind.INTERSECTION, place=" ".join(lines[1:]),
        problems=("An intersection, not a premise.",),
    )  # fmt: skip


def _crossing(text: str, *, corner: bool = False, both: bool = False) -> list[str]:
    """Both streets of an intersection; empty when the text is one street."""
    sides = CROSSING.split(text)
    if len(sides) != 2 or not all(sides):
        return []
    complete = [is_complete(side.split()) for side in sides]
    signed = not both and any(f" {sign} " in text for sign in "&@")
    return sides if corner or all(complete) or (signed and any(complete)) else []


def _without_zeros(number: str) -> str:
    return LEADING_ZEROS.sub("", number)
