"""The crew's language: every text of a sheet is looked up whole, or by its pattern with its parts.

English is written in the code; Spanish is `replacements/locale/es`. A text with figures in it is
found by the pattern that it was made of, such as "{n} ft to the ladder". The phone does the same
with the same catalog (`phone/words.js`).
"""

import gettext
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path

LANGUAGES = {"en": "English", "es": "Español"}
FOLDER = Path(__file__).resolve().parent / "locale"
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"
_DAY = re.compile(rf"\b({'|'.join(MONTHS.split())}) (\d{{1,2}}), (\d{{4}})\b")
_PLACE = re.compile(r"(\{[^}]*\})")
_SENTENCE = re.compile(r"(?<=[.!?])(\s+)(?=[A-Z0-9])")
_DEEPEST = 4
_PARTICULAR = 12  # letters of a pattern that stand before the cutting into sentences
_LANGUAGE: ContextVar[str] = ContextVar("language of the sheet", default="en")


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Put what is said inside into a language; one that is not known is English."""
    token = _LANGUAGE.set(language if language in LANGUAGES else "en")
    try:
        yield
    finally:
        _LANGUAGE.reset(token)


def said(text: str) -> str:
    """Return a text in the language that is spoken; one that no catalog has stays as it is."""
    language = _LANGUAGE.get()
    return text if language == "en" else _said(text, catalog(language), language, 0)


@cache
def catalog(language: str) -> Mapping[str, str]:
    """Return English to its translation."""
    path = FOLDER / language / "LC_MESSAGES" / "django.mo"
    if not path.exists():
        return {}
    with path.open("rb") as file:
        found = gettext.GNUTranslations(file)._catalog
    return {key: told for key, told in found.items() if key and isinstance(key, str)}


@cache
def _patterns(language: str) -> list[tuple[int, re.Pattern, list[str], str]]:
    """Return the patterns of a language by what of them is fixed, the most particular first."""
    found = []
    for text, told in catalog(language).items():
        parts = _PLACE.split(text)
        if len(parts) > 1:
            source = "".join("(.+?)" if n % 2 else re.escape(part) for n, part in enumerate(parts))
            weight = sum(map(len, parts[::2]))
            found.append((weight, re.compile(source, re.DOTALL), parts[1::2], told))
    return sorted(found, key=lambda row: -row[0])


def _said(text: str, known: Mapping[str, str], language: str, depth: int) -> str:
    inner = text.strip()
    if not inner or inner in known:
        return text.replace(inner, known.get(inner, inner), 1)
    patterns = _patterns(language) if depth < _DEEPEST else []
    matched = _matched(inner, [row for row in patterns if row[0] >= _PARTICULAR])
    sentences = _SENTENCE.split(text)
    if matched is None and len(sentences) > 1:
        return "".join(_said(part, known, language, depth) for part in sentences)
    matched = matched or _matched(inner, [row for row in patterns if row[0] < _PARTICULAR])
    if matched is not None:
        told, parts = matched
        parts = [(name, _said(part, known, language, depth + 1)) for name, part in parts]
        return text.replace(inner, _filled(told, parts), 1)
    months = known.get(MONTHS, MONTHS).split()
    return _DAY.sub(lambda day: _day(day, months), text)


def _matched(inner: str, patterns: list[tuple]) -> tuple[str, list[tuple[str, str]]] | None:
    """Return the translation of the first pattern that fits, with what stands at its places."""
    for _, pattern, names, told in patterns:
        match = pattern.fullmatch(inner)
        if match:
            return told, list(zip(names, match.groups(), strict=True))
    return None


def _filled(told: str, parts: list[tuple[str, str]]) -> str:
    """Return a translation with its parts at their places; a name that comes twice goes in turn."""

    def one(place: re.Match) -> str:
        at = next((n for n, (name, _) in enumerate(parts) if name == place[0]), None)
        return place[0] if at is None else parts.pop(at)[1]

    return _PLACE.sub(one, told)


def _day(day: re.Match, months: list[str]) -> str:
    return f"{day[2]} {months[MONTHS.split().index(day[1])]} {day[3]}"
