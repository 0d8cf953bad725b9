"""What was found at lines once unknown, to learn from; and what is known of those still unknown.

A line counts as verified where it was unknown once and somebody has since seen its pipe: lines that
records always called lead or non-lead are another kind of line. A replaced line counts as what it
was found to be before the work. What a record said of one portion may be used to guess the other;
what an inspection found may not, as it is known of verified lines only because both were seen.
"""

import random
from collections.abc import Iterable
from datetime import date

from program.planning.unknowns import LineFeatures
from replacements.models import Replacement
from services_inventory.models import CategoryChange, Evidence, ServiceLine

CHUNK = 500
MOST_VERIFIED = 20_000
FEW = 100
SEEN = ("EXCAVATION", "VISUAL_INSPECTION")
RECORDS = "RECORD_"


def verified_facts(seed: int = 1) -> tuple[list[LineFeatures], str]:
    """Return verified lines to learn from, and a sentence on where they come from.

    At most MOST_VERIFIED are read, drawn at random with the seed. A line that a record called
    lead is left out: with that record it would never have been unknown.
    """
    found = {line: lead for line, (lead, _) in _settled().items()}
    told = "Learned from lines that were unknown once and have been seen since."
    if len(found) < FEW:
        found = _known()
        told = (
            f"Fewer than {FEW} lines that were unknown have been seen, so lines known from records "
            "were learned from: look at some unknown lines drawn at random."
        )
    ids = sorted(found)
    if len(ids) > MOST_VERIFIED:
        ids = sorted(random.Random(seed).sample(ids, MOST_VERIFIED))
        told += f" {MOST_VERIFIED:,} of them, drawn at random, were used."
    return _facts(ids, found), told


def settled_facts() -> list[tuple[LineFeatures, date]]:
    """Return the lines that were unknown once and have been seen since, and the day of that."""
    found = _settled()
    ids = sorted(found)[:: max(1, len(found) // MOST_VERIFIED)]
    pairs = _facts_by_id(ids, {line: lead for line, (lead, _) in found.items()})
    return [(fact, found[line][1]) for line, fact in pairs]


def _settled() -> dict[int, tuple[bool, date]]:
    """Return whether lead or GRR was found, and when, by line, where an unknown line was seen."""
    changes = CategoryChange.objects.filter(
        from_category="UNKNOWN", to_category__in=("LEAD", "GRR", "NON_LEAD")
    ).order_by("effective_on", "recorded_at", "id")
    found = {
        line: (to in ("LEAD", "GRR"), day)
        for line, to, day in changes.values_list("line_id", "to_category", "effective_on").iterator(
            CHUNK
        )
    }
    # Work on a line that was still unknown makes it non-lead without saying what it was.
    blind = Replacement.objects.standing(date.max).filter(category_before="UNKNOWN")
    for line in blind.values_list("line_id", flat=True):
        found.pop(line, None)
    seen = Evidence.objects.filter(
        basis__in=SEEN, withdrawn_by__isnull=True, withdraws__isnull=True
    ).values_list("line_id", flat=True)
    kept = set(seen.iterator(CHUNK)) & set(found)
    return {line: found[line] for line in kept}


def _known() -> dict[int, bool]:
    rows = ServiceLine.objects.filter(category__in=("LEAD", "GRR", "NON_LEAD"))
    pairs = rows.order_by("id").values_list("id", "category").iterator(CHUNK)
    return {line: category in ("LEAD", "GRR") for line, category in pairs}


def _facts(ids: list[int], lead: dict[int, bool]) -> list[LineFeatures]:
    return [fact for _, fact in _facts_by_id(ids, lead)]


def _facts_by_id(ids: list[int], lead: dict[int, bool]) -> list[tuple[int, LineFeatures]]:
    found = []
    for start in range(0, len(ids), CHUNK):
        part = ids[start : start + CHUNK]
        other = _recorded(part)
        rows = ServiceLine.objects.filter(id__in=part).order_by("id")
        for pk, *row in rows.values_list("id", *_COLUMNS):
            if "LEAD" not in other.get(pk, ""):
                found.append((pk, _fact(row, lead[pk], other.get(pk, ""))))
    return found


_COLUMNS = (
    "location_id", "premise__latitude", "premise__longitude", "neighborhood__name",
    "installed_year", "system_nominal_in", "customer_nominal_in",
)  # fmt: skip


def _fact(row, lead: bool | None, other: str) -> LineFeatures:
    location_id, lat, lon, hood, year, system_in, customer_in = row
    decade = year // 10 * 10 if year else None
    return LineFeatures(
        location_id, lat, lon, hood or "", decade, system_in or customer_in, other, lead
    )


def _recorded(ids: list[int]) -> dict[int, str]:
    """Return the material that a record gives for a portion, the system side's first."""
    rows = (
        Evidence.objects.filter(
            line_id__in=ids,
            basis__startswith=RECORDS,
            era="NOW",
            withdrawn_by__isnull=True,
            withdraws__isnull=True,
        )
        .exclude(material__in=("", "UNKNOWN"))
        .exclude(portion="CONNECTOR")
        .order_by("portion", "id")
        .values_list("line_id", "portion", "material")
    )
    return {line: f"{portion} {material}" for line, portion, material in rows}


def unknown_facts(lines: Iterable) -> list[LineFeatures]:
    """Return what is known of the unknown ones among open lines."""
    unknown = [line for line in lines if line.category == "UNKNOWN"]
    found = []
    for start in range(0, len(unknown), CHUNK):
        part = unknown[start : start + CHUNK]
        other = _recorded([line.pk for line in part])
        for line in part:
            row = (
                line.location_id, line.lat, line.lon, line.neighborhood, line.installed_year,
                line.size_in, None,
            )  # fmt: skip
            found.append(_fact(row, None, other.get(line.pk, "")))
    return found
