"""Invitations to a water sample after a replacement, put onto the list of letters."""

from datetime import date

from django.db import transaction

from program.models import Notice
from program.notices.templates_text import NoticeKind
from program.queries.invitations import invitations_due
from program.rules import rules_in_force
from services_inventory.domain.days import day_told


@transaction.atomic
def invitations_owe(*, as_of: date, by: str) -> int:
    """Put an invitation on the list for every home whose time is open; return how many.

    A home whose invitation is on the list, sent or not, gets no second one.
    """
    rules = rules_in_force()
    last = rules.get("FOLLOW_UP_SAMPLE_TO_MONTHS", as_of)
    letters = [
        Notice(
            line_id=row["line"],
            kind=NoticeKind.SAMPLE_INVITATION.value,
            due_on=row["closes_on"],
            rule_id=last.id,
            how_computed=f"{last.value} {last.unit} after the line was replaced on "
            f"{day_told(row['replaced_on'])} ({last.citation}).",
            subject=f"invite-{row['pk']}",
            values={
                "work_date": row["replaced_on"].isoformat(),
                "until_date": row["closes_on"].isoformat(),
            },
            recorded_by=by,
        )
        for row in invitations_due(as_of, rules)
        if row["can_invite"]
    ]
    Notice.objects.bulk_create(letters, batch_size=2_000)
    return len(letters)
