"""A primacy agency's layout: its sheet names, column order, headings and codes, as TOML.

    [layout]
    id = "county_one"
    name = "County one"
    description = "One sentence on whom it is for."
    dates = "ISO"                      # or "US": 01/31/2031

    [sheets.lines]
    name = "Inventory"
    [sheets.lines.columns]             # order counts; left out columns are not written
    location_id = "Site number"
    category = "Status"

    [codes.category]                   # every code of the set, each with its own word
    LEAD = "Pb"

A sheet or a set of codes that is not named keeps the standard form.
"""

import json
import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path

from program.submissions.tables import CODES, SHEETS, Column

FOLDER = Path(__file__).resolve().parent.parent / "reference" / "layouts"
SHEET_NAME_MAX = 27  # a worksheet's name holds 31 characters; a second sheet adds its number
_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")
_WILD = re.compile(r"[*?~]|^[=<>]")
_OWN_SHEETS = ("summary", "recount by hand", "validation", "deferred deadline", "columns", "notes")
DATES = {"ISO": ("yyyy-mm-dd", "%Y-%m-%d"), "US": ("mm/dd/yyyy", "%m/%d/%Y")}
RECOUNTED = ("category", "connector", "yes_no", "cause")  # two codes must not share one word


class LayoutError(ValueError):
    """A layout cannot be used; the message says where and what to do."""


@dataclass(frozen=True)
class SheetLayout:
    """One sheet as it is written: its name and (key, heading) in order."""

    name: str
    columns: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Layout:
    """One layout; what it does not name keeps the standard form."""

    id: str
    name: str
    description: str = ""
    dates: str = "ISO"
    sheets: Mapping[str, SheetLayout] = field(default_factory=dict)
    codes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def sheet_name(self, sheet: str) -> str:
        """Return the name a sheet is written under."""
        return self.sheets[sheet].name if sheet in self.sheets else SHEETS[sheet].name

    def columns(self, sheet: str) -> tuple[Column, ...]:
        """Return a sheet's columns in the order and with the headings of this layout."""
        standard = SHEETS[sheet]
        if sheet not in self.sheets:
            return standard.columns
        return tuple(
            replace(standard.column(key), heading=heading)
            for key, heading in self.sheets[sheet].columns
        )

    def positions(self, sheet: str) -> tuple[int, ...]:
        """Return, for each written column, its place in the sheet's row."""
        fields = SHEETS[sheet].row._fields
        return tuple(fields.index(column.key) for column in self.columns(sheet))

    def words(self, column: Column) -> Mapping[str, str]:
        """Return code -> written word for a column; empty where the code itself is written."""
        return self.codes.get(column.codes, {}) if column.codes else {}

    def word(self, column: Column, code: str) -> str:
        """Return the word written for one code."""
        return self.words(column).get(code, code)


STANDARD = Layout("standard", "Standard", "Every sheet, every column, the program's own words.")


def load_layout(path: Path | str) -> Layout:
    """Read a layout from a TOML file.

    Raises:
        LayoutError: with every fault found, one sentence each.

    """
    path = Path(path)
    try:
        content = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise LayoutError(f"{path.name} is not UTF-8 text: save it as UTF-8.") from error
    except OSError as error:
        raise LayoutError(f"{path.name} cannot be read: {error.strerror}.") from error
    return parse_layout(content, name=path.name)


