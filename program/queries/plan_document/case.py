"""What every part of the plan document is read by: the day, the values, the counts, the plan."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property

from django.db.models import Count, Q

from program.domain.deferral import Deadline, deadline_in_force
from program.models import Notice, Plan, Utility
from program.notices.printing import slot_texts
from program.notices.templates_text import NoticeKind, SlotTexts
from program.queries.planning.asked import PlanAsked
from program.queries.planning.facts import SEEN
from program.queries.rates import Rate, rate_on
from program.rules import rules_in_force
from program.utility import the_utility
from services_inventory.domain.materials import Material
from services_inventory.domain.regulation import Rules, Value
from services_inventory.models import Evidence
from services_inventory.queries.counts_now import category_counts_now

ONE_YEAR = timedelta(days=365)
MANAGER, COMPLIANCE, ADMINISTRATOR = "Program manager", "Compliance staff", "Administrator"


@dataclass(frozen=True)
class Case:
    """The record on the day on which a document is made, read once and kept for all parts."""

    as_of: date
    known_at: datetime

    @cached_property
    def rules(self) -> Rules:
        """The values in force, as known."""
        return rules_in_force(self.known_at)

    @cached_property
    def utility(self) -> Utility:
        """The utility, or an empty one."""
        return the_utility() or Utility(name="The water system")

    @cached_property
    def counts(self) -> dict[str, int]:
        """The inventory's counts of now: a document is made on its day, and frozen whole."""
        return category_counts_now()

    @cached_property
    def notices(self) -> dict[NoticeKind, tuple[int, int]]:
        """How many notices of each kind were due in the year to the day, and how many went out."""
        rows = (
            Notice.objects.filter(withdrawn_on__isnull=True)
            .filter(due_on__range=(self.as_of - ONE_YEAR, self.as_of))
            .order_by()
            .values_list("kind")
            .annotate(n=Count("id"), sent=Count("id", filter=Q(delivered_on__lte=self.as_of)))
        )
        return {NoticeKind(kind): (number, sent) for kind, number, sent in rows}

    @cached_property
    def seen(self) -> dict[str, int]:
        """How many statements of pipe seen on site stand, and how many lines are lead-lined."""
        # The condition stands in the counts: one pass over the statements is quicker than an index
        # of those that take nothing back, which are nearly all.
        stands = Q(withdrawn_by__isnull=True, withdraws__isnull=True)
        lined = Q(material=Material.LEAD_LINED_GALVANIZED)
        rows = Evidence.objects.filter(Q(basis__in=SEEN) | lined, recorded_at__lte=self.known_at)
        return rows.aggregate(
            ON_SITE=Count("id", filter=stands & Q(basis__in=SEEN)),
            LEAD_LINED=Count("line", filter=stands & lined, distinct=True),
        )

    @cached_property
    def wording(self) -> SlotTexts:
        """What staff filled into the letters."""
        return slot_texts()

    @cached_property
    def rate(self) -> Rate:
        """Everything about the rate."""
        return rate_on(self.as_of, self.counts, self.known_at)

    @cached_property
    def deadline(self) -> Deadline:
        """The replacement deadline in force."""
        return deadline_in_force(self.rules)

    @cached_property
    def plan(self) -> Plan | None:
        """The adopted plan of work areas, if there is one."""
        return Plan.objects.filter(state=Plan.State.ADOPTED).first()

    @cached_property
    def asked(self) -> PlanAsked | None:
        """What the adopted plan was asked for."""
        return PlanAsked.again(self.plan.settings) if self.plan else None

    @property
    def years(self) -> list[dict]:
        """The adopted plan's program years with work."""
        rows = self.plan.result.get("years", ()) if self.plan else ()
        return [row for row in rows if row["areas"] or row["inspections"]]

    def value(self, rule_id: str) -> Value:
        """One value of the rule in force on the day."""
        return self.rules.get(rule_id, self.as_of)


def dollars(amount: float) -> str:
    """Return an amount of money in whole dollars."""
    return f"${amount:,.0f}"
