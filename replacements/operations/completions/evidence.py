"""What an accepted record says of the pipe: as found in the trench, and as laid."""

from collections.abc import Iterator

from ...models import CompletionRecord

_PORTIONS = (("SYSTEM", "system"), ("CUSTOMER", "customer"), ("CONNECTOR", "connector"))


def found_rows(record: CompletionRecord) -> Iterator[dict]:
    """Yield evidence of what the crew found before it replaced anything.

    On the day of the work a replacement stands above it, so that what was found is history of a
    replaced portion and the present of any other.
    """
    if record.outcome == CompletionRecord.Outcome.NO_ACCESS:
        return
    points = record.quality.get("points_seen") or {}
    sizes = record.quality.get("found_in") or {}
    for portion, name in _PORTIONS:
        material = getattr(record, f"{name}_found")
        if material and material != "UNKNOWN":
            yield {
                **_row(record, portion, material),
                "basis": "EXCAVATION",
                "points_seen": int(points.get(portion, 1)),
                "diameter_in": sizes.get(portion),
                "note": "As found when the line was dug up.",
            }


def replaced_rows(record: CompletionRecord) -> Iterator[dict]:
    """Yield evidence of what the crew laid."""
    for portion, name in _PORTIONS:
        if not getattr(record, f"{name}_replaced"):
            continue
        after = "connector_after" if portion == "CONNECTOR" else f"{name}_material_after"
        yield {
            **_row(record, portion, getattr(record, after)),
            "basis": "REPLACEMENT",
            "points_seen": 1,
            "installed_on": record.finished_on,
            "diameter_in": None if portion == "CONNECTOR" else record.new_nominal_in,
            "note": "Laid by the crew; the record was accepted.",
        }


def _row(record: CompletionRecord, portion: str, material: str) -> dict:
    return {
        "line_id": record.work_order.line_id,
        "portion": portion,
        "material": material,
        "observed_on": record.finished_on,
        "source": f"{record.work_order.number} revision {record.revision}",
    }
