"""What is sent, read as it is written: nothing dropped, nothing nested without end.

Source: RFC 8259 leaves repeated names, NaN and lone surrogates to the reader; RFC 7493 (I-JSON)
forbids all three, and so do we.
"""

import json
import re
from collections.abc import Iterator
from difflib import get_close_matches
from math import isfinite

from rest_framework import serializers
from rest_framework.parsers import JSONParser

from .problems import Problem, escaped

DEPTH = 12
VALUES = 20_000
_SIGNS = re.compile(rb'"(?:[^"\\]|\\.)*"|[\[{]|[\]}]|,', re.DOTALL)


class ExactJSONParser(JSONParser):
    """JSON of at most 12 levels and 20,000 values, each name once, in Unicode that can be kept."""

    def parse(self, stream, media_type=None, parser_context=None):
        """Return what the body holds, or refuse it by a sentence that says where it breaks."""
        content = stream.read()
        _refuse_endless(content)
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise _unread(f"Byte {error.start + 1:,} of the body is not UTF-8.") from error
        try:
            found = json.loads(
                text,
                parse_constant=_no_number,
                parse_float=_finite,
                object_pairs_hook=_once_each,
            )
        except json.JSONDecodeError as error:
            where = f"line {error.lineno:,}, column {error.colno:,}"
            raise _unread(f"The body is not JSON: {error.msg} at {where}.") from error
        except ValueError as error:
            raise _unread("The body holds a number that is too long to be one.") from error
        _refuse_halves(found, "")
        return found


def _unread(sentence: str, pointer: str | None = None) -> Problem:
    more = {} if pointer is None else {"errors": [{"pointer": pointer, "detail": sentence}]}
    return Problem(400, "parse-error", sentence, **more)


def _refuse_endless(content: bytes) -> None:
    """Refuse what is nested too deep or holds too much before anything is built of it."""
    depth = values = 0
    for sign in _SIGNS.finditer(content):
        first = sign[0][:1]
        depth += (first in b"[{") - (first in b"]}")
        values += first in b"[{,"
        if depth > DEPTH:
            raise _unread(f"The body is nested deeper than {DEPTH} levels; nothing here is.")
        if values > VALUES:
            raise _unread(f"The body holds more than {VALUES:,} values; send it in parts.")


def _no_number(word: str):
    raise _unread(f"{word} is no number that can be kept; leave out what is not known.")


def _finite(written: str) -> float:
    number = float(written)
    return number if isfinite(number) else _no_number(written[:40])


def _once_each(pairs: list[tuple[str, object]]) -> dict:
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _unread(f"The name {_shown(twice)} stands twice in one object; say which holds.")
    return made


def _refuse_halves(value, pointer: str) -> None:
    """Refuse half of a surrogate pair, which no text can hold, and NUL, in names and values."""
    if isinstance(value, str) and _unkept(value):
        said = "The text holds a sign that cannot be kept: NUL, or half of a surrogate pair."
        raise _unread(said, pointer)
    if isinstance(value, dict):
        for name, inner in value.items():
            _refuse_halves(name, pointer)
            _refuse_halves(inner, f"{pointer}/{escaped(name)}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            _refuse_halves(inner, f"{pointer}/{place}")


def _unkept(text: str) -> bool:
    return any(sign == "\0" or "\ud800" <= sign <= "\udfff" for sign in text)


def strange(field, data, pointer: str = "") -> Iterator[dict]:
    """Yield a sentence and its JSON Pointer for each name that no field takes, however deep."""
    if isinstance(field, serializers.ListSerializer) and isinstance(data, list):
        for place, row in enumerate(data):
            yield from strange(field.child, row, f"{pointer}/{place}")
    elif isinstance(field, serializers.Serializer) and hasattr(data, "keys"):
        known = {name: inner for name, inner in field.fields.items() if not inner.read_only}
        for name in data:
            here = f"{pointer}/{escaped(name)}"
            if name in known:
                yield from strange(known[name], data[name], here)
            else:
                yield {"pointer": here, "detail": _not_known(name, list(known))}


def _not_known(name: str, known: list[str]) -> str:
    near = get_close_matches(name, known, n=1, cutoff=0.7)
    meant = f" Is it {near[0]}?" if near else f" There is: {', '.join(known)}."
    return f"There is no field {_shown(name)} here.{meant}"


def _shown(name: str) -> str:
    return repr(name if len(name) <= 40 else f"{name[:40]}…")
