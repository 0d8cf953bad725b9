"""What is wrong with a layout's content: each fault with the key it concerns and what to do."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches

from program.submissions.derived import parts_of
from program.submissions.tables import CODES, DATES, SHEETS
from program.submissions.toml_places import Path, nearest, places

SHEET_NAME_MAX = 27  # a worksheet's name holds 31 characters; a second sheet adds its number
ID_MAX, HEADING_MAX = 40, 200
RECOUNTED = ("category", "connector", "yes_no", "cause")  # two codes must not share one word
_ID = re.compile(r"[a-z0-9][a-z0-9_-]*")
_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")
_WILD = re.compile(r"[*?~]|^[=<>]")
_OWN_SHEETS = ("summary", "recount by hand", "validation", "deferred deadline", "columns", "notes")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong; line and column are from 1, None where the text has no place."""

    path: Path
    sentence: str
    line: int | None = None
    column: int | None = None

    def __str__(self):
        where = f"Line {self.line}, column {self.column}: " if self.line else ""
        return where + self.sentence


def faults_in(content: Mapping, text: str) -> list[Fault]:
    """Return every fault of a layout read from a text, in the order of their places."""
    where = places(text)
    found = []
    for fault in _faults(content):
        line, column = nearest(fault.path, where) or (None, None)
        found.append(replace(fault, line=line, column=column))
    return sorted(found, key=lambda fault: (fault.line or 0, fault.column or 0))


def _near(word: str, known: Iterable[str]) -> str:
    close = get_close_matches(word, list(known), n=3, cutoff=0.6)
    return f" Did you mean {' or '.join(close)}?" if close else f" Known: {', '.join(known)}."


def _faults(content: Mapping) -> Iterator[Fault]:
    yield from _unknown(content, ("layout", "sheets", "codes"), "the part", "", ())
    about = content.get("layout")
    if not isinstance(about, dict):
        yield Fault(("layout",), "The part [layout] with id and name is missing.")
        about = {}
    else:
        yield from _about_faults(about)
    for part, example in (("sheets", "lines"), ("codes", "category")):
        if not isinstance(content.get(part, {}), dict):
            yield Fault((part,), f"'{part}' must be a table, such as [{part}.{example}].")
            return
    yield from _sheet_faults(content.get("sheets", {}))
    for key, words in content.get("codes", {}).items():
        yield from _code_faults(key, words)


def _about_faults(about: Mapping) -> Iterator[Fault]:
    known = ("id", "name", "description", "dates")
    yield from _unknown(about, known, "the entry", " of [layout]", ("layout",))
    for key in ("id", "name"):
        if not _is_text(about.get(key)):
            yield Fault(("layout", key), f"[layout] needs a text '{key}'.")
        elif len(about[key]) > HEADING_MAX:
            yield Fault(("layout", key), f"The {key} is longer than {HEADING_MAX} characters.")
    name = about.get("id")
    if _is_text(name) and not (_ID.fullmatch(name) and len(name) <= ID_MAX):
        yield Fault(
            ("layout", "id"),
            f"The id '{name[:60]}' may hold small letters, digits, _ and -, at most "
            f"{ID_MAX}: such as county_one.",
        )
    if not isinstance(about.get("description", ""), str):
        yield Fault(("layout", "description"), "The description must be a text.")
    if about.get("dates", "ISO") not in tuple(DATES):
        said = f'\'dates\' of [layout] is {about["dates"]!r}: write "ISO" or "US".'
        yield Fault(("layout", "dates"), said)


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _unknown(given: Mapping, known: Iterable[str], what: str, where: str, path: Path):
    for key in given:
        if key not in known:
            said = f"{what.capitalize()} '{key}'{where} is not known.{_near(key, known)}"
            yield Fault((*path, key), said)


def _sheet_faults(sheets: Mapping) -> Iterator[Fault]:
    yield from _unknown(sheets, SHEETS, "the sheet", "", ("sheets",))
    known = {key: sheet for key, sheet in sheets.items() if key in SHEETS}
    for key, sheet in known.items():
        path = ("sheets", key)
        if not isinstance(sheet, dict):
            yield Fault(path, f"'sheets.{key}' must be a table [sheets.{key}].")
            return
        entries = ("name", "columns", "constants")
        yield from _unknown(sheet, entries, "the entry", f" of [sheets.{key}]", path)
        if "name" in sheet:
            yield from _name_faults(key, sheet["name"])
        constants = sheet.get("constants", {})
        if "columns" in sheet:
            added = constants if isinstance(constants, dict) else ()
            yield from _column_faults(key, sheet["columns"], added)
        yield from _constant_faults(key, constants, sheet.get("columns", {}))
    yield from _same_names(known)


def _same_names(sheets: Mapping) -> Iterator[Fault]:
    names = {key: str(sheets.get(key, {}).get("name", SHEETS[key].name)).lower() for key in SHEETS}
    for name, times in Counter([*names.values(), *_OWN_SHEETS]).items():
        if times > 1:
            named = [key for key in sheets if names[key] == name]
            path = ("sheets", named[-1], "name") if named else ()
            yield Fault(path, f"Two sheets are called '{name}': give each its own name.")


