"""How the record knows what a line is made of, and when it is planned, as the public reads."""

from datetime import date

from django.db.models import F, Max, Min, QuerySet, Subquery

from program.domain.calendar import program_year_bounds
from program.models import NoticeSlot, Plan, PlanAreaLine, PlanDocument
from program.notices.owed import STANDING_KINDS
from program.notices.printing import EVERY_KIND
from program.public.kept import PLANNED, kept_while, record_mark
from program.rules import rules_in_force
from services_inventory.domain.evidence import Basis, EvidenceRecord, Portion
from services_inventory.queries.weigher import Weigher, line_records

SIDES = {"system_side": Portion.SYSTEM, "customer_side": Portion.CUSTOMER}
STREETS = 100


def how_known(line_id: int, as_of: date) -> dict[str, tuple[str, date | None]]:
    """Return for each side (SEEN, REPLACED, RECORD, AGE or OTHER; its day), by its best evidence.

    A side of which nothing is known is left out.
    """
    records = {record.id: record for record in line_records(line_id)}
    weighed, _ = Weigher.on(as_of).weigh(records.values())
    known = {}
    for name, portion in SIDES.items():
        told = [_told(records[pk]) for pk in weighed.portion(portion).record_ids]
        if told:
            _strength, day, how = max(told, key=lambda one: (one[0], one[1] or date.min))
            known[name] = how, day
    return known


def _told(record: EvidenceRecord) -> tuple:
    basis, traits = record.basis, record.basis.traits
    if basis == Basis.REPLACEMENT:
        how = "REPLACED"
    elif traits.inspection:
        how = "SEEN"
    elif basis == Basis.INSTALL_DATE:
        how = "AGE"
    else:
        how = "RECORD" if traits.record else "OTHER"
    return traits.strength, record.observed_on or record.installed_on, how


def agency_steps(category: str, language: str) -> NoticeSlot | None:
    """Return the primacy agency's steps to reduce exposure, as staff filled them in for letters."""
    if category not in STANDING_KINDS:
        return None
    filled = NoticeSlot.objects.filter(slot="reduce_exposure", language=language).exclude(text="")
    own = {slot.kind: slot for slot in filled.filter(kind__in=(category, EVERY_KIND))}
    return own.get(category) or own.get(EVERY_KIND)


def published_plan() -> int | None:
    """Return the plan in force, by its id, if the latest public plan document was made of it."""
    return kept_while(record_mark(PLANNED), "public-plan", _published_plan)


def _published_plan() -> int | None:
    document = PlanDocument.objects.exclude(published_at=None).order_by("-number")
    made_of = {"adopted_at__lte": Subquery(document.values("frozen_at")[:1])}
    plans = Plan.objects.filter(state=Plan.State.ADOPTED, **made_of)
    return plans.order_by("id").values_list("id", flat=True).first()


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


def _streets(plan: int | None, begins: str, after: str) -> list[dict]:
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