def parse_layout(text: str, *, name: str = "layout") -> Layout:
    """Read a layout from TOML text; `name` is what the faults are reported under.

    Raises:
        LayoutError: with every fault found, one sentence each.

    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        hint = " A key stands there twice." if "overwrite" in str(error) else ""
        raise LayoutError(f"{name} is not valid TOML: {error}.{hint}") from error
    faults = list(_faults(content))
    if faults:
        raise LayoutError(f"{name}: " + " ".join(faults))
    about = content["layout"]
    return Layout(
        id=about["id"],
        name=about["name"],
        description=about.get("description", ""),
        dates=about.get("dates", "ISO"),
        sheets={
            key: SheetLayout(
                sheet.get("name", SHEETS[key].name),
                tuple(sheet["columns"].items())
                if "columns" in sheet
                else tuple((c.key, c.heading) for c in SHEETS[key].columns),
            )
            for key, sheet in content.get("sheets", {}).items()
        },
        codes=content.get("codes", {}),
    )


def layout_text(layout: Layout) -> str:
    """Return a layout as TOML that `parse_layout` reads back to an equal layout."""
    lines = ["[layout]"]
    about = {"id": layout.id, "name": layout.name, "description": layout.description}
    lines += _pairs(about | {"dates": layout.dates})
    for key, sheet in layout.sheets.items():
        lines += ["", f"[sheets.{key}]", *_pairs({"name": sheet.name})]
        lines += ["", f"[sheets.{key}.columns]", *_pairs(dict(sheet.columns))]
    for key, words in layout.codes.items():
        lines += ["", f"[codes.{key}]", *_pairs(words)]
    return "\n".join(lines) + "\n"


def write_layout(layout: Layout, path: Path | str) -> None:
    """Write a layout as a TOML file that staff can edit."""
    Path(path).write_text(layout_text(layout), encoding="utf-8")


@cache
def shipped_layouts() -> tuple[Layout, ...]:
    """Return the standard layout and the invented examples that ship with the program."""
    return (STANDARD, *(load_layout(path) for path in sorted(FOLDER.glob("*.toml"))))


def _pairs(values: Mapping[str, str]) -> list[str]:
    # A JSON string is a TOML basic string once DEL, which JSON leaves bare, is escaped.
    return [
        f"{key} = " + json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
        for key, value in values.items()
    ]


def _near(word: str, known: Iterable[str]) -> str:
    close = get_close_matches(word, list(known), n=3, cutoff=0.6)
    return f" Did you mean {' or '.join(close)}?" if close else f" Known: {', '.join(known)}."


def _faults(content: Mapping):
    yield from _unknown(content, ("layout", "sheets", "codes"), "the part", "")
    about = content.get("layout")
    if not isinstance(about, dict):
        yield "The part [layout] with id and name is missing."
        about = {}
    else:
        yield from _about_faults(about)
    for part, example in (("sheets", "lines"), ("codes", "category")):
        if not isinstance(content.get(part, {}), dict):
            yield f"'{part}' must be a table, such as [{part}.{example}]."
            return
    yield from _sheet_faults(content.get("sheets", {}))
    for key, words in content.get("codes", {}).items():
        yield from _code_faults(key, words)


def _about_faults(about: Mapping):
    yield from _unknown(about, ("id", "name", "description", "dates"), "the entry", " of [layout]")
    for key in ("id", "name"):
        if not isinstance(about.get(key), str) or not about[key].strip():
            yield f"[layout] needs a text '{key}'."
    if about.get("dates", "ISO") not in DATES:
        yield f'\'dates\' of [layout] is {about["dates"]!r}: write "ISO" or "US".'


def _unknown(given: Mapping, known: Iterable[str], what: str, where: str):
    for key in given:
        if key not in known:
            yield f"{what.capitalize()} '{key}'{where} is not known.{_near(key, known)}"


def _sheet_faults(sheets: Mapping):
    yield from _unknown(sheets, SHEETS, "the sheet", "")
    known = {key: sheet for key, sheet in sheets.items() if key in SHEETS}
    for key, sheet in known.items():
        if not isinstance(sheet, dict):
            yield f"'sheets.{key}' must be a table [sheets.{key}]."
            return
        yield from _unknown(sheet, ("name", "columns"), "the entry", f" of [sheets.{key}]")
        if "name" in sheet:
            yield from _name_faults(key, sheet["name"])
        if "columns" in sheet:
            yield from _column_faults(key, sheet["columns"])
    names = [str(known.get(key, {}).get("name", SHEETS[key].name)).lower() for key in SHEETS]
    for name, times in Counter([*names, *_OWN_SHEETS]).items():
        if times > 1:
            yield f"Two sheets are called '{name}': give each its own name."


def _name_faults(key: str, name: object):
    if not isinstance(name, str) or not name.strip():
        yield f"The name of [sheets.{key}] must be a text."
    elif len(name) > SHEET_NAME_MAX:
        yield (
            f"The name '{name}' of [sheets.{key}] has {len(name)} characters: "
            f"a sheet's name holds {SHEET_NAME_MAX}."
        )
    elif _FORBIDDEN.search(name) or not name.isprintable() or name.strip("'") != name:
        yield (
            f"The name '{name}' of [sheets.{key}] holds a character that a sheet's name must "
            "not have: [ ] : * ? / \\ or an apostrophe at either end."
        )
    elif name.lower() == "history":
        yield f"The name of [sheets.{key}] is kept by spreadsheets for themselves: choose another."


def _column_faults(key: str, columns: object):
    standard = SHEETS[key]
    if not isinstance(columns, dict) or not columns:
        yield f'[sheets.{key}.columns] must list at least one column as key = "Heading".'
        return
    fields = standard.row._fields
    yield from _unknown(columns, fields, "the column", f" of [sheets.{key}.columns]")
    for column, heading in columns.items():
        if not isinstance(heading, str) or not heading.strip() or not heading.isprintable():
            yield f"The heading of '{column}' in [sheets.{key}.columns] must be a text."
    said = Counter(str(heading).strip().casefold() for heading in columns.values())
    for heading, times in said.items():
        if times > 1:
            keys = [k for k, h in columns.items() if str(h).strip().casefold() == heading]
            yield f"The heading '{heading}' stands over {' and '.join(keys)} of [sheets.{key}]."
    for needed in standard.needed:
        if needed not in columns:
            yield f"[sheets.{key}.columns] lacks '{needed}': the totals are recounted from it."


def _code_faults(key: str, words: object):
    if key not in CODES:
        yield f"The set of codes '{key}' is not known.{_near(key, CODES)}"
        return
    if not isinstance(words, dict):
        yield f"'codes.{key}' must be a table [codes.{key}]."
        return
    yield from _unknown(words, CODES[key], "the code", f" of [codes.{key}]")
    for code in CODES[key]:
        word = words.get(code)
        if code not in words:
            yield f"[codes.{key}] has no word for {code}."
        elif not isinstance(word, str) or not word.strip() or not word.isprintable():
            yield f"The word for {code} in [codes.{key}] must be a text."
        elif key in RECOUNTED and _WILD.search(word):
            yield (
                f"The word '{word}' for {code} in [codes.{key}] holds * ? or ~, or starts with "
                "= < or >: a spreadsheet's count would take it for a pattern."
            )
    if key in RECOUNTED:
        for word, times in Counter(str(w).strip().casefold() for w in words.values()).items():
            if times > 1:
                yield (
                    f"[codes.{key}] gives the word '{word}' to two codes: a recount would mix them."
                )
