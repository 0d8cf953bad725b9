"""What a value of the rule, or a fact of the utility, may be: its kind, its unit and its range.

A State's value is typed by a person. A slip of theirs (a share of 0, the day 13-45, a deadline
in 1900) is told here in a sentence, before anything is computed by it. A range says only what
cannot be right; what can be right but moves much is for the rehearsal to show.
"""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import Any

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_MONTH_DAY = re.compile(r"\d{2}-\d{2}", re.ASCII)
_WHOLE = re.compile(r"\d{1,12}|\d{1,3}(?:,\d{3}){1,3}", re.ASCII)
_SHARE = re.compile(r"(\d{1,9}(?:\.\d{1,9})?)\s*(?:/\s*(\d{1,9})|(%))?", re.ASCII)
_TILES = re.compile(
    r"https://[A-Za-z0-9.-]{3,100}(?::\d{2,5})?/(?=\S*\{z\})(?=\S*\{x\})(?=\S*\{y\})"
    r'[^\s;,"<>]{1,180}|',
    re.ASCII,
)
_COMMON_YEAR = 2001  # a year without 29 February: a yearly day must be in every year
_MOST_QUOTED = 60
_MOST_ROWS = 40


class NotAllowed(ValueError):
    """What was given cannot be this value; fit to show."""


class Kind(StrEnum):
    """How a value is written."""

    DAY = "DAY"
    MONTH_DAY = "MONTH_DAY"
    SHARE = "SHARE"
    WHOLE = "WHOLE"
    MEASURE = "MEASURE"
    YES_NO = "YES_NO"
    CHOICE = "CHOICE"
    CHOICES = "CHOICES"
    ROWS = "ROWS"
    TEXT = "TEXT"
    PATTERN = "PATTERN"
    TILES = "TILES"  # address of the tiles of a map; may be empty


@dataclass(frozen=True, kw_only=True)
class Allowed:
    """The kind, unit and range of one value.

    least, most : bounds that belong to it, of the value's kind; characters for a text
    columns, rising : of a table of whole numbers, and which way its first column runs
    pattern : a regular expression that the whole text matches, and in `example` one that does
    safer : "less" or "more", where one way asks for more of the utility
    source : where the range is from, or "proposed here"
    """

    kind: Kind
    unit: str = ""
    least: Any = None
    most: Any = None
    one_of: tuple[str, ...] = ()
    columns: int = 0
    rising: bool = True
    pattern: str = ""
    example: str = ""
    may_be_none: bool = False
    safer: str = ""
    source: str

    def read(self, text: str) -> Any:
        """Return what a person typed as the value.

        Raises
        ------
        NotAllowed: it cannot be read, or lies outside the range; the sentence says what can.
        """
        text = text.strip()
        if self.may_be_none and text.lower() in ("", "none", "none set"):
            return None
        return self._checked(_READ[self.kind](self, text), text)

    def take(self, recorded: Any) -> Any:
        """Return a value as it is recorded (plain JSON) as the value; see `written`.

        Raises
        ------
        NotAllowed: it is of another kind, or lies outside the range.
        """
        if recorded is None and self.may_be_none:
            return None
        return self._checked(_TAKE[self.kind](self, recorded), recorded)

    def _checked(self, value: Any, given: Any) -> Any:
        if value is None:
            raise NotAllowed(f"{quoted(given)} can't be read. {self.hint}")
        measured = len(value) if self.kind is Kind.TEXT else value
        low = self.least is not None and measured < self.least
        if low or (self.most is not None and measured > self.most):
            raise NotAllowed(f"{quoted(given)} can't be right. {self.hint}")
        return value

    @property
    def hint(self) -> str:
        """What may be written, in one or two sentences."""
        none = " Or write none." if self.may_be_none else ""
        example = self.example or (shown(self.most) if self.most else "2035-12-31")
        return f"{_FORM[self.kind].format(unit=self.unit, example=example)}{self._range}{none}"

    @property
    def _range(self) -> str:
        if self.kind is Kind.TEXT:
            return f" At most {self.most} characters." if self.most else ""
        if self.kind in (Kind.CHOICE, Kind.CHOICES):
            return f" One of: {', '.join(self.one_of)}." if len(self.one_of) <= 12 else ""
        if self.least is None and self.most is None:
            return ""
        low = "" if self.least is None else f"from {_bound(self.least)} "
        high = "" if self.most is None else f"to {_bound(self.most)} "
        return f" It lies {low}{high}(range: {self.source})."

    def looser(self, value: Any, than: Any) -> bool:
        """Whether a value asks less of the utility than another; False where no way is safer."""
        if not self.safer or value is None or than is None:
            return False
        return value > than if self.safer == "less" else value < than


def _bound(value: Any) -> str:
    return f"{value:,}" if isinstance(value, int) else shown(value)


def quoted(given: Any) -> str:
    """Return what was given as a sentence names it, cut where it is long."""
    text = given if isinstance(given, str) else json.dumps(given, default=str)
    return f"“{text[:_MOST_QUOTED]}…”" if len(text) > _MOST_QUOTED else f"“{text}”"


def shown(value: Any) -> str:
    """Return a value as a page and an export write it; the same text is what a tick confirms."""
    if value is None:
        return "none set"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(shown(part) for part in value) or "none"
    return str(value)


def written(value: Any) -> Any:
    """Return a value as plain JSON, which `Allowed.take` reads again."""
    if isinstance(value, tuple):
        return [written(part) for part in value]
    return value if value is None or isinstance(value, bool | int | str) else str(value)


