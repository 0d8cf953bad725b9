"""Changes to the areas of a drawn plan by hand: lock, unlock, split, merge, move lines; and undo.

An adopted plan is frozen. A plan that was changed says so until it is drawn again. Every change
keeps the areas as they were, so that the last one can be taken back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from django.db import transaction

from program.models import Plan, PlanArea, PlanEdit
from program.operations.plans.kept_areas import kept_rows, lines_with_area, put_back, replaced_by
from program.planning.work_areas import BadArea, merge, regrouped, split
from program.queries.planning.asked import PlanError
from program.queries.planning.effect import Effect, effect_of


@transaction.atomic
def areas_lock(
    *, plan: Plan, areas: Sequence[PlanArea], year: int | None, by: str, at: datetime
) -> PlanEdit:
    """Keep areas in one program year, or each in its own, when the plan is drawn again.

    Raises
    ------
    PlanError: the plan is adopted, or doesn't cover the year, or an area has no year of its own.
    """
    plan = open_plan(plan)
    _refuse_none(areas)
    before = kept_rows(areas)
    years = [row["year"] for row in plan.result["years"]] or [one.program_year for one in areas]
    for area in areas:
        wanted = area.program_year if year is None else year
        if wanted not in years:
            raise PlanError(
                f"Program year {wanted} is not in this plan: choose one of "
                f"{', '.join(str(number) for number in years if number)}."
                if wanted
                else f"{area.key} has no program year yet: choose the one to lock it to."
            )
        PlanArea.objects.filter(pk=area.pk).update(locked=True, program_year=wanted)
    where = "each to its own program year" if year is None else f"to program year {year}"
    made = [area.key for area in areas]
    return _note(plan, f"{_named(made)} locked {where}", by, at, before, made)


@transaction.atomic
def areas_unlock(*, plan: Plan, areas: Sequence[PlanArea], by: str, at: datetime) -> PlanEdit:
    """Let areas take any year again.

    Raises
    ------
    PlanError: the plan is adopted, or no area is named.
    """
    plan = open_plan(plan)
    _refuse_none(areas)
    before, made = kept_rows(areas), [area.key for area in areas]
    PlanArea.objects.filter(pk__in=[area.pk for area in areas]).update(locked=False)
    return _note(plan, f"{_named(made)} no longer locked", by, at, before, made)


@transaction.atomic
def area_split(
    *, area: PlanArea, by: str, at: datetime, location_ids=None
) -> tuple[PlanArea, PlanArea]:
    """Make two areas of one: the lines named and the rest, or the best cut in the middle.

    Raises
    ------
    PlanError: the plan is adopted, or the area can't be split so.
    """
    plan = open_plan(area.plan)
    lines, (found,) = lines_with_area([area])
    try:
        parts = split(found, lines, location_ids)
    except BadArea as error:
        raise PlanError(str(error)) from error
    if taken := plan.areas.filter(key__in=[part.id for part in parts]).first():
        raise PlanError(f"There is an area {taken.key} already: merge it away first.")
    before = kept_rows([area])
    made = replaced_by(plan, [area], [(part, area) for part in parts])
    _note(plan, f"{area.key} split into {made[0].key} and {made[1].key}", by, at, before, made)
    return made[0], made[1]


@transaction.atomic
def areas_merge(*, plan: Plan, areas: Sequence[PlanArea], by: str, at: datetime) -> PlanArea:
    """Make one area of two or more that lie beside each other in one neighborhood.

    It takes the program year and crew of the first.

    Raises
    ------
    PlanError: the plan is adopted, or the areas can't be merged.
    """
    plan = open_plan(plan)
    if any(area.plan_id != plan.pk for area in areas):
        raise PlanError("The areas belong to two plans: choose those of one plan.")
    if len(areas) < 2:
        raise PlanError("Choose two areas or more to merge, on the map or in the list.")
    lines, found = lines_with_area(areas)
    try:
        whole = _merged(found, lines)
    except BadArea as error:
        raise PlanError(str(error)) from error
    before = kept_rows(areas)
    (made,) = replaced_by(plan, areas, [(whole, areas[0])])
    keys = _named([area.key for area in areas])
    _note(plan, f"{keys} merged into {made.key}", by, at, before, [made])
    return made


def _merged(found, lines):
    """Merge areas one by one, the nearest that can be next, so that their order doesn't matter."""
    whole, waiting, refusal = found[0], list(found[1:]), None
    while waiting:
        for area in waiting:
            try:
                whole = merge(whole, area, lines)
            except BadArea as error:
                refusal = refusal or error
                continue
            waiting.remove(area)
            refusal = None
            break
        else:
            raise refusal
    return whole


