"""How the record knows what a line is made of, and when it is planned, as the public reads."""

from datetime import date

from django.db.models import F, Max, Min, QuerySet

from program.domain.calendar import program_year_bounds
from program.models import NoticeSlot, Plan, PlanAreaLine
from program.notices.owed import STANDING_KINDS
from program.notices.printing import EVERY_KIND
from program.queries.plan_documents import published_document
from program.rules import rules_in_force
from services_inventory.domain.evidence import Basis, Portion
from services_inventory.models import Evidence
from services_inventory.queries.weigher import line_weighed

SIDES = {"system_side": Portion.SYSTEM, "customer_side": Portion.CUSTOMER}
STREETS = 100


def how_known(line_id: int, as_of: date) -> dict[str, tuple[str, date | None]]:
    """Return for each side (SEEN, REPLACED, RECORD, AGE or OTHER; its day), by its best evidence.

    A side of which nothing is known is left out.
    """
    weighed, _ = line_weighed(line_id, as_of)
    portions = {name: weighed.portion(portion).record_ids for name, portion in SIDES.items()}
    ids = [pk for found in portions.values() for pk in found]
    wanted = ("id", "basis", "observed_on", "installed_on")
    rows = {pk: rest for pk, *rest in Evidence.objects.filter(pk__in=ids).values_list(*wanted)}
    known = {}
    for name, found in portions.items():
        told = [_told(*rows[pk]) for pk in found if pk in rows]
        if told:
            _strength, day, how = max(told, key=lambda one: (one[0], one[1] or date.min))
            known[name] = how, day
    return known


def _told(basis: str, observed_on: date | None, installed_on: date | None) -> tuple:
    traits = Basis(basis).traits
    if basis == Basis.REPLACEMENT:
        how = "REPLACED"
    elif traits.inspection:
        how = "SEEN"
    elif basis == Basis.INSTALL_DATE:
        how = "AGE"
    else:
        how = "RECORD" if traits.record else "OTHER"
    return traits.strength, observed_on or installed_on, how


def agency_steps(category: str, language: str) -> NoticeSlot | None:
    """Return the primacy agency's steps to reduce exposure, as staff filled them in for letters."""
    if category not in STANDING_KINDS:
        return None
    filled = NoticeSlot.objects.filter(slot="reduce_exposure", language=language).exclude(text="")
    own = {slot.kind: slot for slot in filled.filter(kind__in=(category, EVERY_KIND))}
    return own.get(category) or own.get(EVERY_KIND)


def published_plan() -> Plan | None:
    """Return the plan in force if the latest public plan document was made of it."""
    document = published_document()
    plan = Plan.objects.filter(state=Plan.State.ADOPTED).first() if document else None
    return plan if plan and plan.adopted_at and plan.adopted_at <= document.frozen_at else None


def plan_shown() -> bool:
    """Say whether there is such a plan."""
    return published_plan() is not None


def year_planned(line_id: int) -> date | None:
    """Return the last day of the program year in which a line is planned, by the public plan."""
    plan = published_plan()
    if plan is None:
        return None
    row = PlanAreaLine.objects.filter(plan=plan, line=line_id, area__program_year__gt=0)
    year = row.values_list("area__program_year", flat=True).first()
    return program_year_bounds(year, rules_in_force())[1] if year else None


def streets_planned(begins: str, after: str) -> tuple[list[dict], str]:
    """Return a page of streets {street, first, last: calendar years}, and the mark of the next."""
    rows = _streets(published_plan(), begins, after)
    found = [
        {"street": row["street"].title(), "first": _year(row["first"]), "last": _year(row["last"])}
        for row in rows[:STREETS]
    ]
    return found, rows[STREETS - 1]["street"] if len(rows) > STREETS else ""


def _streets(plan: Plan | None, begins: str, after: str) -> list[dict]:
    lines: QuerySet = PlanAreaLine.objects.filter(plan=plan, area__program_year__gt=0)
    lines = lines.exclude(line__premise__street_key="")
    if begins:
        lines = lines.filter(line__premise__street_key__startswith=begins)
    if after:
        lines = lines.filter(line__premise__street_key__gt=after)
    years = {"first": Min("area__program_year"), "last": Max("area__program_year")}
    streets = lines.values(street=F("line__premise__street_key")).annotate(**years)
    return list(streets.order_by("street")[: STREETS + 1])


def _year(number: int) -> int:
    return program_year_bounds(number, rules_in_force())[1].year
