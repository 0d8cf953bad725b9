"""Every pull of an order as a reviewer must see it, whichever of them the record names.

A pull that was seen live counts too: one that went badly is not hidden by never handing in its log.
"""

from collections import defaultdict
from collections.abc import Iterable

from services_inventory.domain.days import day_told

from ..domain.live_pull import is_covered, reached_ft
from ..domain.pull_logs import shipped_rules
from ..domain.units import limit_lb
from ..models import LiveFeed, PullRecord
from .stored import stops

VERDICTS = {"ACCEPT": "accepted by its figures", "HOLD": "held", "REJECT": "rejected"}
PULL_RULES = frozenset({"PULL_STOP", "PULL_HOLD", "PULL_REJECT", "PULL_UNLOGGED"})


def pulls_by_order(order_ids: Iterable[int]) -> dict[int, list[PullRecord]]:
    """Return all pulls of orders, the withdrawn ones too, the oldest first; two queries."""
    found = defaultdict(list)
    rows = PullRecord.objects.filter(work_order__in=list(order_ids)).select_related("log")
    for pull in rows.prefetch_related("explanations").order_by("id"):
        found[pull.work_order_id].append(pull)
    return found


def is_logged_by(feed: LiveFeed, pull: PullRecord) -> bool:
    """Whether a log on record is of the pull that was seen live: that day, as far, as hard."""
    log = (pull.length_ft or 0.0, pull.peak_lbf or 0.0)
    tolerance_ft = shipped_rules()["end_tolerance_ft"]
    return pull.pulled_on == feed.pulled_on and is_covered(
        reached_ft(feed.trace), feed.peak_lbf, *log, tolerance_ft
    )


def unlogged_by_order(order_ids: Iterable[int]) -> dict[int, list[LiveFeed]]:
    """Return the live pulls of orders of which no log stands, the oldest first; three queries."""
    found, logs = defaultdict(list), defaultdict(list)
    feeds = LiveFeed.objects.filter(
        work_order__in=list(order_ids), is_played=False, pull=None, peak_lbf__isnull=False
    )
    feeds = list(feeds.prefetch_related("explanations").order_by("id"))
    ids = {feed.work_order_id for feed in feeds}  # of most orders there is none
    pulls = PullRecord.objects.standing().filter(work_order__in=ids).defer("trace", "metrics")
    for pull in pulls if ids else ():
        logs[pull.work_order_id].append(pull)
    for feed in feeds:
        if not any(is_logged_by(feed, pull) for pull in logs[feed.work_order_id]):
            found[feed.work_order_id].append(feed)
    return found


def weighed_by_order(order_ids: Iterable[int]) -> dict[int, list[PullRecord | LiveFeed]]:
    """Return all that a reviewer weighs of orders: every pull, and what was seen live only."""
    ids = list(order_ids)
    pulls, feeds = pulls_by_order(ids), unlogged_by_order(ids)
    return {pk: [*pulls[pk], *feeds[pk]] for pk in ids}


def asks_for_a_word(pull: PullRecord | LiveFeed) -> bool:
    """Whether a person has to say why the work may stand: held, rejected, with a stop, no log.

    To withdraw such a pull does not make it unhappen: somebody still looks at it.
    """
    if isinstance(pull, LiveFeed):
        return pull in unlogged_by_order([pull.work_order_id])[pull.work_order_id]
    return pull.verdict != "ACCEPT" or bool(stops(pull.findings))


def has_word(pull: PullRecord | LiveFeed) -> bool:
    """Whether the utility has said why it may stand, by another person than recorded it."""
    return any(
        said.of_utility and said.withdrawn_at is None and said.explained_by != pull.recorded_by
        for said in pull.explanations.all()
    )


def unexplained(
    pulls: Iterable[PullRecord | LiveFeed],
) -> list[PullRecord | LiveFeed]:
    """Return the pulls that hold back the acceptance until somebody explains them.

    pulls : of `weighed_by_order`, whose live pulls all lack a log
    """
    asking = [pull for pull in pulls if isinstance(pull, LiveFeed) or asks_for_a_word(pull)]
    return [pull for pull in asking if not has_word(pull)]


def other_stops(findings: Iterable[dict]) -> list[dict]:
    """Return the stops of a record but for those of its pulls, which are weighed as they stand."""
    return [found for found in stops(findings) if found["rule"] not in PULL_RULES]


def pull_told(pull: PullRecord | LiveFeed) -> str:
    """Return a pull in a sentence: day, verdict, peak, and what weighs most against it."""
    if isinstance(pull, LiveFeed):
        return (
            f"A live pull of {day_told(pull.pulled_on)}, {pull.peak_lbf:,.0f} lb peak, no log "
            f"handed in{_against_limit(pull)}."
        )
    peak = f", {pull.peak_lbf:,.0f} lb at most" if pull.peak_lbf else ""
    taken = " and withdrawn" if pull.withdrawn_at else ""
    worst = stops(pull.findings) or [f for f in pull.findings if f["level"] == "CAUTION"]
    said = f": {worst[0]['message']}" if worst else "."
    return f"The pull of {day_told(pull.pulled_on)} is {VERDICTS[pull.verdict]}{taken}{peak}{said}"


def _against_limit(feed: LiveFeed) -> str:
    limit_lbf = feed.plan.get("limit_lbf")
    if not limit_lbf:
        return ", limit not known"
    passed = "over" if feed.peak_lbf > limit_lbf else "under"
    return f", {passed} its limit of {limit_lb(limit_lbf)}"