def typed(value: Any) -> str:
    """Return a value as a person would type it, which `Allowed.read` reads again."""
    if isinstance(value, tuple):
        return "\n".join(
            ", ".join(map(str, part)) if isinstance(part, tuple) else str(part) for part in value
        )
    return "" if value is None else shown(value)


# How each kind is read: None for what is not of the kind.


def _day(allowed: Allowed, text: Any) -> date | None:
    if not isinstance(text, str) or not _DAY.fullmatch(text):
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _month_day(allowed: Allowed, text: Any) -> str | None:
    if not isinstance(text, str) or not _MONTH_DAY.fullmatch(text):
        return None
    return text if _day(allowed, f"{_COMMON_YEAR}-{text}") else None


def _share(allowed: Allowed, text: Any) -> Fraction | None:
    found = _SHARE.fullmatch(str(text)) if isinstance(text, int | str) else None
    if not found or isinstance(text, bool):
        return None
    number, over, percent = found.groups()
    below = 100 if percent else int(over or 1)
    return Fraction(number) / below if below else None


def _whole(allowed: Allowed, text: str) -> int | None:
    return int(text.replace(",", "")) if _WHOLE.fullmatch(text) else None


def _number(allowed: Allowed, recorded: Any) -> int | None:
    return recorded if isinstance(recorded, int) and not isinstance(recorded, bool) else None


def _measure(allowed: Allowed, text: Any) -> Fraction | None:
    return None if "%" in str(text) else _share(allowed, text)


def _yes_no(allowed: Allowed, text: str) -> bool | None:
    return {"yes": True, "true": True, "no": False, "false": False}.get(text.lower())


def _choice(allowed: Allowed, text: Any) -> str | None:
    return text if text in allowed.one_of else None


def _words(allowed: Allowed, text: str) -> tuple[str, ...] | None:
    return _chosen(allowed, [word for word in re.split(r"[\s,;]+", text) if word])


def _chosen(allowed: Allowed, words: Any) -> tuple[str, ...] | None:
    if not isinstance(words, list) or any(word not in allowed.one_of for word in words):
        return None
    return tuple(one for one in allowed.one_of if one in words)


def _lines(allowed: Allowed, text: str) -> tuple | None:
    rows = [[_whole(allowed, cell.strip()) for cell in re.split(r"[;\t]|,(?!\d{3}\b)|\s+", line)
             if cell.strip()] for line in text.splitlines() if line.strip()]  # fmt: skip
    return _rows(allowed, rows)


def _rows(allowed: Allowed, rows: Any) -> tuple | None:
    if not isinstance(rows, list) or not 0 < len(rows) <= _MOST_ROWS:
        return None
    sound = all(isinstance(row, list) and len(row) == allowed.columns for row in rows)
    if not sound or any(_number(allowed, cell) is None for row in rows for cell in row):
        return None
    found = tuple(map(tuple, rows))
    firsts = [row[0] for row in found]
    return found if firsts == sorted(set(firsts), reverse=not allowed.rising) else None


def _text(allowed: Allowed, text: Any) -> str | None:
    return "\n".join(text.strip().splitlines()) if isinstance(text, str) else None


def _pattern(allowed: Allowed, text: Any) -> str | None:
    if not isinstance(text, str):
        return None
    code = re.sub(r"[\s-]", "", text).upper()  # as a paper may write an identifier
    tried = (text.strip(), code) if code.isalnum() else (text.strip(),)
    return next((one for one in tried if re.fullmatch(allowed.pattern, one, re.ASCII)), None)


def _tiles(allowed: Allowed, text: Any) -> str | None:
    sound = isinstance(text, str) and _TILES.fullmatch(text.strip())
    return text.strip() if sound else None


_READ = {
    Kind.DAY: _day, Kind.MONTH_DAY: _month_day, Kind.SHARE: _share, Kind.WHOLE: _whole,
    Kind.MEASURE: _measure, Kind.YES_NO: _yes_no, Kind.CHOICE: _choice, Kind.CHOICES: _words,
    Kind.ROWS: _lines, Kind.TEXT: _text, Kind.PATTERN: _pattern, Kind.TILES: _tiles,
}  # fmt: skip
_TAKE = _READ | {
    Kind.WHOLE: _number, Kind.CHOICES: _chosen, Kind.ROWS: _rows,
    Kind.YES_NO: lambda allowed, given: given if isinstance(given, bool) else None,
}  # fmt: skip
_FORM = {
    Kind.DAY: "Write a day such as {example}.",
    Kind.MONTH_DAY: "Write a month and day that every year has, such as 01-30.",
    Kind.SHARE: "Write an exact share such as 1/8, 0.125 or 12.5%.",
    Kind.WHOLE: "Write a whole number ({unit}).",
    Kind.MEASURE: "Write a number such as 2 or 2.5 ({unit}).",
    Kind.YES_NO: "Write yes or no.",
    Kind.CHOICE: "Choose one of those offered.",
    Kind.CHOICES: "Choose among those offered.",
    Kind.ROWS: "Write one row a line, its whole numbers parted by blanks ({unit}), in order.",
    Kind.TEXT: "Write a text.",
    Kind.PATTERN: "Write it like {example}.",
    Kind.TILES: "Write an address that begins with https, with {{z}}, {{x}} and {{y}} in its path.",
}


def bounds(kind: Kind, given: Iterable[object]) -> tuple[object, ...]:
    """Return bounds as a table of ranges writes them (days, whole numbers, texts), of the kind."""
    if kind in (Kind.SHARE, Kind.MEASURE):
        return tuple(None if one is None else Fraction(str(one)) for one in given)
    return tuple(given)
