"""Homes whose line was replaced, to be invited to a water sample in the months that follow."""

from datetime import date, timedelta

from django.db.models import CharField, Exists, OuterRef, QuerySet, Value
from django.db.models.functions import Cast, Concat

from program.models import Notice, TapResult
from program.notices.templates_text import NoticeKind
from replacements.models import Replacement
from services_inventory.domain.days import add_months
from services_inventory.domain.regulation import Rules

AHEAD_DAYS = 30  # how long before its time a home is listed; proposed here


def with_sampling(works: QuerySet) -> QuerySet:
    """Annotate replacements with `sampled` and `invited`: by a result, by a letter delivered."""
    about = Concat(Value("invite-"), Cast(OuterRef("pk"), CharField()))
    letters = Notice.objects.filter(
        line=OuterRef("line"), kind=NoticeKind.SAMPLE_INVITATION.value, subject=about,
        withdrawn_on__isnull=True,
    )  # fmt: skip
    taken = TapResult.objects.filter(
        line=OuterRef("line"), purpose=TapResult.Purpose.FOLLOW_UP, metal="LEAD",
        sampled_on__gte=OuterRef("replaced_on"), file__withdrawn_at__isnull=True,
    )  # fmt: skip
    return works.annotate(
        sampled=Exists(taken),
        invited=Exists(letters.filter(delivered_on__isnull=False)),
        on_the_list=Exists(letters),
    )


def invitations_due(as_of: date, rules: Rules) -> list[dict]:
    """Return the homes whose time is open or comes soon, the first to close first.

    Who was sampled, or declined, is left out.
    """
    first = rules.value("FOLLOW_UP_SAMPLE_FROM_MONTHS", as_of)
    last = rules.value("FOLLOW_UP_SAMPLE_TO_MONTHS", as_of)
    household = "completion__quality__household"
    works = Replacement.objects.standing(as_of).filter(
        replaced_on__gte=add_months(as_of, -last) - timedelta(days=3),
        replaced_on__lte=add_months(as_of + timedelta(days=AHEAD_DAYS), -first),
    )
    wanted = ("id", "line_id", "line__location_id", "line__premise__address", "replaced_on",
              "invited", "on_the_list", f"{household}__sample_taken_on",
              f"{household}__sample_declined_on")  # fmt: skip
    rows = with_sampling(works).filter(sampled=False).order_by("replaced_on", "id")
    found = []
    for pk, line, place, address, day, invited, listed, taken, declined in rows.values_list(
        *wanted
    ):
        opens, closes = add_months(day, first), add_months(day, last)
        if taken or declined or closes < as_of:
            continue
        found.append(
            {
                "pk": pk, "line": line, "place": place, "address": address, "replaced_on": day,
                "opens_on": opens, "closes_on": closes, "is_open": opens <= as_of,
                "invited": invited, "listed": listed, "can_invite": opens <= as_of and not listed,
            }
        )  # fmt: skip
    return found
