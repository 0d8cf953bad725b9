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
    house_number = "House no."         # a part of the address, see `derived`
    category = "Status"
    state = "State"

    [sheets.lines.constants]           # what stands on every row
    state = "ZZ"

    [codes.category]                   # every code of the set, each with its own word
    LEAD = "Pb"

A sheet or a set of codes that is not named keeps the standard form.
"""

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from program.submissions.derived import derived_column, with_derived
from program.submissions.layout_faults import Fault, faults_in
from program.submissions.tables import CODES, OF_AN_AMENDMENT, SHEETS, Column, sheets_of
from program.submissions.toml_places import said_place
from services_inventory.refused import Refused

_SHORT = tuple(key for key in SHEETS if key != "lines")
FOLDER = Path(__file__).resolve().parent.parent / "reference" / "layouts"


_TOML_HINT = ' An entry is written key = "text", a table [sheets.lines.columns].'


class LayoutError(Refused, ValueError):
    """A layout cannot be used; the message says where and what to do, `faults` one by one."""

    def __init__(self, message: str, faults: Iterable[Fault] = ()):
        super().__init__(message)
        self.faults = tuple(faults) or (Fault((), message),)


@dataclass(frozen=True)
class SheetLayout:
    """One sheet as it is written: its name and (key, heading) in order."""

    name: str
    columns: tuple[tuple[str, str], ...]
    constants: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Layout:
    """One layout; what it does not name keeps the standard form.

    `standard` and `known_codes` are the lists (name and columns by key) and the codes that the
    standard form has: empty are those of this version, and a freeze keeps its own (`as_of_freeze`).
    """

    id: str
    name: str
    description: str = ""
    dates: str = "ISO"
    sheets: Mapping[str, SheetLayout] = field(default_factory=dict)
    codes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    standard: Mapping[str, tuple[str, tuple[Column, ...]]] = field(default_factory=dict)
    known_codes: Mapping[str, Iterable[str]] = field(default_factory=dict)

    def lists(self, of_an_amendment: bool) -> list[str]:
        """Return the keys of the lists that are written: only an amendment has a ledger."""
        keys = self.standard or SHEETS
        return [key for key in keys if of_an_amendment or key not in OF_AN_AMENDMENT]

    def as_of_freeze(self, kept: Mapping | None) -> "Layout":
        """Return the layout upon the lists that a freeze kept (`tables.lists_now`).

        Raises:
            LayoutError: this version no longer has a list or a column of them.

        """
        if not kept:
            return self
        try:
            return replace(self, standard=sheets_of(kept), known_codes=kept["codes"])
        except KeyError as error:
            raise LayoutError(f"This version of the program has no {error} any more.") from error

    def sheet_name(self, sheet: str) -> str:
        """Return the name a sheet is written under."""
        return self.sheets[sheet].name if sheet in self.sheets else self._standard(sheet)[0]

    def _standard(self, sheet: str) -> tuple[str, tuple[Column, ...]]:
        return self.standard.get(sheet) or (SHEETS[sheet].name, SHEETS[sheet].columns)

    def full_columns(self, sheet: str) -> tuple[Column, ...]:
        """Return all columns of a list in standard form, as JSON and GeoPackage have them."""
        return self._standard(sheet)[1]

    def columns(self, sheet: str) -> tuple[Column, ...]:
        """Return a sheet's columns in the order and with the headings of this layout."""
        standard = self.full_columns(sheet)
        if sheet not in self.sheets:
            return standard
        constants, known = self.sheets[sheet].constants, {c.key: c for c in standard}
        return tuple(
            replace(known[key], heading=heading)
            if key in known
            else derived_column(key, heading, constants)
            for key, heading in self.sheets[sheet].columns
        )

    def _derived(self, sheet: str) -> list[str]:
        fields = SHEETS[sheet].row._fields
        written = self.sheets[sheet].columns if sheet in self.sheets else ()
        return [key for key, _ in written if key not in fields]

    def positions(self, sheet: str) -> tuple[int, ...]:
        """Return, for each written column, its place in the sheet's row as `shaped`."""
        places = (*SHEETS[sheet].row._fields, *self._derived(sheet))
        return tuple(places.index(column.key) for column in self.columns(sheet))

    def shaped(self, sheet: str, rows: Iterable[tuple]) -> Iterable[tuple]:
        """Return a sheet's rows with the columns behind them that this layout adds."""
        keys, fields = self._derived(sheet), SHEETS[sheet].row._fields
        if not keys:
            return rows
        at = fields.index("address") if "address" in fields else None
        return with_derived(rows, at, keys, self.sheets[sheet].constants)

    def words(self, column: Column) -> Mapping[str, str]:
        """Return code -> written word for a column; empty where the code itself is written."""
        return self.codes.get(column.codes, {}) if column.codes else {}

    def word(self, column: Column, code: str) -> str:
        """Return the word written for one code."""
        return self.words(column).get(code, code)

    def words_used(self, column: Column) -> str:
        """Return the words of a column's closed set, as a dictionary of columns lists them."""
        codes = (self.known_codes or CODES).get(column.codes, ())
        return ", ".join(self.word(column, code) for code in codes)


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
    content = _content(text, name)
    if faults := faults_in(content, text):
        raise LayoutError(f"{name}: " + " ".join(map(str, faults)), faults)
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
                sheet.get("constants", {}),
            )
            for key, sheet in content.get("sheets", {}).items()
        },
        codes=content.get("codes", {}),
    )


def _content(text: str, name: str) -> dict:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        wrong, place = said_place(str(error))
        hint = " A key stands there twice." if "overwrite" in wrong else _TOML_HINT
        line, column = place or (text.count("\n") + 1, 1)
        fault = Fault((), f"{name} is not valid TOML: {wrong}.{hint}", line, column)
        raise LayoutError(str(fault), [fault]) from error


def layout_in_full(layout: Layout) -> Layout:
    """Return the layout with every sheet, column and code written out, to start an own one from."""
    sheets = {
        key: SheetLayout(
            layout.sheet_name(key),
            tuple((c.key, c.heading) for c in columns),
            layout.sheets[key].constants if key in layout.sheets else {},
        )
        for key, columns in ((key, layout.columns(key)) for key in ("lines", *_SHORT))
    }
    codes = {key: layout.codes.get(key) or {c: c for c in CODES[key]} for key in CODES}
    return replace(layout, sheets=sheets, codes=codes)


def layout_text(layout: Layout) -> str:
    """Return a layout as TOML that `parse_layout` reads back to an equal layout."""
    lines = ["[layout]"]
    about = {"id": layout.id, "name": layout.name, "description": layout.description}
    lines += _pairs(about | {"dates": layout.dates})
    for key, sheet in layout.sheets.items():
        lines += ["", f"[sheets.{key}]", *_pairs({"name": sheet.name})]
        lines += ["", f"[sheets.{key}.columns]", *_pairs(dict(sheet.columns))]
        if sheet.constants:
            lines += ["", f"[sheets.{key}.constants]", *_pairs(sheet.constants)]
    for key, words in layout.codes.items():
        lines += ["", f"[codes.{key}]", *_pairs(words)]
    return "\n".join(lines) + "\n"


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
