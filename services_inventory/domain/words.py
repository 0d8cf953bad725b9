"""What people write in material and evidence columns, read by a table and never by guessing.

A word that could mean two things is in the table too, with the reason why a person decides.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from services_inventory.domain.reference import rows_of

FOLDER = Path(__file__).resolve().parent.parent / "reference"


@dataclass(frozen=True)
class Reading:
    """The code that some words stand for, or None with the reason why a person decides."""

    code: str | None
    reason: str = ""


# Sizes and makes say nothing about the material once its name is known.
_SIZE = re.compile(
    r"\b\d+(?:[ -]\d+)?(?:\s*/\s*\d+)?(?:\.\d+)?"
    r"\s*(?:[\"”″]|''|in\b\.?|inch(?:es)?\b|mm\b|dia\b\.?)"
    r"|[\"”″]"
)
_FILLER = re.compile(
    r"\b(?:service|line|pipe|piping|tube|tubing|type|k|l|m|cts|ips|sdr|dr|sch|schedule|soft|hard|"
    r"drawn|material|the|a|is|made|of|\d+(?:\.\d+)?)\b"
)


def plain(text: str) -> str:
    """Lower case, single spaces, punctuation that carries no meaning removed."""
    text = text.replace("\u2019", "'").casefold()
    return " ".join(re.sub(r"[^\w/?&+'-]+", " ", text).replace("_", " ").split()).strip("-/ ")


def bare(text: str) -> str:
    """The plain text without sizes, pipe types and words such as 'pipe' or 'service'."""
    without_size = _SIZE.sub(" ", text.casefold())
    return " ".join(_FILLER.sub(" ", plain(without_size)).split()).strip("-/ ")


@cache
def table(file_name: str) -> dict[str, Reading]:
    """The words of one reference table; a word marked as exact keeps its capitals."""
    return {
        row["words"] if row["exact_capitals"] == "yes" else plain(row["words"]): Reading(
            row["code"] or None, row["why_a_person_decides"]
        )
        for row in rows_of("services_inventory", file_name)
    }


def read(text: str | None, file_name: str) -> Reading:
    """Look the words up: as written, in plain form, then without sizes and fillers."""
    written = " ".join((text or "").split())
    if not written:
        return Reading(None, "Nothing is written here.")
    known = table(file_name)
    for form in (written, plain(written)):
        if form in known:
            return known[form]
    if "?" in written:
        return Reading(None, f"{written!r} is written with a question mark, so it is a guess.")
    found = known.get(bare(written)) if bare(written) else None
    return found or Reading(None, f"{written!r} is not in the list of known words.")
