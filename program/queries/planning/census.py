"""Census figures in force, and the files that were taken in."""

from __future__ import annotations

from datetime import date
from typing import TypedDict

from django.utils.dateparse import parse_datetime

from services_inventory.models import Batch

BY = {"LINES": "by its share of the lines there", "GROUND": "by its share of the ground there"}


class InForce(TypedDict):
    """The figures that plans use where neither they nor the boundaries have their own."""

    batch: Batch
    by: str
    as_of: date
    hoods: dict[str, dict]


def files_taken_in(kind: str) -> list[dict]:
    """Return every file of a kind, the newest first, with what became of it."""
    return [
        {
            "batch": batch,
            "in_force": batch.state == "APPLIED" and "taken_back_by" not in batch.result,
            "taken_back_by": batch.result.get("taken_back_by", ""),
            "taken_back_at": parse_datetime(batch.result.get("taken_back_at", "") or ""),
        }
        for batch in Batch.objects.filter(kind=kind).order_by("-id")[:50]
    ]


def census_in_force() -> InForce | None:
    """Return the figures of the newest file that stands; None where none does."""
    rows = Batch.objects.filter(kind="CENSUS", state="APPLIED").order_by("-id")
    batch = next((one for one in rows if "taken_back_by" not in one.result), None)
    if batch is None:
        return None
    return {
        "batch": batch,
        "by": BY[batch.parameters["by"]],
        "as_of": date.fromisoformat(batch.result["as_of"]),
        "hoods": batch.result["census"],
    }
