"""Pages of planning whose forms show only once something has happened; see `forms_staged`."""

from itertools import combinations
from math import hypot

from django.urls import reverse

from program.models import LostDay, Plan
from program.operations.plans import area_split, areas_lock
from program.operations.plans.grid import grid_queue
from program.queries.planning.grid import grid_of, point_of
from replacements.models import StreetClosure, WorkOrder
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open
from services_inventory.today import now

WHO = {"by": "manager"}


def _areas(lock: bool):
    def stage(day):
        plan = Plan.objects.filter(state="DRAWN").last()
        area = max(plan.areas.all(), key=lambda area: area.lines.count())
        if lock:
            areas_lock(
                plan=plan, areas=[area], year=plan.result["years"][0]["year"], at=now(), **WHO
            )
        else:
            area, _ = area_split(area=area, location_ids=[_next_door(area)], at=now(), **WHO)
        return reverse("plan_area", args=[plan.pk, area.pk])

    return stage


def _next_door(area) -> str:
    """Return a line of an area that has another one close by."""
    places = [line.line for line in area.lines.select_related("line__premise")]
    return min(
        (hypot(a.premise.latitude - b.premise.latitude, a.premise.longitude - b.premise.longitude),
         a.location_id)
        for a, b in combinations(places, 2)
    )[1]  # fmt: skip


def _works(day):
    row = ["Brine St", "2032-01-01", "2032-12-31", "LINESTRING (-100.3 41.5, -100.2 41.5)"]
    batch = batch_open(kind="WORKS", by="manager", at=now(), parameters={"works": "PAVING"})
    Batch.objects.filter(pk=batch.pk).update(state="APPLIED", result={"works": [row]})
    return reverse("plan_works")


def _census(day):
    asked = {"by": "LINES", "columns": {}, "as_of": day.isoformat()}
    batch = batch_open(kind="CENSUS", by="manager", at=now(), parameters=asked)
    laid = {"figures": {"children": 9.0}, "covered": 1.0, "parts": [["Tract 1", 1.0]]}
    result = {"census": {"East": laid}, "as_of": day.isoformat()}
    Batch.objects.filter(pk=batch.pk).update(state="APPLIED", result=result)
    return reverse("plan_census")


def _grid(state):
    def stage(day):
        plan = Plan.objects.filter(state="ADOPTED").last()
        batch = grid_queue(plan=plan, by="manager", at=now(), as_of=day)
        own = point_of(grid_of(plan), {})["key"]
        found = {"cost": 9_000.0, "last_year": 2, "complies": 0.9, "finishes": 0.9, "years": []}
        Batch.objects.filter(pk=batch.pk).update(state=state, result={"cells": {own: found}})
        return reverse("plan_grid", args=[plan.pk])

    return stage


def _lost_day(day):
    LostDay.objects.create(day=day, reason="Ice", recorded_by="manager", recorded_at=now())
    return reverse("plan_pace", args=[Plan.objects.filter(state="ADOPTED").last().pk])


def _closure(day):
    place = WorkOrder.objects.first().line.premise
    StreetClosure.objects.create(
        street_key=place.street_key, side="BOTH", first_day=day, last_day=day, recorded_by="x",
        recorded_at=now(),
    )  # fmt: skip
    return reverse("plan_closures")


def _plan_change(day):
    plan = Plan.objects.filter(state="DRAWN").last()
    area = max(plan.areas.all(), key=lambda area: area.lines.count())
    return f"{reverse('plan_edit', args=[plan.pk])}?hood={area.neighborhood_id}&area={area.pk}"


def _adopted(day):
    return reverse("plan", args=[Plan.objects.filter(state="ADOPTED").last().pk])


STAGED_PLANS = (
    ("M", _areas(False)),
    ("M", _areas(True)),
    ("M", _plan_change),
    ("M", _works),
    ("M", _lost_day),
    ("M", _census),
    ("M", _grid("QUEUED")),
    ("M", _grid("STOPPED")),
    ("M", _closure),
    ("M", _adopted),
)
