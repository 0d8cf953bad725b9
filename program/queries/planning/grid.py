"""The scenarios around a plan as its page shows them: which are solved, and what each gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TypedDict

from program.models import Plan
from program.planning.forecast import cut_off
from program.planning.grid import Axis, axes_kept, point_key
from services_inventory.models import Batch

LABELS = {
    "crews": "Crews",
    "budget": "Budget",
    "inspections": "All unknown lines looked at",
}


class Point(TypedDict):
    """One scenario: where it lies, its state (SOLVED, NONE, WAITS) and what was solved."""

    key: str
    place: tuple[int, ...]
    labels: list[str]
    state: str
    found: dict | None
    odds: str
    finishes: str
    own: bool


def grid_of(plan: Plan) -> dict | None:
    """Return the latest grid of a plan with its points; None where none was asked for."""
    rows = Batch.objects.filter(kind="SCENARIOS", parameters__plan=plan.pk)
    batch = rows.order_by("-id").first()
    if batch is None:
        return None
    axes = axes_kept(batch.parameters["axes"])
    cells = batch.result.get("cells", {})
    crews, budget, inspections = (range(len(axis.values)) for axis in axes)
    tables = [
        (
            axes[2].values[c].label,
            [(axes[0].values[a].label, [_point(axes, cells, (a, b, c)) for b in budget])
             for a in crews],
        )
        for c in inspections
    ]  # fmt: skip
    return {
        "batch": batch,
        "as_of": date.fromisoformat(batch.parameters["as_of"]),
        "axes": [(LABELS[axis.key], axis) for axis in axes],
        "cells": cells,
        "tables": tables,
        "solved": len(cells),
        "every": len(crews) * len(budget) * len(inspections),
    }


def point_of(grid: dict, given: Mapping[str, int | None]) -> Point:
    """Return the point that the sliders stand on; the plan's own where they say nothing."""
    axes = [axis for _, axis in grid["axes"]]
    place = []
    for axis in axes:
        number = given.get(axis.key)
        most = len(axis.values) - 1
        place.append(axis.own if number is None else min(number, most))
    return _point(axes, grid["cells"], tuple(place))


def _point(axes: Sequence[Axis], cells: dict, place: tuple[int, ...]) -> Point:
    key = point_key(place)
    found = cells.get(key)
    state = ("SOLVED" if found else "NONE") if key in cells else "WAITS"
    odds, ends = (found["complies"], found["finishes"]) if found else (None, None)
    return {
        "key": key,
        "place": place,
        "labels": [axis.values[k].label for axis, k in zip(axes, place, strict=True)],
        "state": state,
        "found": found,
        "odds": "" if odds is None else cut_off(odds),
        "finishes": "" if ends is None else cut_off(ends),
        "own": all(axis.own == k for axis, k in zip(axes, place, strict=True)),
    }
