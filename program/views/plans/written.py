"""Settings of a plan as a planner writes them: one place, year or season a line."""

from __future__ import annotations

import re

from program.queries.planning.checking import FIGURES

_DAY = r"\d{4}-\d{2}-\d{2}"
_MARK = r"(\d{1,2})-(\d{1,2})"
_SPAN = re.compile(rf"^(closed|only)\s+({_DAY})\s+to\s+({_DAY})$", re.IGNORECASE)
_ONLY_IN = re.compile(r"^only\s+in\s+(.+)$", re.IGNORECASE)
_SEASON = re.compile(rf"^{_MARK}\s+to\s+{_MARK}(?:\s*,\s*(\d+)\s+crews?)?$", re.IGNORECASE)
_QUOTA = re.compile(r"^([\d.]+)\s*%?(?:\s+in\s+(.+))?$", re.IGNORECASE)
_MOST_YEARS = 60
_YEARS = re.compile(r"^\d+(?:\s*-\s*\d+)?$")


class Unreadable(ValueError):
    """A line that is not of the form asked for; the message quotes it and shows one that is."""


def read_lines(text: str, example: str, read) -> list:
    """Read `name: value` lines with `read(name, value)`.

    Raises
    ------
    Unreadable: a line has no colon, or `read` refuses it with a ValueError.
    """
    found = []
    for line in filter(None, map(str.strip, text.splitlines())):
        name, colon, value = line.rpartition(":")
        try:
            if not (colon and name.strip()):
                raise ValueError(line)
            found.append(read(name.strip(), value.strip()))
        except ValueError as error:
            raise Unreadable(f"{line!r} can't be read: write it as {example}.") from error
    return found


def crews_by_year(text: str) -> dict[str, int]:
    """Read crews by program year: `3-5: 4`."""
    return _by_year(text, "3: 4, or 3-5: 4 for several program years", int)


def budget_by_year(text: str) -> dict[str, float]:
    """Read US dollars by program year: `1: 2,500,000`."""
    example = "1: 2,500,000, or 1-3: 2,500,000 for several program years"
    return _by_year(text, example, lambda value: float(value.replace(",", "").lstrip("$")))


def _by_year(text: str, example: str, number) -> dict:
    pairs = read_lines(text, example, lambda name, value: (years_of(name), number(value)))
    return {str(year): value for years, value in pairs for year in years}


def years_of(text: str) -> list[int]:
    """Read program years written as `4, 5` or `1-3`."""
    years: list[int] = []
    for part in map(str.strip, text.split(",")):
        if not _YEARS.match(part):
            raise ValueError(text)
        first, _, last = part.partition("-")
        years += range(int(first), min(int(last or first), int(first) + _MOST_YEARS) + 1)
    if not years or max(years) > _MOST_YEARS:
        raise ValueError(text)
    return years


def seasons(text: str) -> list[dict]:
    """Read seasons: `Winter: 12-01 to 03-31, 1 crew`."""

    def read(name: str, value: str) -> dict:
        match = _SEASON.match(value)
        if not match:
            raise ValueError(value)
        m1, d1, m2, d2, crews = match.groups()
        return {
            "name": name,
            "first": [int(m1), int(d1)],
            "last": [int(m2), int(d2)],
            "crews": None if crews is None else int(crews),
        }

    return read_lines(text, "Winter: 12-01 to 03-31, 1 crew", read)


def closures(text: str) -> tuple[dict[str, list[int]], list[dict]]:
    """Read closed program years and windows by place, in any of their four forms."""
    example = (
        "Saltmarket: 4, 5 or Brine St: closed 2028-04-01 to 2031-03-31 or Brine St: only "
        "2029-06-01 to 2029-08-31 or Brine St: only in Winter"
    )
    closed: dict[str, list[int]] = {}
    windows: list[dict] = []
    for place, found in read_lines(text, example, lambda name, value: (name, _closure(value))):
        if isinstance(found, dict):
            windows.append({"place": place, **found})
        else:
            closed.setdefault(place, []).extend(found)
    return closed, windows


def _closure(value: str) -> dict | list[int]:
    if match := _SPAN.match(value):
        kind, first, last = match.groups()
        return {"kind": kind.upper(), "first": first, "last": last}
    if match := _ONLY_IN.match(value):
        return {"kind": "SEASONS", "seasons": [one.strip() for one in match[1].split(",")]}
    return years_of(value)


