"""Headings that a Shapefile cut to ten characters, such as SYS_MATERI or INSTALL_DA.

A dBASE table, which a Shapefile keeps its columns in, has room for ten characters of a heading.
"""

from collections.abc import Sequence
from functools import cache
from itertools import accumulate

from services_inventory.domain.columns import FIELDS, one_word, words

ROOM = 10
FEWEST_LETTERS = 2
_SAY_NOTHING = frozenset({"side", "of", "the", "in", "owned"})


def ends_in_a_sign(heading: str) -> bool:
    """Whether a heading was cut between two words, so that nobody knows what followed."""
    return len(heading) == ROOM and not heading[-1].isalnum()


def fields_of_cut(heading: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return the fields that a heading may be the beginning of, and of these the likely ones.

    Likely is a field of which no whole word is lost. Both are empty for a heading of any other
    length than ten characters, and where less than two letters of the last word are left.
    """
    begun = words(heading)
    if len(heading) != ROOM or not begun or _says_nothing(begun[-1]):
        return frozenset(), frozenset()
    lost = [(field, _words_lost(begun, known)) for field, known in _known()]
    possible = frozenset(field for field, words_lost in lost if words_lost is not None)
    return possible, frozenset(field for field, words_lost in lost if words_lost == 0)


def _says_nothing(begun: str) -> bool:
    """Whether a word has one letter left, or may be the beginning of "side" and the like."""
    return len(begun) < FEWEST_LETTERS or any(word.startswith(begun) for word in _SAY_NOTHING)


@cache
def _known() -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(
        (field.key, tuple(words(heading)))
        for field in FIELDS.values()
        for heading in (field.key.replace("_", " "), *field.headings)
    )


def _words_lost(begun: Sequence[str], known: Sequence[str]) -> int | None:
    """How many whole words of a usual heading are lost; None where it does not begin so."""
    joined = list(accumulate(known))
    if len(begun) == 1 and joined[-1].startswith(begun[0]):
        return sum(len(part) >= ROOM for part in joined[:-1])
    *whole, last = begun
    whole = [word for word in whole if word not in _SAY_NOTHING]
    told = [word for word in known if word not in _SAY_NOTHING]
    if len(whole) >= len(told) or not all(map(_same, whole, told)):
        return None
    cut = any(form.startswith(last) for form in one_word(told[len(whole)]))
    return len(told) - len(whole) - 1 if cut else None


def _same(one: str, other: str) -> bool:
    return bool(one_word(one) & one_word(other))
