"""Why a held, rejected or withdrawn pull may stand: said by a named person, kept, never edited."""

from datetime import datetime

from django.db import transaction

from services_inventory.domain.days import day_told

from ...models import LiveFeed, PullExplanation, PullRecord
from ...queries.pull_review import asks_for_a_word
from ..work_orders import State, locked
from .errors import PullRefused


def pull_explain(
    *, pull: PullRecord | LiveFeed, why: str, by: str, at: datetime, of_utility: bool = False
) -> PullExplanation:
    """Record why a pull that asks for a person's word may stand.

    Parameters
    ----------
    pull : with its log, or as it was seen live
    of_utility : said by the utility; only that lets the work be accepted, and not by who recorded
        the pull

    Raises
    ------
    PullRefused: nothing is said, the pull needs no word, it is the speaker's own, or the work is
        finished.
    """
    if not why.strip():
        raise PullRefused("Say why the pull may stand: what was found, and who looked at it.")
    if not asks_for_a_word(pull):
        raise PullRefused(f"Nothing is held against the pull of {day_told(pull.pulled_on)}.")
    if of_utility and by == pull.recorded_by:
        raise PullRefused("Nobody passes a pull that they recorded; another person looks at it.")
    with transaction.atomic():
        order = locked(pull.work_order)
        if order.state not in (State.RELEASED, State.RETURNED, State.HANDED_IN):
            raise PullRefused(f"{order.number} is {order.get_state_display()}; it stays so.")
        return PullExplanation.objects.create(
            **{"feed" if isinstance(pull, LiveFeed) else "pull": pull},
            why=why.strip()[:1000],
            of_utility=of_utility,
            explained_by=by,
            explained_at=at,
        )


def pull_explanation_withdraw(
    *, explanation: PullExplanation, by: str, at: datetime, reason: str
) -> None:
    """Take back a word that was said in error; the pull asks for one again.

    Raises
    ------
    PullRefused: no reason is given, it was taken back before, or the work is finished.
    """
    if not reason.strip():
        raise PullRefused("Say why it is taken back.")
    with transaction.atomic():
        order = locked(explanation.of.work_order)
        if order.state not in (State.RELEASED, State.RETURNED, State.HANDED_IN):
            raise PullRefused(f"{order.number} is {order.get_state_display()}; it stays so.")
        if not PullExplanation.withdraw(explanation.pk, by, at, reason):
            raise PullRefused("That was taken back already.")
