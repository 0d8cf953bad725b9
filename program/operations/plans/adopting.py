"""Adopting a plan, and making the season's packages and planned work orders from it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from program.domain.calendar import program_year_bounds
from program.models import Plan, PlanAdoption, PlanArea
from program.queries.planning.asked import PlanError
from program.queries.planning.pool import answers
from program.rules import rules_in_force
from replacements.models import Contractor, WorkOrder, WorkPackage
from replacements.operations.many_orders import orders_call_off
from replacements.operations.work_orders import WorkOrderError, work_order_create
from services_inventory.domain.reporting import Report
from services_inventory.models import ServiceLine

MOST_ORDERS = 2_000
_TO_REPLACE = ("LEAD", "GRR")
_NOT_BEGUN = (WorkOrder.State.PLANNED, WorkOrder.State.CALLED_OFF)


@transaction.atomic
def plan_adopt(*, plan: Plan, by: str, at: datetime, reason: str = "") -> Plan:
    """Freeze a plan as the one in force, with author and date; the one before is superseded.

    Raises
    ------
    PlanError: the plan places no area, was changed by hand since it was drawn, or isn't a draft;
        or it takes the place of another and no reason is given.
    """
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if plan.state != Plan.State.DRAWN:
        raise PlanError(f"{plan.name} is {plan.get_state_display()} already.")
    if plan.result.get("by_hand"):
        raise PlanError(
            f"{plan.name} was changed by hand since it was drawn: draw it again, look at what "
            "follows, and adopt that."
        )
    if not plan.areas.filter(program_year__isnull=False).exists():
        raise PlanError(f"{plan.name} places no area in any year, so there is nothing to adopt.")
    before = Plan.objects.filter(state=Plan.State.ADOPTED).first()
    if before and not reason.strip():
        raise PlanError(f"Say why {plan.name} takes the place of {before.name}.")
    if before:
        _put(before, Plan.State.SUPERSEDED)
    PlanAdoption.objects.create(
        plan=plan, instead_of=before, reason=reason.strip(), adopted_by=by, adopted_at=at
    )
    plan.adopted_by, plan.adopted_at = by, at
    return _put(plan, Plan.State.ADOPTED)


def _put(plan: Plan, state: str) -> Plan:
    plan.state = state
    plan.save(update_fields=["state", "adopted_by", "adopted_at"])
    return plan


@transaction.atomic
def plan_adoption_undo(*, plan: Plan, reason: str, by: str, at: datetime) -> Plan | None:
    """Take an adoption back: its planned orders are called off, the plan before is in force again.

    Returns the plan that is in force again, None where there was none.

    Raises
    ------
    PlanError: no reason is given, the plan isn't adopted, or one of its orders is released.
    """
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    adopted = plan.adoptions.filter(undone_at=None).order_by("-id").first()
    if plan.state != Plan.State.ADOPTED or adopted is None:
        raise PlanError(f"{plan.name} isn't adopted, so there is nothing to take back.")
    if under_way := orders_of(plan).exclude(state__in=_NOT_BEGUN).count():
        raise PlanError(
            f"{under_way:,} of the plan's orders {'is' if under_way == 1 else 'are'} released or "
            "further on, so crews work by this plan. Adopt another one instead."
        )
    plan_orders_call_off(plan=plan, reason=reason, by=by, at=at)
    adopted.undone_because, adopted.undone_by, adopted.undone_at = reason.strip(), by, at
    adopted.save(update_fields=["undone_because", "undone_by", "undone_at"])
    plan.adopted_by, plan.adopted_at = "", None
    _put(plan, Plan.State.DRAWN)
    return _put(adopted.instead_of, Plan.State.ADOPTED) if adopted.instead_of else None


def plan_orders_call_off(*, plan: Plan, reason: str, by: str, at: datetime) -> int:
    """Call off all orders made from a plan that are planned and not released; how many they are.

    Raises
    ------
    PlanError: no reason is given.
    """
    try:
        return orders_call_off(orders=orders_of(plan), reason=reason, by=by, at=at)
    except WorkOrderError as error:
        raise PlanError(str(error)) from error


def orders_of(plan: Plan):
    """Return the orders in the packages made from a plan, of whatever state."""
    return WorkOrder.objects.filter(package__in=plan.packages.all())


@transaction.atomic
def plan_orders_make(
    *,
    plan: Plan,
    year: int,
    shares: dict[int, float],
    by: str,
    at: datetime,
    limit: int = MOST_ORDERS,
    report: Report | None = None,
) -> dict:
    """Make a package for each contractor and planned orders for the known lines of one year.

    Lines still unknown wait for their inspection; lines with an open order, lines settled since
    and lines whose owner refused are left out and counted. To run it again adds what is missing.

    Parameters
    ----------
    shares : contractor id to its part of the year's jobs; parts need not add up to one
    limit : most orders to make at once

    Returns
    -------
    dict : orders made, what was left out and why, packages, and the sentences of lines refused

    Raises
    ------
    PlanError: the plan isn't adopted, the year has no areas, or no contractor has a part.
    """
    report = report or (lambda done, total: None)
    if plan.state != Plan.State.ADOPTED:
        raise PlanError(f"{plan.name} isn't adopted: adopt it, then make its orders.")
    areas = list(plan.areas.filter(program_year=year).order_by("crew", "order_in_year", "key"))
    if not areas:
        raise PlanError(f"No area of {plan.name} is in program year {year}: choose another year.")
    contractors = _contractors(shares)
    packages = _packages(plan, year, contractors, by, at)
    told = {"made": 0, "unknown": 0, "open": 0, "settled": 0, "refused": 0, "left_for_later": 0}
    problems: list[str] = []
    said, total = answers(), sum(area.jobs for area in areas)
    for contractor_id, area in shared(areas, {c.pk: shares[c.pk] for c in contractors}):
        for line in _lines(area):
            why = _left_out(line, said)
            if not why and told["made"] >= limit:
                why = "left_for_later"
            if why:
                told[why] += 1
                continue
            try:
                work_order_create(
                    line=line,
                    contractor=packages[contractor_id].contractor,
                    package=packages[contractor_id],
                    due_on=area.ends_on or packages[contractor_id].due_on,
                    by=by,
                    at=at,
                )
            except WorkOrderError as error:
                problems.append(f"{line.location_id}: {error}")
                continue
            told["made"] += 1
            report(min(told["made"], total), total)
    return {
        **told,
        "problems": problems[:50],
        "packages": [package.pk for package in packages.values()],
    }


def shared(areas: list[PlanArea], shares: dict[int, float]) -> list[tuple[int, PlanArea]]:
    """Give whole crews to contractors by their parts; whole areas where crews don't come near.

    Near is within a tenth of all jobs, for everybody.
    """
    whole, total = sum(shares.values()), sum(area.jobs for area in areas)
    wanted = {pk: total * share / whole for pk, share in shares.items()}
    given: list[tuple[int, PlanArea]] = []
    for key in ("crew", "pk"):
        given, jobs = _given(areas, wanted, key)
        if all(abs(jobs[pk] - wanted[pk]) <= total / 10 for pk in shares):
            break
    return given


def _given(areas: list[PlanArea], wanted: dict[int, float], key: str):
    groups: dict[object, list[PlanArea]] = {}
    for area in areas:
        groups.setdefault(getattr(area, key), []).append(area)
    jobs = dict.fromkeys(wanted, 0)
    given = []
    for members in groups.values():
        # Whoever is farthest below the part promised is next; equals by their number.
        owner = min(wanted, key=lambda pk: (jobs[pk] - wanted[pk], pk))
        jobs[owner] += sum(area.jobs for area in members)
        given += [(owner, area) for area in members]
    return given, jobs


def _contractors(shares: dict[int, float]) -> list[Contractor]:
    wanted = [pk for pk, share in shares.items() if share > 0]
    found = list(Contractor.objects.filter(pk__in=wanted, active=True).order_by("pk"))
    if not found or len(found) != len(wanted):
        raise PlanError("Give at least one active contractor a part of the work above zero.")
    return found


def _packages(plan: Plan, year: int, contractors, by: str, at: datetime) -> dict[int, WorkPackage]:
    last = program_year_bounds(year, rules_in_force())[1]
    made = {
        contractor.pk: WorkPackage.objects.get_or_create(
            contractor=contractor,
            name=f"Program year {year}, plan {plan.pk}",
            defaults={"year": last.year, "due_on": last, "created_by": by, "created_at": at},
        )[0]
        for contractor in contractors
    }
    plan.packages.add(*made.values())
    return made


def _lines(area: PlanArea):
    ids = area.lines.values("line_id")
    return ServiceLine.objects.filter(pk__in=ids).order_by(
        "premise__street_key", "premise__house_number", "pk"
    )


def _left_out(line: ServiceLine, said: dict[int, str]) -> str:
    if line.category == "UNKNOWN":
        return "unknown"
    if line.category not in _TO_REPLACE:
        return "settled"
    if said.get(line.pk) in ("REFUSED", "REVOKED"):
        return "refused"
    if WorkOrder.objects.filter(line=line, state__in=WorkOrder.OPEN_STATES).exists():
        return "open"
    return ""


def orders_sentence(told: dict) -> str:
    """What was made and what was left out, in one sentence."""
    reasons = (
        ("unknown", "still unknown"),
        ("open", "with an open order"),
        ("settled", "settled since"),
        ("refused", "refused by the owner"),
        ("left_for_later", "beyond the most made at once"),
    )
    left = [f"{told[key]:,} {words}" for key, words in reasons if told[key]]
    if told["problems"]:
        left.append(f"{len(told['problems'])} that can't be ordered")
    end = f" Left out: {', '.join(left)}." if left else ""
    return f"{told['made']:,} planned orders made in {len(told['packages'])} packages.{end}"
