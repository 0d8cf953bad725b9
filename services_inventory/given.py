"""Numbers of records as an address or a form gives them: read whole, or refused in a sentence.

A number that cannot be read is never taken for "none was given": that is another answer.
"""

from datetime import date

from django.core.exceptions import BadRequest
from django.db import DataError
from django.http import Http404, QueryDict

LONGEST = 18


class NotANumber(BadRequest):
    """An address or a form holds no number where it should; the message says where."""


def texts_are_texts(get_response):
    """Refuse an address or a form with a zero byte, which no keyboard types and no database keeps.

    A form is read once it is known to be one of ours; interfaces look at each field themselves.
    One that comes as an escape, in JSON or in a file, is met by the database: the same sentence.

    Raises
    ------
    NotANumber: there is one; the message says where, and what to do.
    Http404: it is part of the path, where nothing lies.
    """

    def answer(request):
        if "\0" in request.path_info:
            raise Http404
        if _with_zero_byte(request.GET):
            raise NotANumber("The address holds a character that is no text. Type it anew.")
        return get_response(request)

    def process_view(request, view, args, kwargs) -> None:
        exempt = request.method != "POST" or getattr(view, "csrf_exempt", False)
        if names := () if exempt else _with_zero_byte(request.POST):
            raise NotANumber(
                f"“{names[0]}” holds a character that is no text, so nothing was done. "
                "Go back, take it out or type it anew, and send it again."
            )

    def process_exception(request, error) -> None:
        if isinstance(error, DataError) and any(sign in str(error) for sign in _ZERO_BYTE):
            raise NotANumber(
                "What was sent holds a zero byte (\\u0000), which is no text, so nothing was done. "
                "Take it out, and send it again."
            ) from error

    answer.process_view, answer.process_exception = process_view, process_exception
    return answer


# As PostgreSQL and its driver call it; SQLite keeps it.
_ZERO_BYTE = ("NUL (0x00)", "\\u0000")


def _with_zero_byte(sent: QueryDict) -> list[str]:
    return [name for name, texts in sent.lists() if any("\0" in text for text in (name, *texts))]


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
