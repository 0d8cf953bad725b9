"""What each role's board shows: read once, from indexes, a few rows each."""

import shutil
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db.models import Count
from django.utils.timezone import localdate

from program.domain.calendar import annual_submission_due, program_year_bounds
from program.domain.deadlines import DueState, grouped
from program.queries.deadlines import Deadlines, deadlines_on
from program.queries.open_questions import open_numbers, open_questions
from program.queries.planning.board import adopted_plan
from program.queries.planning.pace import pace_of
from program.queries.rates import rate_on
from program.queries.submissions import submission_years
from program.replicas import replica_told
from program.roles import COMPLIANCE, PROGRAM_MANAGER, duty_owner, role_of
from program.rules import rules_in_force
from replacements.models import CompletionReview, WorkOrder
from services_inventory.models import Batch
from services_inventory.queries.batches import batches_waiting
from services_inventory.queries.counts_now import category_counts_now

TOP, RETURNED = 8, 4
LATEST = 6
# What is told on Deadlines alone, so that a board asks the record no more than it may.
ON_DEADLINES = ("outreach", "sites above the action level")


def manager_board(as_of: date) -> dict:
    """Return counts, rate, this year's pace, the orders by state, what is due."""
    rate, orders = rate_on(as_of, category_counts_now()), _orders(WorkOrder.objects.all())
    deadlines = deadlines_on(as_of, leave_out=(*ON_DEADLINES, "monitoring periods"))
    return {
        "counts": rate.counts,
        "rate": rate,
        "pace": pace_of(rate, as_of, adopted_plan()),
        "orders": orders,
        **_urgent(deadlines, PROGRAM_MANAGER),
    }


def contractor_board(user) -> dict:
    """Return the company's own orders: returned ones first, then what is to be done next."""
    own = WorkOrder.objects.visible_to(user)
    shown = own.select_related("line__premise", "crew").order_by("due_on", "id")
    reasons = (
        CompletionReview.objects.filter(answer="RETURNED", completion__work_order__in=own)
        .order_by("reviewed_at")
        .values_list("completion__work_order_id", "reasons")
    )
    why = dict(reasons.filter(completion__work_order__state="RETURNED"))
    returned = [
        {"order": order, "why": why.get(order.pk, "")}
        for order in shown.filter(state="RETURNED")[:RETURNED]
    ]
    return {
        "orders": _orders(own),
        "returned": returned,
        "next": list(shown.filter(state="RELEASED")[:TOP]),
        "company": getattr(getattr(user, "membership", None), "contractor", None),
    }


def compliance_board(as_of: date, at: datetime) -> dict:
    """Return what is due, the next submission and what keeps it back."""
    deadlines = deadlines_on(as_of, leave_out=ON_DEADLINES)
    years = submission_years(as_of)
    number = years[0].number if years else 0
    rules = rules_in_force()
    running_due = annual_submission_due(number + 1, rules)
    running_last = program_year_bounds(number + 1, rules)[1]
    last_day = program_year_bounds(number, rules)[1] if years else as_of
    found = open_numbers(last_day, at, number)
    overdue = deadlines.number(DueState.OVERDUE)
    return {
        "counts": category_counts_now(),
        "questions": open_questions(last_day, at, number, overdue, found),
        "year": years[0] if years else None,
        "running": {"last_day": running_last, "due_on": running_due, "number": number + 1},
        **_urgent(deadlines, COMPLIANCE),
    }


def administrator_board(at: datetime) -> dict:
    """Return accounts by role, whether worker and replica are at work, the last batches."""
    users = get_user_model().objects.filter(is_active=True).prefetch_related("groups")
    accounts = [{"user": user, "role": role_of(user)} for user in users.order_by("username")[:50]]
    accounts.sort(key=lambda row: bool(row["role"]))
    free = shutil.disk_usage(settings.DATA_DIR)
    return {
        "counts": category_counts_now(),
        "accounts": accounts[:TOP],
        "people": users.count(),
        "roleless": sum(not row["role"] for row in accounts),
        "worker": worker_state(at),
        "replica": replica_told(),
        "room": {"free_gb": free.free / 1e9, "share": free.free / free.total},
        "batches": list(Batch.objects.order_by("-id")[:LATEST]),
    }


def worker_state(at: datetime) -> dict:
    """Return how many batches wait and run, and whether something waits too long."""
    waiting = batches_waiting(localdate(at))
    running = Batch.objects.filter(state__in=("APPLYING", "CHECKING"))
    oldest = waiting.order_by("created_at").values_list("created_at", flat=True).first()
    stuck = oldest is not None and not running.exists() and at - oldest > timedelta(minutes=2)
    return {
        "waiting": waiting.count(),
        "running": running.count(),
        "oldest": oldest,
        "stuck": stuck,
    }


def _orders(orders) -> list[dict]:
    found = dict(orders.values_list("state").annotate(n=Count("*")).order_by())
    return [
        {"state": state, "label": state.label, "number": found[state]}
        for state in WorkOrder.State
        if found.get(state)
    ]


@dataclass(frozen=True)
class Duty:
    """What is due of one duty: its days that press, overdue ones too, each with how many."""

    what: str
    days: tuple[tuple[date, int], ...]

    @property
    def number(self) -> int:
        """How many in all."""
        return sum(number for _, number in self.days)


def _urgent(deadlines: Deadlines, role: str) -> dict:
    """What presses a role by duty, the first due first, and how many are somebody else's."""
    urgent = (DueState.OVERDUE, DueState.DUE_SOON)
    groups = [g for g in grouped(deadlines.dues) if g.state(deadlines.as_of) in urgent]
    own: dict[str, Counter] = {}
    for group in groups:
        if duty_owner(group.first.rule_id) == role:
            days = own.setdefault(group.first.what, Counter())
            days[group.first.due_on] += group.number
    duties = [Duty(what, tuple(sorted(days.items()))) for what, days in own.items()]
    duties.sort(key=lambda duty: duty.days)
    every = sum(group.number for group in groups)
    return {
        "duties": duties[:TOP],
        "of_others": every - sum(duty.number for duty in duties),
        "overdue": deadlines.number(DueState.OVERDUE),
        "soon": deadlines.number(DueState.DUE_SOON),
    }