def _name_faults(key: str, name: object) -> Iterator[Fault]:
    path = ("sheets", key, "name")
    if not _is_text(name):
        yield Fault(path, f"The name of [sheets.{key}] must be a text.")
    elif len(name) > SHEET_NAME_MAX:
        yield Fault(
            path,
            f"The name '{name}' of [sheets.{key}] has {len(name)} characters: "
            f"a sheet's name holds {SHEET_NAME_MAX}.",
        )
    elif _FORBIDDEN.search(name) or not name.isprintable() or name.strip("'") != name:
        yield Fault(
            path,
            f"The name '{name}' of [sheets.{key}] holds a character that a sheet's name must "
            "not have: [ ] : * ? / \\ or an apostrophe at either end.",
        )
    elif name.lower() == "history":
        said = f"The name of [sheets.{key}] is kept by spreadsheets for themselves: choose another."
        yield Fault(path, said)


def _constant_faults(key: str, constants: object, columns: object) -> Iterator[Fault]:
    path = ("sheets", key, "constants")
    if not isinstance(constants, dict):
        yield Fault(path, f"'sheets.{key}.constants' must be a table [sheets.{key}.constants].")
        return
    taken = (*SHEETS[key].row._fields, *parts_of(SHEETS[key].row._fields))
    for name, value in constants.items():
        if name in taken:
            said = f"'{name}' is a column of the record, which has a value of its own on each row."
            yield Fault((*path, name), f"{said} Give the constant another name.")
        elif not _is_text(value) or not value.isprintable() or len(value) > HEADING_MAX:
            said = f"The value of '{name}' in [sheets.{key}.constants] must be a text of one line"
            yield Fault((*path, name), f"{said}, at most {HEADING_MAX} characters, in quotes.")
        elif not isinstance(columns, dict) or name not in columns:
            said = f"The constant '{name}' stands in no column. Add a line {name} = \"Heading\""
            yield Fault((*path, name), f"{said} to [sheets.{key}.columns], where it is to stand.")


def _column_faults(key: str, columns: object, constants: Iterable[str]) -> Iterator[Fault]:
    standard, path = SHEETS[key], ("sheets", key, "columns")
    if not isinstance(columns, dict) or not columns:
        said = f'[sheets.{key}.columns] must list at least one column as key = "Heading".'
        yield Fault(path, said)
        return
    fields = standard.row._fields
    known = (*fields, *parts_of(fields), *constants)
    yield from _unknown(columns, known, "the column", f" of [sheets.{key}.columns]", path)
    for column, heading in columns.items():
        if not _is_text(heading) or not heading.isprintable():
            said = f"The heading of '{column}' in [sheets.{key}.columns] must be a text."
            yield Fault((*path, column), said)
        elif len(heading) > HEADING_MAX:
            said = f"The heading of '{column}' has more than {HEADING_MAX} characters: shorten it."
            yield Fault((*path, column), said)
    yield from _same_headings(key, columns)
    for needed in standard.needed:
        if needed not in columns:
            said = f"[sheets.{key}.columns] lacks '{needed}': the totals are recounted from it."
            yield Fault(path, f'{said} Add a line {needed} = "Heading".')


def _same_headings(key: str, columns: Mapping) -> Iterator[Fault]:
    over: dict[str, list[str]] = {}
    for column, heading in columns.items():
        over.setdefault(str(heading).strip().casefold(), []).append(column)
    for heading, keys in over.items():
        if len(keys) > 1:
            said = f"The heading '{heading}' stands over {' and '.join(keys)} of [sheets.{key}]."
            yield Fault(("sheets", key, "columns", keys[-1]), f"{said} Give each its own.")


def _code_faults(key: str, words: object) -> Iterator[Fault]:
    path = ("codes", key)
    if key not in CODES:
        yield Fault(path, f"The set of codes '{key}' is not known.{_near(key, CODES)}")
        return
    if not isinstance(words, dict):
        yield Fault(path, f"'codes.{key}' must be a table [codes.{key}].")
        return
    yield from _unknown(words, CODES[key], "the code", f" of [codes.{key}]", path)
    for code in CODES[key]:
        yield from _word_faults(key, code, words)
    if key in RECOUNTED:
        yield from _same_words(key, words)


def _word_faults(key: str, code: str, words: Mapping) -> Iterator[Fault]:
    path, word = ("codes", key, code), words.get(code)
    if code not in words:
        said = f'[codes.{key}] has no word for {code}. Add a line {code} = "word".'
        yield Fault(path, said)
    elif not _is_text(word) or not word.isprintable():
        yield Fault(path, f"The word for {code} in [codes.{key}] must be a text.")
    elif key in RECOUNTED and _WILD.search(word):
        yield Fault(
            path,
            f"The word '{word}' for {code} in [codes.{key}] holds * ? or ~, or starts with "
            "= < or >: a spreadsheet's count would take it for a pattern.",
        )


def _same_words(key: str, words: Mapping) -> Iterator[Fault]:
    said: dict[str, list[str]] = {}
    for code, word in words.items():
        said.setdefault(str(word).strip().casefold(), []).append(code)
    for word, codes in said.items():
        if len(codes) > 1:
            yield Fault(
                ("codes", key, codes[-1]),
                f"[codes.{key}] gives the word '{word}' to two codes: a recount would mix them.",
            )
