"""Customers' own replacement of their side: what was told, what happened, what follows."""

from datetime import date

from django.db.models import OuterRef, Prefetch, Q, Subquery

from program.domain.deadlines import CustomerStarted
from program.models import CustomerWork, CustomerWorkStep
from program.rules import rules_in_force
from replacements.models import Replacement
from services_inventory.models import ServiceLine

Kind = CustomerWorkStep.Kind


def open_customer_works(as_of: date, kept: Q | None = None) -> list[CustomerStarted]:
    """Return the facts of what customers told up to a day, oldest first.

    A line that is non-lead now leaves nothing to be done.
    """
    told = CustomerWork.objects.standing().filter(kept or Q(), told_on__lte=as_of)
    works = _works(told.exclude(line__category="NON_LEAD").order_by("told_on", "id"), as_of)
    facts = (fact_of(work, as_of) for work in works)
    return [fact for fact in facts if fact is not None]


def _works(works, as_of: date):
    """Add the steps, and the day of the last accepted replacement of the system side."""
    steps = CustomerWorkStep.objects.order_by("id")
    done = Replacement.objects.standing(as_of).filter(line=OuterRef("line"), system_stands=True)
    done = done.order_by("-replaced_on")
    works = works.annotate(replaced_on=Subquery(done.values("replaced_on")[:1]))
    return works.select_related("line__premise").prefetch_related(Prefetch("steps", steps))


def fact_of(work: CustomerWork, as_of: date) -> CustomerStarted | None:
    """Return the fact that starts the clocks; None while no day is known."""
    days = {
        step.kind: step.happened_on
        for step in work.steps.all()
        if step.withdrawn_at is None and step.happened_on <= as_of
    }
    done_on = days.get(Kind.CUSTOMER_DONE)
    if not (done_on or work.planned_on):
        return None
    return CustomerStarted(
        work.line.location_id,
        done_on or work.planned_on,
        work.told_on,
        system_done_on=days.get(Kind.SYSTEM_DONE) or work.replaced_on,
        extended=Kind.EXTENDED in days,
        state_told_on=days.get(Kind.STATE_TOLD),
        planned=done_on is None,
    )


def customer_work_story(line: ServiceLine, as_of: date) -> dict:
    """Return what a line's page tells: the record that stands, those taken back, the clocks."""
    works = list(_works(line.customer_works.order_by("-id"), as_of).select_related("inquiry"))
    standing = next((work for work in works if work.withdrawn_at is None), None)
    story = {"work": standing, "past": [w for w in works if w.withdrawn_at], "dues": []}
    if standing is None:
        return story
    fact = fact_of(standing, as_of)
    rules = rules_in_force()
    steps = [step for step in standing.steps.all() if step.withdrawn_at is None]
    there = {step.kind for step in steps}
    return story | {
        "steps": steps,
        "steps_taken_back": [step for step in standing.steps.all() if step.withdrawn_at],
        "replaced_on": standing.replaced_on,
        "too_old": fact is not None and fact.starts_on(rules) is None,
        "dues": [(due, due.state(as_of)) for due in (fact.dues(as_of, rules) if fact else [])],
        "next_kinds": [kind for kind in Kind if kind not in there],
        "done": fact is not None and fact.system_done_on is not None,
    }


def customer_work_list(as_of: date, limit: int) -> list[dict]:
    """Return the records that stand, newest first, each with the clock that comes next."""
    rules = rules_in_force()
    works = _works(CustomerWork.objects.standing().order_by("-told_on", "-id"), as_of)[:limit]
    rows = []
    for work in works:
        fact = fact_of(work, as_of)
        dues = fact.dues(as_of, rules) if fact else []
        waiting = [due for due in dues if due.done_on is None]
        over = fact is None or not waiting or work.line.category == "NON_LEAD"
        rows.append({"work": work, "next": None if over else min(waiting, key=_by_day)})
    return rows


def _by_day(due) -> date:
    return due.due_on