@transaction.atomic
def lines_regroup(
    *, plan: Plan, location_ids: Sequence[str], to: PlanArea | None, by: str, at: datetime
) -> PlanArea:
    """Take the lines named out of their areas, into another area or into a new one of their own.

    An area that loses its last line is gone. A new area takes the program year and crew of the
    first area it comes from.

    Raises
    ------
    PlanError: the plan is adopted, or the lines can't go together.
    """
    plan = open_plan(plan)
    held = plan.area_lines.filter(line__location_id__in=location_ids).values("area_id")
    areas = list(plan.areas.filter(pk__in=held).select_related("neighborhood").order_by("key"))
    if to is not None and to not in areas:
        areas.append(to)
    lines, found = lines_with_area(areas)
    own = {area.key: area for area in areas}
    new_key = _free_key(plan, areas[0]) if areas else ""
    target = next((one for one in found if to is not None and one.id == to.key), None)
    try:
        parts = regrouped(found, lines, location_ids, target, new_key)
    except BadArea as error:
        raise PlanError(str(error)) from error
    before = kept_rows(areas)
    made = replaced_by(plan, areas, [(part, own.get(part.id, areas[0])) for part in parts])
    count = len(set(location_ids))
    said = f"{count} {'line' if count == 1 else 'lines'} taken into {made[0].key}"
    _note(plan, said, by, at, before, made)
    return made[0]


def change_tried(*, plan: Plan, change: Callable[[], object]) -> Effect:
    """Make a change, see what it does, and leave everything as it was.

    Raises
    ------
    PlanError: the change can't be made.
    """
    with transaction.atomic():
        change()
        found = effect_of(plan, plan.edits.latest("id"))
        transaction.set_rollback(True)
    return found


@transaction.atomic
def edit_undo(*, plan: Plan, by: str, at: datetime) -> PlanEdit:
    """Take the last change by hand back: the areas are as they were before it.

    Raises
    ------
    PlanError: the plan is adopted, or nothing is left to take back.
    """
    plan = open_plan(plan)
    edit = plan.edits.filter(undone_at__isnull=True).order_by("-id").first()
    if edit is None:
        raise PlanError(f"There is no change by hand of {plan.name} to take back.")
    put_back(plan, edit)
    edit.undone_by, edit.undone_at = by, at
    edit.save(update_fields=["undone_by", "undone_at"])
    plan.result["by_hand"] = [one for one in plan.result["by_hand"] if one.get("edit") != edit.pk]
    plan.save(update_fields=["result"])
    return edit


def open_plan(plan: Plan) -> Plan:
    """Return the plan, held for a change.

    Raises
    ------
    PlanError: it is adopted or superseded.
    """
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if plan.state != Plan.State.DRAWN:
        raise PlanError(
            f"{plan.name} is {plan.get_state_display()} and stays as it is: draw a new plan from "
            "it, and change that."
        )
    return plan


def _refuse_none(areas) -> None:
    if not areas:
        raise PlanError("Choose an area first, on the map or in the list.")


def _note(plan: Plan, what: str, by: str, at: datetime, before, made) -> PlanEdit:
    keys = [one if isinstance(one, str) else one.key for one in made]
    edit = PlanEdit.objects.create(
        plan=plan, what=what[:400], by=by, at=at, before=before, made=keys
    )
    plan.result["by_hand"].append(
        {"what": edit.what, "by": by, "at": at.isoformat(), "edit": edit.pk}
    )
    plan.save(update_fields=["result"])
    return edit


def _named(keys: list[str], shown: int = 6) -> str:
    if len(keys) > shown:
        keys = [*keys[:shown], f"{len(keys) - shown} more"]
    return keys[0] if len(keys) == 1 else f"{', '.join(keys[:-1])} and {keys[-1]}"


def _free_key(plan: Plan, area: PlanArea) -> str:
    hood = area.neighborhood.name if area.neighborhood else "Area"
    used = set(plan.areas.values_list("key", flat=True))
    used |= {key for made in plan.edits.values_list("made", flat=True) for key in made}
    number = 1
    while (key := f"{hood[:70]}-{number:03d}") in used:
        number += 1
    return key
