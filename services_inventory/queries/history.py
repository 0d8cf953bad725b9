"""Everything about one line: what stands, by which evidence, and how it came about."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Min

from services_inventory.domain.days import day_told

from ..domain.evidence import Basis, Portion, Weighed
from ..domain.line_drawing import DrawnPortion, line_drawing, look_of, swatch
from ..domain.materials import Connector, Material
from ..models import CategoryChange, Conflict, Evidence, ServiceLine
from ..models.lines import CATEGORIES
from .weigher import line_weighed

_CONNECTORS = {code.value for code in Connector}


def before_the_record(since: date) -> str:
    """Return why nothing can be true since a day: no count speaks of it; empty where one does."""
    begins = CategoryChange.objects.aggregate(first=Min("effective_on"))["first"]
    if begins is not None and since >= begins:
        return ""
    first = f"The record begins on {day_told(begins)}" if begins else "Nothing is on record yet"
    return (
        f"{first}; no count speaks of days before. Write that day or a later one as the day since "
        "when this is true, and the day the pipe was laid as such."
    )


def evidence_of(line: ServiceLine) -> list[dict]:
    """Return the line's evidence, oldest first, each with its words and whether it stands.

    A row that only takes another back is shown with the row that it takes back.
    """
    rows = list(
        Evidence.objects.filter(line=line)
        .select_related("document", "batch", "batch__withdrawn_by", "proposal")
        .order_by("recorded_at", "id")
    )
    taken_back: dict[int, list[Evidence]] = {}
    for row in rows:
        if row.withdraws_id:
            taken_back.setdefault(row.withdraws_id, []).append(row)
    return [_entry(row, taken_back.get(row.pk, [])) for row in rows if not row.withdraws_id]


def _entry(row: Evidence, withdrawals: list[Evidence]) -> dict:
    batch_gone = row.batch is not None and hasattr(row.batch, "withdrawn_by")
    return {
        "row": row,
        "says": says(row),
        "basis": Basis(row.basis).label,
        "stands": not withdrawals and not batch_gone,
        "withdrawals": withdrawals,
        "never_true": any(one.counts_from for one in withdrawals),
        "batch_gone": batch_gone,
        "agreed": getattr(row, "proposal", None),
    }


def says(row: Evidence) -> str:
    """Return what a row says, in words."""
    if row.both_true:
        return f"decided: both are true, {Material(row.resolves).label} stands"
    if row.resolves:
        return f"decided: {Material(row.resolves).label} stands"
    return material_words(row.portion, row.material)


def material_words(portion: str, code: str) -> str:
    """Return the words for a material code of a portion."""
    if not code:
        return "no material named"
    if portion == Portion.CONNECTOR and code in _CONNECTORS:
        return Connector(code).label
    return Material(code).label


def changes_of(line: ServiceLine) -> list[CategoryChange]:
    """Return the line's category changes with their words, the latest day first."""
    words = dict(CATEGORIES)
    changes = list(
        CategoryChange.objects.filter(line=line)
        .select_related("decision", "batch")
        .order_by("-effective_on", "-recorded_at", "-id")
    )
    current, last_of = None, {change.effective_on: change.pk for change in reversed(changes)}
    for change in reversed(changes):
        change.from_words = words.get(change.from_category, "")
        change.to_words = words.get(change.to_category, "")
        # By what is known now: the last recorded of its day, and another category than before.
        last = last_of[change.effective_on] == change.pk
        change.holds = last and change.to_category != current
        current = change.to_category if last else current
    return changes


def standing_on(
    changes: Iterable[CategoryChange], day: date, known_at: datetime | None = None
) -> CategoryChange | None:
    """Return the change that stood at the end of a day, or None where the line did not count.

    known_at : only what was recorded by this moment counts
    """
    return next(
        (
            change
            for change in changes
            if change.effective_on <= day and (known_at is None or change.recorded_at <= known_at)
        ),
        None,
    )


def portions_of(weighed: Weighed) -> list[dict]:
    """Return each portion with its material in words, the reason, and what validation knows."""
    return [
        {
            "portion": found.portion,
            "name": found.portion.label,
            "material": material_words(found.portion, _shown(found, weighed)),
            "look": look_of(_shown(found, weighed)),
            "swatch": swatch(look_of(_shown(found, weighed))),
            "reason": found.reason,
            "points": found.points,
            "validation": found.validation,
        }
        for found in weighed.portions
    ]


def line_picture(portions: list[dict], address: str = "") -> str:
    """Return the drawing of a line's portions; `address` is followed by the portion clicked."""
    return line_drawing(
        DrawnPortion(
            row["portion"],
            row["look"],
            row["material"],
            address and f"{address}{row['portion'].value}#record",
        )
        for row in portions
    )


def _shown(found, weighed: Weighed) -> str:
    return weighed.facts.connector if found.portion == Portion.CONNECTOR else found.material


def line_story(line: ServiceLine, day: date) -> dict:
    """Return all that the line's page tells besides the line itself.

    `classification` has the category by the rule as of `day`; it equals the stored one unless the
    rule or its State values have changed since, which the page says.
    """
    weighed, judged = line_weighed(line.pk, day)
    classification = judged.classification
    changes = changes_of(line)
    return {
        "weighed": weighed,
        "classification": classification,
        "portions": portions_of(weighed),
        "pool": judged.membership,
        "evidence": evidence_of(line),
        "changes": changes,
        "conflicts": list(Conflict.objects.filter(line=line).order_by("-id")),
        "out_of_date": line.category is not None and line.category != classification.category,
    }
