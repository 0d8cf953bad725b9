"""Every pull of an order as a reviewer must see it, whichever of them the record names."""

from collections import defaultdict
from collections.abc import Iterable

from ..models import PullRecord
from .stored import stops

VERDICTS = {"ACCEPT": "accepted by its figures", "HOLD": "held", "REJECT": "rejected"}
PULL_RULES = frozenset({"PULL_STOP", "PULL_HOLD", "PULL_REJECT"})


def pulls_by_order(order_ids: Iterable[int]) -> dict[int, list[PullRecord]]:
    """Return all pulls of orders, the withdrawn ones too, the oldest first; two queries."""
    found = defaultdict(list)
    rows = PullRecord.objects.filter(work_order__in=list(order_ids)).select_related("log")
    for pull in rows.prefetch_related("explanations").order_by("id"):
        found[pull.work_order_id].append(pull)
    return found


def asks_for_a_word(pull: PullRecord) -> bool:
    """Whether a person has to say why the work may stand: held, rejected, or with a stop.

    To withdraw such a pull does not make it unhappen: somebody still looks at it.
    """
    return pull.verdict != "ACCEPT" or bool(stops(pull.findings))


def has_word(pull: PullRecord) -> bool:
    """Whether the utility has said why it may stand, by another person than recorded it."""
    return any(
        said.of_utility and said.withdrawn_at is None and said.explained_by != pull.recorded_by
        for said in pull.explanations.all()
    )


def unexplained(pulls: Iterable[PullRecord]) -> list[PullRecord]:
    """Return the pulls that hold back the acceptance until somebody explains them."""
    return [pull for pull in pulls if asks_for_a_word(pull) and not has_word(pull)]


def other_stops(findings: Iterable[dict]) -> list[dict]:
    """Return the stops of a record but for those of its pulls, which are weighed as they stand."""
    return [found for found in stops(findings) if found["rule"] not in PULL_RULES]


def pull_told(pull: PullRecord) -> str:
    """Return a pull in a sentence: day, verdict, peak, and what weighs most against it."""
    peak = f", {pull.peak_lbf:,.0f} lb at most" if pull.peak_lbf else ""
    taken = " and withdrawn" if pull.withdrawn_at else ""
    worst = stops(pull.findings) or [f for f in pull.findings if f["level"] == "CAUTION"]
    said = f": {worst[0]['message']}" if worst else "."
    return f"The pull of {pull.pulled_on} is {VERDICTS[pull.verdict]}{taken}{peak}{said}"