def quotas(text: str) -> dict[str, float | dict]:
    """Read least shares of each year's jobs by place: `Gasworks + Brine St: 15 in 1-3`."""

    def read(name: str, value: str):
        match = _QUOTA.match(value)
        if not match:
            raise ValueError(value)
        share = float(match[1]) / 100
        return name, {"share": share, "years": years_of(match[2])} if match[2] else share

    return dict(read_lines(text, "Gasworks: 15, or Gasworks + Brine St: 15 in 1-3", read))


def figures(text: str) -> dict[str, dict[str, float]]:
    """Read figures by neighborhood: `Saltmarket: need index 7.5, lead results 3`."""

    def read(name: str, value: str):
        found = {}
        for part in map(str.strip, value.split(",")):
            what, _, number = part.rpartition(" ")
            key = "_".join(what.lower().split())
            if key not in FIGURES:
                raise ValueError(part)
            found[key] = float(number)
        return name, found

    example = "Saltmarket: need index 7.5, coordinated work 1, lead results 3"
    return dict(read_lines(text, example, read))


def month_day(text: str) -> list[int]:
    """Read the first or last day of the frost season: `12-01`."""
    match = re.match(rf"^{_MARK}$", text.strip())
    if not match:
        raise Unreadable(
            "Give both the first and the last day of the frost season as month-day, such as 12-01 "
            "and 03-15."
        )
    return [int(part) for part in match.groups()]


def days_off(text: str) -> list[list[str]]:
    """Read days off: `2028-07-03`, or `2028-12-24 to 2029-01-02`."""
    found = []
    for line in filter(None, map(str.strip, text.splitlines())):
        match = re.fullmatch(rf"({_DAY})(?:\s+to\s+({_DAY}))?", line, re.IGNORECASE)
        if not match:
            raise Unreadable(
                f"{line!r} can't be read: write it as 2028-07-03 or 2028-12-24 to 2029-01-02."
            )
        found.append([match[1], match[2] or match[1]])
    return found


def as_written(asked) -> dict[str, str]:
    """Return the settings of a plan as the same lines, for its form to show.

    Parameters
    ----------
    asked : PlanAsked
    """
    return {
        "crews_by_year": _lines(asked.crews_by_year.items(), "{}: {}"),
        "budget_by_year": _lines(
            ((year, f"{money:,.0f}") for year, money in asked.budget_by_year.items()), "{}: {}"
        ),
        "seasons": "\n".join(_season(row) for row in asked.seasons),
        "closures": "\n".join(
            [
                *(f"{place}: {_list(years)}" for place, years in asked.closed_years.items()),
                *(f"{row['place']}: {_window(row)}" for row in asked.windows),
            ]
        ),
        "figures": "\n".join(
            f"{hood}: " + ", ".join(f"{key.replace('_', ' ')} {n:g}" for key, n in own.items())
            for hood, own in asked.figures.items()
        ),
        "quotas": "\n".join(f"{place}: {_quota(one)}" for place, one in asked.quotas.items()),
        "days_off": "\n".join(
            first if first == last else f"{first} to {last}" for first, last in asked.days_off
        ),
        "frost_from": "{:02d}-{:02d}".format(*asked.frost[0]) if asked.frost else "",
        "frost_to": "{:02d}-{:02d}".format(*asked.frost[1]) if asked.frost else "",
    }


def _lines(pairs, form: str) -> str:
    return "\n".join(form.format(*pair) for pair in pairs)


def _list(years) -> str:
    return ", ".join(map(str, years))


def _season(row: dict) -> str:
    days = "{:02d}-{:02d} to {:02d}-{:02d}".format(*row["first"], *row["last"])
    crews = row.get("crews")
    return f"{row['name']}: {days}" + (
        "" if crews is None else f", {crews} crew{'' if crews == 1 else 's'}"
    )


def _window(row: dict) -> str:
    if row["kind"] == "SEASONS":
        return f"only in {', '.join(row['seasons'])}"
    return f"{row['kind'].lower()} {row['first']} to {row['last']}"


def _quota(quota) -> str:
    if not isinstance(quota, dict):
        return f"{100 * quota:g}"
    years = quota.get("years")
    return f"{100 * quota['share']:g}" + (f" in {_list(years)}" if years else "")
