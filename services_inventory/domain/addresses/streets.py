"""The street of an address: directionals, name, suffix, and the name as the key spells it."""

import re
from typing import NamedTuple

from services_inventory.domain.addresses import tables

GLUED_HIGHWAY = re.compile(r"(I|IH|US|SR|CR|FM|SH|HWY)-?(\d+[A-Z]?)")
NUMERAL = re.compile(r"0*(\d+)(ST|ND|RD|TH)?")
LETTERED_HIGHWAYS = ("COUNTY HIGHWAY", "COUNTY ROAD", "STATE ROUTE", "STATE HIGHWAY")
HIGHWAY_SUFFIXES = ("HWY", "RTE", "LOOP", "EXPY")
FIRST_WORDS = {"ST": "SAINT", "MT": "MOUNT", "FT": "FORT", "AVE": "AVENUE", "AV": "AVENUE"}


class Street(NamedTuple):
    """A street in Publication 28's spelling; `key` spells the name out one way only."""

    pre_direction: str
    name: str
    suffix: str
    post_direction: str
    text: str
    key: str


def parse_street(words: list[str]) -> Street:
    """Split the words of a street, house number and unit already taken off.

    Source: USPS Publication 28, sections 233 (directionals) and 234 (suffixes), appendix F.
    """
    pre, words = _take_pre_direction(words)
    words, is_highway = standard_highway(words)
    post, words = _take_post_direction(words)
    suffix = ""
    if len(words) > 1 and words[-1] in tables.suffixes():
        suffix = tables.suffixes()[words[-1]].abbreviation
        words = words[:-1]
    name = " ".join(words)
    key_name = name if is_highway else " ".join(_key_words(words, suffix))
    text = _joined(pre, name, suffix, post)
    key = _joined(pre, key_name, suffix, post)
    return Street(pre, name, suffix, post, text, key)


def is_complete(words: list[str]) -> bool:
    """Whether the words already end as a street ends, so that more words mean a unit."""
    if len(words) < 2:
        return False
    last = words[-1]
    if last in tables.directionals():
        return len(words) > 2 or words[0] not in tables.suffixes()
    if last in tables.suffixes():
        return tables.suffixes()[last].abbreviation not in HIGHWAY_SUFFIXES and not _names_highway(
            words
        )
    return last[0].isdigit() and standard_highway(words[-4:])[1]


def standard_highway(words: list[str]) -> tuple[list[str], bool]:
    """Spell a numbered highway as appendix F does (CR 5: COUNTY ROAD 5), where it is one."""
    start = 1 if words and (words[0] == "OLD" or words[0] in tables.directionals()) else 0
    glued = GLUED_HIGHWAY.fullmatch(words[start]) if len(words) > start else None
    if glued:
        words = [*words[:start], *glued.groups(), *words[start + 1 :]]
    for length in (4, 3, 2, 1):
        standard = tables.highway_names().get(tuple(words[start : start + length]))
        number = words[start + length : start + length + 1]
        if standard and number and _is_highway_number(number[0], standard):
            return [*words[:start], *standard.split(), *words[start + length :]], True
    return words, False


def _names_highway(words: list[str]) -> bool:
    start = 1 if words[0] == "OLD" or words[0] in tables.directionals() else 0
    return tuple(words[start:]) in tables.highway_names()


def _is_highway_number(word: str, standard: str) -> bool:
    if word[0].isdigit():
        return NUMERAL.fullmatch(word) is None or not word.endswith(("ST", "ND", "RD", "TH"))
    return standard in LETTERED_HIGHWAYS and len(word) <= 2 and word not in tables.suffixes()


def _take_pre_direction(words: list[str]) -> tuple[str, list[str]]:
    directions = tables.directionals()
    if len(words) < 2 or words[0] not in directions or _is_name_by_itself(words[1:]):
        return "", words
    first = directions[words[0]]
    second = directions.get(words[1], "")
    if first in "NS" and second in ("E", "W") and not _is_name_by_itself(words[2:]):
        return first + second, words[2:]
    return first, words[1:]


def _is_name_by_itself(rest: list[str]) -> bool:
    """Whether nothing but suffix and directional follow, so that the word before is the name."""
    directions, suffixes = tables.directionals(), tables.suffixes()
    if not rest:
        return True
    if rest[0] in directions:
        return len(rest) == 1
    return rest[0] in suffixes and (len(rest) == 1 or (len(rest) == 2 and rest[1] in directions))


def _take_post_direction(words: list[str]) -> tuple[str, list[str]]:
    directions = tables.directionals()
    if len(words) < 2 or words[-1] not in directions:
        return "", words
    last = directions[words[-1]]
    before = directions.get(words[-2], "")
    if len(words) > 2 and before in ("N", "S") and last in ("E", "W"):
        return before + last, words[:-2]
    return last, words[:-1]


def _key_words(words: list[str], suffix: str) -> list[str]:
    """Spell the name one way: SAINT for ST, 1ST for FIRST, CREEK for CRK."""
    numeral = tables.ordinal_words().get(tuple(words))
    if numeral:
        return [numeral] if suffix else words
    if len(words) == 1 and (found := NUMERAL.fullmatch(words[0])):
        return [_ordinal(found[1]) if found[2] or suffix else found[1]]
    keyed = [FIRST_WORDS.get(words[0], words[0]), *words[1:]]
    in_full = tables.suffix_in_full()
    for at in range(1, len(words)):
        if words[at] == "ST" and at < len(words) - 1:
            keyed[at] = "SAINT"
        elif suffix or at < len(words) - 1:
            keyed[at] = in_full.get(words[at], words[at])
    return keyed


def _ordinal(digits: str) -> str:
    ending = (
        "TH" if digits[-2:-1] == "1" else {"1": "ST", "2": "ND", "3": "RD"}.get(digits[-1], "TH")
    )
    return digits + ending


def _joined(*words: str) -> str:
    return " ".join(word for word in words if word)
