"""Everything one work order's page shows, read in a handful of queries."""

from datetime import date

from ..domain.findings import Level
from ..domain.ground import GroundCondition, Surface
from ..domain.method_advice import advise, unknowns
from ..domain.pipes import PipeError
from ..domain.pull_logs import log_chart_svg
from ..domain.tool_strings import BadComponent, key_told, named, side_view
from ..models import (
    CompletionRecord,
    LiveFeed,
    PhotoFacts,
    PullRecord,
    ToolStringRecord,
    WorkOrder,
)
from .checklist import checklist_shown
from .closures import closures_at
from .effect import effect_of
from .ground import ground_findings, site_of
from .planned_pull import new_pipe_of, old_pipe_of, string_of
from .pull_review import asks_for_a_word, has_word, pull_told, unlogged_by_order
from .pulls import drawn_pull
from .quality_told import quality_told
from .stored import findings_back, plain
from .together import rows_of


def pipes_shown(order: WorkOrder) -> dict:
    """Return the old and the new pipe from the tables, or the sentence why there is none."""
    try:
        return {"old": old_pipe_of(order), "new": new_pipe_of(order)}
    except PipeError as error:
        return {"sentence": str(error)}


def ground_shown(order: WorkOrder, as_of: date) -> dict:
    """Return what is on record of the ground, and what the rules say of it."""
    rows = sorted(rows_of(order, "nearby_lines"), key=lambda row: row.at_ft or 0.0)
    return {
        "lines": [row for row in rows if row.withdrawn_at is None],
        "withdrawn": [row for row in rows if row.withdrawn_at is not None],
        "surfaces": [Surface(code).label for code in order.surfaces],
        "conditions": [GroundCondition(code).label for code in order.ground_conditions],
        "findings": ground_findings(order, as_of),
        "closures": closures_at(order.line, as_of),
        "may_change": order.state in ("PLANNED", "RELEASED", "RETURNED"),
    }


def advice_shown(order: WorkOrder, as_of: date, verdict: str = "") -> dict | None:
    """Return the ranked methods and what should be found out; None while basics are missing."""
    try:
        site = site_of(order, as_of, verdict)
    except (PipeError, ValueError) as error:
        return {"sentence": str(error)}
    return site and {"ranked": advise(site), "unknowns": unknowns(site)}


def string_shown(order: WorkOrder, record: ToolStringRecord | None, as_of: date) -> dict | None:
    """Return a string on a day: its drawing, findings part by part, and the checklist."""
    if record is None:
        return None
    parts = sorted(rows_of(record, "parts", "component"), key=lambda part: part.position)
    by_part: dict[int | None, list] = {}
    for finding in findings_back(record.findings):
        by_part.setdefault(finding.part, []).append(finding)
    checklist = checklist_shown(order, record)
    drawn, names = drawing_of(order, record, as_of)
    levels = [Level(record.worst_level)] if record.worst_level else []
    levels += [checklist["worst"]] if checklist["worst"] else []
    return {
        "record": record,
        "worst": min(levels, key=lambda level: level.rank, default=None),
        "parts": [
            (part, names.get(place, part.component), by_part.get(place, []))
            for place, part in enumerate(parts)
        ],
        "of_all": by_part.get(None, []),
        **drawn,
        "checklist": checklist,
    }


def drawing_of(
    order: WorkOrder, record: ToolStringRecord, as_of: date
) -> tuple[dict[str, str], dict[int, str]]:
    """Return the string's drawing with its key, and each part's name with its sizes, by place.

    Both are empty where the parts cannot be read.
    """
    try:
        string, pipes = string_of(record, as_of), (old_pipe_of(order), new_pipe_of(order))
    except (BadComponent, PipeError):
        return {}, {}
    drawing = side_view(string, *pipes, findings_back(record.findings))
    names = {place: named(part, string) for place, part in enumerate(string.parts)}
    return {"drawing": drawing, "key": key_told(string, *pipes)}, names


def standing_and_withdrawn(pulls) -> tuple[list[PullRecord], list[PullRecord]]:
    """Return the pulls that stand, and those that were withdrawn."""
    rows = list(pulls)
    gone = [pull for pull in rows if pull.withdrawn_at is not None]
    return [pull for pull in rows if pull.withdrawn_at is None], gone


def pull_shown(pull: PullRecord) -> dict:
    """Return a pull with its plot and findings."""
    drawn, found = drawn_pull(pull), findings_back(pull.findings)
    limits = pull.metrics.get("limits", {})
    named = {"weakest part": limits.get("limit_lbf")} if limits.get("limit_lbf") else {}
    return {
        "record": pull,
        **explained_shown(pull),
        "findings": [f for f in found if f.level is not Level.NOTE],
        "notes": [f for f in found if f.level is Level.NOTE],
        "chart": log_chart_svg(*drawn, named) if drawn else "",
        "columns": plain(pull.columns),
    }


def explained_shown(pull: PullRecord | LiveFeed) -> dict:
    """Return whether a pull asks for a word, has one, and what was said of it."""
    return {
        "asks": asks_for_a_word(pull),
        "explained": has_word(pull),
        "explanations": rows_of(pull, "explanations"),
    }


def unlogged_shown(order: WorkOrder) -> list[dict]:
    """Return the live pulls of an order of which no log was handed in, each in a sentence."""
    return [
        {"record": feed, "told": pull_told(feed), **explained_shown(feed)}
        for feed in unlogged_by_order([order.pk])[order.pk]
    ]


def _photo_name(photo) -> str:
    return photo.kind.removeprefix("PHOTO_").replace("_", " ").lower()


def completion_shown(record: CompletionRecord, as_of: date) -> dict:
    """Return a completion record with its review, findings, and what it changes."""
    facts = {
        fact.document_id: fact
        for fact in PhotoFacts.objects.filter(
            work_order_id=record.work_order_id, document__in=rows_of(record, "photos")
        ).select_related("document")
    }
    return {
        "record": record,
        "findings": findings_back(record.findings),
        "review": getattr(record, "review", None),
        "effect": effect_of(record, as_of),
        "photos": [
            {"name": _photo_name(photo), "document": photo, "facts": facts.get(photo.pk)}
            for photo in rows_of(record, "photos")
        ],
        "quality": quality_told(record),
        "seen_again": record.reinspections.exclude(result="").order_by("id"),
    }
