"""Fields of a plan's settings that a person writes in words: days of every year, years, names."""

import re
from datetime import date, datetime
from itertools import count, groupby

from django import forms

MOST_YEARS = 60  # program years; a deadline lies nearer
_YEARS = re.compile(r"\d{1,4}(?:\s*-\s*\d{1,4})?")
_MARK = re.compile(r"(\d{1,2})\s*[-/]\s*(\d{1,2})")


class MonthDayField(forms.CharField):
    """A day of every year: `Dec 1`, `12/1` or `12-01`; [12, 1] in a file."""

    def prepare_value(self, value):
        return month_day_told(value) if isinstance(value, list | tuple) else value

    def to_python(self, value) -> list[int] | None:
        """Return [month, day]."""
        if value in self.empty_values:
            return None
        try:
            day = _month_day(value)
        except (TypeError, ValueError) as error:
            raise forms.ValidationError("Give a month and a day, such as Dec 1.") from error
        return [day.month, day.day]


def _month_day(value) -> date:
    """Return the day in a leap year, so that February 29 is one."""
    if isinstance(value, list | tuple):
        month, day = value
        return date(2028, month, day)
    text = " ".join(str(value).replace(".", " ").split())
    if match := _MARK.fullmatch(text):
        return date(2028, int(match[1]), int(match[2]))
    month, _, day = text.partition(" ")
    return datetime.strptime(f"{month[:3]} {day} 2028", "%b %d %Y").date()


def month_day_told(value) -> str:
    """Return [12, 1] as `Dec 1`; what is no day as it is."""
    try:
        return f"{_month_day(value):%b} {value[1]}"
    except (TypeError, ValueError):
        return str(value)


class YearsField(forms.CharField):
    """Program years: `4, 5` or `1-3`; [4, 5] in a file."""

    def prepare_value(self, value):
        return years_told(value) if isinstance(value, list) else value

    def to_python(self, value) -> list[int] | None:
        """Return the years in rising order; None for none."""
        years: set[int] = set()
        for part in value if isinstance(value, list) else str(value or "").split(","):
            text = str(part).strip()
            if not _YEARS.fullmatch(text):
                if text:
                    raise forms.ValidationError("Give program years, such as 4, 5 or 1-3.")
                continue
            first, _, last = text.partition("-")
            years.update(range(int(first), int(last or first) + 1))
            if int(first) < 1 or int(last or first) > MOST_YEARS or int(last or first) < int(first):
                raise forms.ValidationError(
                    f"Program years run from 1 to {MOST_YEARS}, the first not after the last."
                )
        return sorted(years) or None


def years_told(years: list[int]) -> str:
    """Return program years as they are written.

    >>> years_told([1, 2, 3, 7])
    '1-3, 7'
    """
    counted = count()
    runs = [list(run) for _, run in groupby(years, key=lambda year: year - next(counted))]
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


class NamesField(forms.CharField):
    """Names parted by commas; a list in a file."""

    def prepare_value(self, value):
        return ", ".join(map(str, value)) if isinstance(value, list) else value

    def to_python(self, value) -> list[str] | None:
        """Return the names; None for none."""
        parts = value if isinstance(value, list) else str(value or "").split(",")
        return [name for name in (str(part).strip() for part in parts) if name] or None


class DollarsField(forms.FloatField):
    """US dollars: `2,500,000` or `$2,500,000`."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def prepare_value(self, value):
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return f"{value:.2f}".removesuffix(".00") if number else value

    def to_python(self, value):
        """Return the number."""
        if isinstance(value, str):
            value = value.replace(",", "").replace(" ", "").removeprefix("$")
        return super().to_python(value)
