"""What a checked file would make, or a file made, of lines: for its page."""

from ..domain.categories import Category
from ..domain.flow import flow
from ..models import Batch

WORDS = {"": "new lines"} | {one.value: one.label for one in Category}
# What a picture of 420 px has room for.
SHORT = WORDS | {"GRR": "galvanized (GRR)", "UNKNOWN": "unknown"}


def moves_of(batch: Batch) -> list[dict]:
    """Return how many lines go from which category to which, most first."""
    return [
        {"before": WORDS[before], "after": WORDS[after], "lines": lines, "moves": before != after}
        for before, after, lines in batch.result.get("moves", ())
        if after in WORDS
    ]


def moves_picture(batch: Batch) -> str:
    """Return the picture of the same; nothing where no line moves."""
    moves = [tuple(one) for one in batch.result.get("moves", ()) if one[1]]
    if not moves:
        return ""
    return flow(moves, SHORT, "Lines by category, before and after")


def said_by(batch: Batch) -> list[dict]:
    """Return where the file says otherwise than the evidence, by reason, most first."""
    return [
        {"said": WORDS[said], "now": WORDS[now], "why": why, "lines": lines}
        for said, now, why, lines in batch.result.get("said", ())
    ]
