"""The crew's language and units: every text of a sheet passes here.

English is written in the code; Spanish is `replacements/locale/es`. A text is looked up whole, or,
with figures in it, by the pattern that it was made of, such as "{n} ft to the ladder". For a crew
that measures in meters each figure is followed by its metric, and what is written in by hand is
asked for in it. The phone does the same with the same catalog (`phone/words.js`).
"""

import gettext
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path

from .domain.units import unit

LANGUAGES = {"en": "English", "es": "Español"}
FOLDER = Path(__file__).resolve().parent / "locale"
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"
_DAY = re.compile(rf"\b({'|'.join(MONTHS.split())}) (\d{{1,2}}), (\d{{4}})\b")
_PLACE = re.compile(r"(\{[^}]*\})")
_SENTENCE = re.compile(r"(?<=[.!?])(\s+)(?=[A-Z0-9])")
_DEEPEST = 4
_PARTICULAR = 12  # letters of a pattern that stand before the cutting into sentences
METRIC = {"ft": "m", "in.": "mm", "lb": "kN", "psi": "bar"}
_FIGURE = re.compile(
    r"(?<![\d/.,])(?:(?:(\d+)[- ])?(\d+)/(\d+)|(\d[\d,]*(?:\.\d+)?))[ \u00a0](ft|in\.|lb|psi)"
    r"(?![\w/-])(?! \([\d.]+ (?:m|mm|kN|bar)\))"
)
_BLANK = re.compile(r"(_{4,}) (ft|in|lb|psi)\b\.?(?![\w/-])")
_OF_BLANK = METRIC | {"in": METRIC["in."]}
_LANGUAGE: ContextVar[str] = ContextVar("language of the sheet", default="en")
_IS_METRIC: ContextVar[bool] = ContextVar("metric behind each figure", default=False)


@contextmanager
def speaking(language: str, metric: bool = False) -> Iterator[None]:
    """Put what is said inside into a language and units; one that is not known is English."""
    tokens = _LANGUAGE.set(language if language in LANGUAGES else "en"), _IS_METRIC.set(metric)
    try:
        yield
    finally:
        _LANGUAGE.reset(tokens[0])
        _IS_METRIC.reset(tokens[1])


def said(text: str) -> str:
    """Return a text in the crew's language and units; one that no catalog has stays as it is."""
    language = _LANGUAGE.get()
    told = text if language == "en" else _said(text, catalog(language), language, 0)
    return metric(told) if _IS_METRIC.get() else told


def metric(text: str) -> str:
    """Return a text with the metric behind each figure: what was given is not rounded away.

    Examples
    --------
    >>> metric("Stop at 3,840 lb; spoil 2 ft back; 1-1/4 in. pipe; set at ______ psi")
    'Stop at 3,840 lb (17.08 kN); spoil 2 ft (0.6096 m) back; 1-1/4 in. (31.75 mm) pipe; set at \
______ bar'
    """
    told = _FIGURE.sub(_with_metric, text)
    return _BLANK.sub(lambda blank: f"{blank[1]} {_OF_BLANK[blank[2]]}", told)


def _with_metric(figure: re.Match) -> str:
    ones, over, under, plain, named = figure.groups()
    value = float(plain.replace(",", "")) if plain else int(ones or 0) + int(over) / int(under)
    factor = unit(named).si / unit(METRIC[named]).si
    return f"{figure[0]} ({float(f'{value * float(factor):.4g}'):g} {METRIC[named]})"


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
