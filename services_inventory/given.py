"""Numbers of records as an address or a form gives them: read whole, or refused in a sentence.

A number that cannot be read is never taken for "none was given": that is another answer.
"""

from datetime import date

from django.core.exceptions import BadRequest

LONGEST = 18


class NotANumber(BadRequest):
    """An address or a form holds no number where it should; the message says where."""


def number_given(text: str | None, what: str) -> int | None:
    """Return the number that a form or an address gives, or None where it gives none.

    Parameters
    ----------
    what : what the number is of, to begin the sentence with

    Raises
    ------
    NotANumber: it gives something else, such as a number with a comma in it.
    """
    text = (text or "").strip()
    if not text:
        return None
    if text.isascii() and text.isdecimal() and len(text) <= LONGEST:
        return int(text)
    raise NotANumber(
        f"{what}: “{text[:40]}” is no number of a record, so nothing was done. "
        "Go back, load the page again and choose there."
    )


def day_and_number_given(text: str | None, what: str) -> tuple[date, int] | None:
    """Return the day and the number in "2031-01-15_1000001", the mark of a page, or None."""
    day, _, number = (text or "").strip().partition("_")
    try:
        known = (date.fromisoformat(day), number_given(number, what)) if day or number else None
    except ValueError:
        known = (None, None)
    if known and None in known:
        raise NotANumber(
            f"{what}: “{text[:40]}” is no place in this list. Begin at its first page."
        )
    return known
