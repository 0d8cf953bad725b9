"""The map from fields to a file's columns: shown, corrected, saved, read again."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from services_inventory.domain.columns import FIELDS, plain
from services_inventory.refused import Refused

DATE_ORDERS = ("MDY", "DMY")
BY_HAND = "Chosen by a person."


class BadColumnMap(Refused, ValueError):
    """The map does not fit; the message is a sentence fit to show."""


@dataclass(frozen=True)
class MappedColumn:
    """A field's column: its heading, how sure the guess is (0 to 1), and why."""

    field: str
    heading: str
    confidence: float = 1.0
    why: str = BY_HAND


@dataclass(frozen=True)
class ColumnMap:
    """Which column holds which field; every column at most once.

    Parameters
    ----------
    columns : the mapped columns, one a field
    unmapped : headings that are not taken in, with a hint where one can be given
    date_order : MDY or DMY, how dates such as 5/2/2024 are read
    crs : the reference system of the coordinates when they are no latitude and longitude
    made : {field: way} of columns that are made of others; see `making`
    """

    columns: tuple[MappedColumn, ...] = ()
    unmapped: tuple[tuple[str, str], ...] = ()
    date_order: str = "MDY"
    crs: str = ""
    made: Mapping[str, dict] = field(default_factory=dict)

    def __post_init__(self):
        """Refuse a field or a column named twice, unknown fields and unknown settings."""
        fields = [column.field for column in self.columns]
        unknown = [field for field in fields if field not in FIELDS]
        if unknown:
            known = ", ".join(FIELDS)
            raise BadColumnMap(f"There is no field {unknown[0]!r}. The fields are: {known}.")
        headings = [column.heading.casefold() for column in self.columns]
        for names, what in ((fields, "field"), (headings, "column")):
            twice = [name for name in names if names.count(name) > 1]
            if twice:
                raise BadColumnMap(f"The {what} {twice[0]!r} is mapped twice. Map it once.")
        if self.date_order not in DATE_ORDERS:
            raise BadColumnMap(f"The date order is {self.date_order!r}; write MDY or DMY.")

    def positions(self, header: Sequence[str]) -> dict[str, int]:
        """Field key to the column's place in a file's header.

        Raises `BadColumnMap` naming the mapped columns that the file does not have.
        """
        places = {plain(heading): at for at, heading in enumerate(header)}
        exact = {heading: at for at, heading in enumerate(header)}
        found, missing = {}, []
        for column in self.columns:
            at = exact.get(column.heading, places.get(plain(column.heading)))
            if at is None:
                missing.append(column.heading)
            else:
                found[column.field] = at
        if missing:
            named = ", ".join(repr(name) for name in missing)
            has = ", ".join(repr(name) for name in header[:20])
            raise BadColumnMap(f"The file has no column {named}. Its columns are: {has}.")
        return found

    def to_dict(self) -> dict:
        """The map as plain values, for JSON."""
        return {
            "columns": {column.field: column.heading for column in self.columns},
            "date_order": self.date_order,
            "crs": self.crs,
            **({"made": dict(self.made)} if self.made else {}),
        }

    def headings(self) -> set[str]:
        """The headings that the map names, in plain form."""
        named = {column.heading for column in self.columns}
        for way in self.made.values():
            named |= {*way.get("join", ()), *([way["split"]] if "split" in way else [])}
        return set(map(plain, named))

    @classmethod
    def from_dict(cls, content: dict) -> "ColumnMap":
        """A map from plain values; raises `BadColumnMap` for what does not fit."""
        columns = content.get("columns")
        made = content.get("made") or {}
        if not isinstance(columns, dict) or not (columns or made):
            raise BadColumnMap(
                'The column map has no [columns]. Write lines such as address = "..."'
            )
        for key, heading in columns.items():
            if not isinstance(heading, str) or not heading.strip():
                raise BadColumnMap(f"The column of {key!r} is {heading!r}; write its heading.")
        unknown = set(content) - {"columns", "date_order", "crs", "made"}
        if unknown:
            raise BadColumnMap(f"The column map says {sorted(unknown)[0]!r}, which means nothing.")
        mapped = tuple(MappedColumn(field, heading) for field, heading in columns.items())
        from services_inventory.intake.columns.making import checked_ways

        order, crs = str(content.get("date_order", "MDY")), str(content.get("crs", ""))
        return cls(mapped, (), order, crs, checked_ways(made))

    @classmethod
    def from_toml(cls, text: str) -> "ColumnMap":
        """A map from a TOML file; raises `BadColumnMap` for what does not fit."""
        try:
            return cls.from_dict(tomllib.loads(text))
        except tomllib.TOMLDecodeError as error:
            raise BadColumnMap(f"The column map is no TOML: {error}.") from error
