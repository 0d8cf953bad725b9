"""Drawn inspection lists, what they found so far, and the picture of how well a guess is kept."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from program.models import InspectionDraw
from program.planning.unknowns import BadUnknowns, Inspection, InspectionList, estimate_share
from replacements.models import Replacement
from services_inventory.domain.drawing import Axes, picture, shape
from services_inventory.models import ServiceLine

HEADER = (
    "Location id", "Address", "Neighborhood", "On the list because", "Probability of lead or GRR",
    "Drawn from", "Chance of being drawn", "Category today",
)  # fmt: skip
_PARTS = {"CHOSEN": "likely lead", "DRAWN": "drawn at random"}


def inspection_draws(limit: int = 20) -> list[dict]:
    """Return the latest lists with what they found."""
    return [_told(draw) for draw in InspectionDraw.objects.order_by("-id")[:limit]]


def _told(draw: InspectionDraw) -> dict:
    rows = draw.listed["inspections"]
    found = _found(draw)
    listed = InspectionList(
        tuple(Inspection(row[1], row[2], row[3], row[4], row[5]) for row in rows),
        draw.listed["stratum_sizes"],
        draw.seed,
    )
    try:
        estimate = estimate_share(listed, found).sentence() if found else ""
    except BadUnknowns as error:
        estimate = str(error)
    drawn = sum(row[2] == "DRAWN" for row in rows)
    return {
        "draw": draw,
        "lines": len(rows),
        "chosen": len(rows) - drawn,
        "drawn": drawn,
        "answered": len(found),
        "lead": sum(found.values()),
        "estimate": estimate or "No line of this list is settled yet.",
    }


def _found(draw: InspectionDraw) -> dict[str, bool]:
    """Return whether lead or GRR was found, by location id, where the line is settled since."""
    pks = {row[0]: row[1] for row in draw.listed["inspections"]}
    found = {}
    for start in range(0, len(pks), 500):
        part = list(pks)[start : start + 500]
        was = dict(
            Replacement.objects.standing(date.max)
            .filter(line_id__in=part, replaced_on__gte=draw.drawn_on)
            .order_by("-replaced_on")
            .values_list("line_id", "category_before")
        )
        rows = ServiceLine.objects.filter(pk__in=part).values_list("pk", "category")
        for pk, category in rows:
            then = was.get(pk, category)
            if then in ("LEAD", "GRR", "NON_LEAD"):
                found[pks[pk]] = then != "NON_LEAD"
    return found


def inspection_rows(draw: InspectionDraw) -> Iterator[tuple]:
    """Yield the list's rows in walking order, neighborhood by neighborhood."""
    listed = {row[0]: row for row in draw.listed["inspections"]}
    for start in range(0, len(listed), 500):
        part = list(listed)[start : start + 500]
        places = ServiceLine.objects.filter(pk__in=part).order_by(
            "neighborhood__name", "premise__street_key", "premise__house_number"
        )
        columns = "pk", "premise__address", "neighborhood__name", "category"
        for pk, address, hood, category in places.values_list(*columns):
            row = listed[pk]
            drawn_from = row[3] if row[2] == "DRAWN" else ""
            yield (
                row[1], address, hood or row[3], _PARTS[row[2]], row[4], drawn_from, row[5],
                category,
            )  # fmt: skip


def highest_share(bins: list[dict]) -> float:
    """Return how far the scale goes that has all of the bins' shares: 0.2, 0.4 or 1."""
    most = max((one[share] for one in bins for share in ("predicted", "found")), default=1)
    return next(end for end in (0.2, 0.4, 1.0) if end >= min(most, 1.0))


def calibration_svg(bins: list[dict], title: str, whole: float = 1.0) -> str:
    """Draw predicted against found shares as dots whose area grows with the lines behind them.

    whole : the highest share of the scale
    """
    axes = Axes(44, 284, 30, 270, whole, whole)
    quarters = {k * whole / 4: f"{k * whole * 25:g}%" for k in range(5)}
    along = "predicted share; found share upward"
    told = " ".join(
        f"{one['lines']} lines: predicted {one['predicted']:.1%}, found {one['found']:.1%}."
        for one in bins
    )
    spots = (
        shape(
            "circle",
            cx=axes.x(one["predicted"]),
            cy=axes.y(one["found"]),
            r=2 + 1.2 * one["lines"] ** 0.33,
            fill="#0b6168",
            fill_opacity=0.55,
            stroke="#12343b",
        )
        for one in bins
    )
    parts = [
        axes.grid(title, along, levels=quarters, places=quarters, name_below=33),
        axes.line([(0, 0), (whole, whole)], "#8a1c1c", stroke_dasharray="5 4"),
        *spots,
    ]
    return picture(310, 310, parts, title, told, 12)


def calibration_rows(comparison: dict) -> list[dict]:
    """Return both calibrations as rows of whole percent, for a table beside the pictures."""
    pairs = (("Model", "calibration"), ("Plain rate", "base_calibration"))
    return [
        {
            "by": by,
            "lines": one["lines"],
            "predicted": round(100 * one["predicted"]),
            "found": round(100 * one["found"]),
        }
        for by, key in pairs
        for one in comparison[key]
    ]
