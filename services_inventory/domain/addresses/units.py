"""The secondary unit of an address: apartment, suite, lot, floor."""

import re
from typing import NamedTuple

from services_inventory.domain.addresses import tables
from services_inventory.domain.addresses.streets import is_complete

BARE = re.compile(r"\d{1,5}[A-Z]?|[A-Z]-?\d{0,4}|[A-Z]{1,2}-\d{1,4}|\d{1,4}-[A-Z\d]{1,3}")
SURE = ("APT", "UNIT", "STE", "BLDG", "#")
LEADING_ZEROS = re.compile(r"(?<![\w.])0+(?=\w)")
NO_NUMBER = "The unit has no number."


class Unit(NamedTuple):
    """A unit as Publication 28 writes it (APT 3) and as the key does (# 3)."""

    text: str
    key: str
    problem: str = ""


NO_UNIT = Unit("", "")


def split_unit(words: list[str]) -> tuple[list[str], list[str]]:
    """Words of the street, words of the unit.

    Source: USPS Publication 28, section 213 and appendix C2.
    """
    for at in range(1, len(words)):
        if words[at] in tables.designators() and _starts_unit(words, at):
            return words[:at], words[at:]
    if len(words) > 2 and BARE.fullmatch(words[-1]) and _is_bare_unit(words):
        return words[:-1], words[-1:]
    return words, []


def is_unit(words: list[str]) -> bool:
    """Whether a part after a comma names a unit rather than a place."""
    return words[0] in tables.designators() or (len(words) == 1 and bool(BARE.fullmatch(words[0])))


def parse_unit(words: list[str]) -> Unit:
    """Standardize designators and identifiers; interchangeable designators share one key."""
    if not words:
        return NO_UNIT
    texts: list[str] = []
    keys: list[str] = []
    problem = ""
    for designator, identifier in _groups(words):
        known = tables.designators().get(designator)
        spelled = known.abbreviation if known else "#"
        identity = LEADING_ZEROS.sub("", " ".join(identifier))
        texts += [spelled, *([identity] if identity else [])]
        if known and known.needs_identifier and not identity:
            problem = NO_NUMBER
        elif known and not known.interchangeable:
            keys += [spelled, identity.replace("-", "")] if identity else [spelled]
        else:
            keys += ["#", identity.replace("-", "")]
    return Unit(" ".join(texts), " ".join(keys), problem)


def _groups(words: list[str]) -> list[tuple[str, list[str]]]:
    """Designators with the words that follow each: APT # 3 counts as one."""
    groups: list[tuple[str, list[str]]] = []
    for word in words:
        if word in tables.designators() and not (groups and groups[-1][0] and not groups[-1][1]):
            groups.append((word, []))
        elif word == "#":
            continue
        elif not groups:
            groups.append(("", [word]))
        elif groups[-1][0] == "#" and not groups[-1][1] and word in tables.designators():
            groups[-1] = (word, [])
        else:
            groups[-1][1].append(word)
    return groups


def _starts_unit(words: list[str], at: int) -> bool:
    designator = tables.designators()[words[at]]
    rest = words[at + 1 :]
    if words[at] == "#":
        return True
    if words[at] in ("NO", "NUM", "NUMBER") and not (rest and rest[0][0].isdigit()):
        return False
    if designator.abbreviation in SURE and rest and _is_identifier(rest[0]):
        return not (len(rest) == 1 and rest[0] in tables.suffixes())
    if not is_complete(words[:at]):
        return False
    if designator.needs_identifier and designator.abbreviation not in SURE:
        return bool(rest) and _is_identifier(rest[0])
    return not rest or _is_identifier(rest[0]) or designator.abbreviation in SURE


def _is_identifier(word: str) -> bool:
    return len(word) == 1 or any(c.isdigit() for c in word) or word in tables.designators()


def _is_bare_unit(words: list[str]) -> bool:
    before = words[:-1]
    if words[-1] in tables.directionals() and before[-1] not in tables.directionals():
        return False
    return is_complete(before)
