"""What a column can hold: the table in `columns.toml`, and how headings are compared."""

import re
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files


class ValueKind(StrEnum):
    """How the values of a field are read."""

    IDENTIFIER = "IDENTIFIER"
    ADDRESS = "ADDRESS"
    TEXT = "TEXT"
    NOTES = "NOTES"
    LATITUDE = "LATITUDE"
    LONGITUDE = "LONGITUDE"
    POINT = "POINT"
    MATERIAL = "MATERIAL"
    CONNECTOR = "CONNECTOR"
    BASIS = "BASIS"
    INSTALLED = "INSTALLED"
    DATE = "DATE"
    YEAR = "YEAR"
    DIAMETER = "DIAMETER"
    COUNT = "COUNT"
    LINE_USE = "LINE_USE"
    PREMISE_KIND = "PREMISE_KIND"
    PLUMBING = "PLUMBING"
    TREATMENT = "TREATMENT"
    WAS_LEAD = "WAS_LEAD"
    LEAD_CONN = "LEAD_CONN"
    HAS_CONN = "HAS_CONN"
    SOLDER = "SOLDER"
    CATEGORY = "CATEGORY"
    PART = "PART"


@dataclass(frozen=True)
class Field:
    """One thing a column can hold, with the headings it usually has, best first.

    `also` are headings as forms of agencies and longer exports write them.

    Text is at most `longest` characters. What belongs to a place without more ado names the
    column of the premise that it fills: whatever has one is staged, corrected by later files,
    written and downloaded, under the first of its headings.
    """

    key: str
    label: str
    kind: ValueKind
    headings: tuple[str, ...]
    longest: int = 0
    premise: str = ""
    also: tuple[str, ...] = ()

    @property
    def number(self) -> bool:
        """Whether it is a number and None where it is not known; else text, empty."""
        return self.kind is ValueKind.YEAR


@cache
def _content() -> dict:
    path = files(__package__) / "columns.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def fields() -> dict[str, Field]:
    """Every field by its key, in the order of the table."""
    return {
        row["key"]: Field(
            **row
            | {"kind": ValueKind(row["kind"]), "headings": tuple(row["headings"])}
            | {"also": tuple(row.get("also", ()))}
        )
        for row in _content()["field"]
    }


@cache
def ignored() -> frozenset[str]:
    """Headings, in plain form, of columns that the program itself appends to held rows."""
    return frozenset(map(plain, _content()["ignored"]))


_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z])(?=\d)")
_WORD = re.compile(r"[a-z0-9]+")
OF_A_SIDE = ("side", "owned", "portion", "section")


def words(heading: str) -> list[str]:
    """The words of a heading, lower case: SvcNo, svc_no and "Svc No." are the same."""
    return _WORD.findall(_CAMEL.sub(" ", heading).casefold())


def plain(heading: str) -> str:
    """A heading as compared: its words one space apart."""
    return " ".join(words(heading))


@cache
def _asides() -> re.Pattern:
    return re.compile("|".join(_content()["asides"]))


def usual(heading: str) -> str:
    """A heading in plain form without what it says besides: "If non-lead in column I, was …"."""
    return _asides().sub("", plain(heading)).strip()


def expanded(heading: str) -> str:
    """A heading with the usual abbreviations written out, its words in alphabetical order.

    Words that say nothing (side, of, the) are left out. One word alone names no side: "City"
    and "Owner" stay what they are; beside "side" or "owned" more words name one: "Main side".
    """
    known, sides = _content()["expansions"], _content()["sides"]
    written = usual(heading).split()
    kept = {
        sides.get(word, known.get(word, word)) if after in OF_A_SIDE else known.get(word, word)
        for word, after in zip(written, [*written[1:], ""], strict=False)
    }
    if len(written) == 1 and kept & {"system", "customer"}:
        return written[0]
    return " ".join(sorted(kept - {*OF_A_SIDE, "of", "the", "in"}))


def one_word(word: str) -> frozenset[str]:
    """Every way of writing one word of a heading: itself, written out, and abbreviated."""
    known = _content()["expansions"]
    out = known.get(word, word)
    return frozenset({word, out, *(short for short, long in known.items() if long == out)})


FIELDS = fields()
OF_PREMISE = tuple(field for field in FIELDS.values() if field.premise)
