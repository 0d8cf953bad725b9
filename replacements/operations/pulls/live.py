"""The samples of a pull while it happens: taken once each, ended, made the pull's log, removed."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db import transaction

from ...domain.live_pull import Sample, clock_zero_s, highest, in_order, live_plan, trace_with
from ...domain.pull_logs import shipped_rules
from ...models import LiveFeed, LiveSample, PullRecord, WorkOrder
from ...queries.gate import latest_estimate, latest_string, start_on_record
from ...queries.live import feed_csv
from ...queries.planned_pull import bends_of, joints_of
from ...queries.pull_review import is_logged_by
from ...queries.pulls import estimate_back
from ...queries.stored import plain
from ..work_orders import day_of, locked
from .errors import PullRefused
from .logs import limits_on, pull_record
from .order_state import refuse_state

SAMPLES_MOST = 500_000


def live_samples_take(
    *,
    work_order: WorkOrder,
    key: str,
    samples: Iterable[Sample],
    by: str,
    at: datetime,
    ended: bool = False,
    played: bool = False,
) -> tuple[LiveFeed, int]:
    """Take samples of a pull that is going on; the first ones start its feed.

    A sample is known by its sequence: sent again, late or out of order it does no harm, and the
    first that came with a sequence stands.

    Parameters
    ----------
    key : the device's own name of this feed; another one is another feed
    ended : the device says that nothing more comes
    played : from a log for practice, which the page says

    Returns
    -------
    the feed, and how many of the samples were new

    Raises
    ------
    PullRefused: the order is not with its contractor, no start of a pull is on record, it has no
        length, the feed is a log already, or it has grown beyond what a pull can take.
    """
    with transaction.atomic():
        order = locked(work_order)
        refuse_state(order)
        feed = _feed(order, key, by, at, played)
        _refuse_kept(feed)
        fresh = _unknown(feed, in_order(samples))
        if feed.sample_count + len(fresh) > SAMPLES_MOST:
            raise PullRefused(
                f"This feed has {feed.sample_count:,} samples, more than any pull needs. End it "
                "and send fewer a second under a new key."
            )
        LiveSample.objects.bulk_create([LiveSample(feed=feed, **s._asdict()) for s in fresh])
        if fresh:
            _count(feed, fresh, at)
        if ended and feed.ended_at is None:
            feed.ended_at, feed.ended_by = at, by
        feed.save()
    return feed, len(fresh)


def _refuse_unstarted(order: WorkOrder) -> None:
    """Refuse a feed that begins without a start of a pull that holds.

    One that runs goes on whatever comes up: to go blind would not unload the cable.
    """
    start = start_on_record(order)
    if start is None:
        raise PullRefused(
            f"No safe start is on record for {order.number}. Record it before the cable is loaded."
        )
    if not start.holds:
        raise PullRefused(
            f"The safe start of {order.number} holds no more: {start.lapsed[0].message}"
        )
    if not (order.safety.get("answers") or {}).get("pull"):
        raise PullRefused(
            f"The safe start of {order.number} says nothing of a loaded cable. Record it again "
            "with the answers for a pull."
        )
    if not order.length_ft:
        raise PullRefused(f"{order.number} has no length; ask the utility to enter it first.")


def _feed(order: WorkOrder, key: str, by: str, at: datetime, played: bool) -> LiveFeed:
    known = LiveFeed.objects.select_for_update().filter(work_order=order, key=key).first()
    if known is None:
        _refuse_unstarted(order)
        _refuse_second(order, at, played)
    return known or LiveFeed.objects.create(
        work_order=order,
        key=key,
        is_played=played,
        plan=_plan_kept(order, day_of(at)),
        started_by=by,
        started_at=at,
        last_received_at=at,
    )


def _refuse_second(order: WorkOrder, at: datetime, played: bool) -> None:
    """Let one feed run at a time, and a real one go before a played one."""
    running = order.live_feeds.filter(ended_at=None)
    running.filter(is_played=True).update(ended_at=at, ended_by="another feed began")
    other = running.filter(is_played=False).order_by("-last_received_at").first()
    if other is None:
        return
    silent_s = (at - other.last_received_at).total_seconds()
    if played or silent_s <= shipped_rules()["live_no_sample_s"]:
        raise PullRefused(
            f"Another device feeds {order.number} ({other.key}, last {silent_s:,.0f} s ago). "
            "End that feed first, on the page or at the device."
        )


def _plan_kept(order: WorkOrder, day: date) -> dict:
    """Return what the feed is held against, as it stands now."""
    string, estimate = latest_string(order), latest_estimate(order)
    known = []
    if estimate and estimate.result.get("tool_string") == (string.pk if string else None):
        named = (estimate.result.get("limited_by") or "").replace("_", " ").lower()
        known.append((estimate.result.get("limit_lbf"), named))
    known.append((limits_on(order, string, day)["limit_lbf"], "weakest part of the string"))
    rated = [(limit, named) for limit, named in known if limit]
    limit_lbf, named = min(rated, key=lambda pair: pair[0], default=(None, ""))
    made = estimate_back(estimate) if estimate else None
    bends, joints = bends_of(order), joints_of(order)
    plan = live_plan(
        order.length_ft or 0.0, limit_lbf, named, bends=bends, joints=joints, made=made
    )
    return plain(plan)


def _refuse_kept(feed: LiveFeed) -> None:
    if feed.pull_id is not None:
        raise PullRefused("This feed was made the pull's log; it takes no more samples.")
    if feed.samples_removed_at is not None:
        raise PullRefused("The samples of this feed were removed; start a new feed.")


def _unknown(feed: LiveFeed, samples: list[Sample]) -> list[Sample]:
    sent = [sample.sequence for sample in samples]
    known = set(feed.samples.filter(sequence__in=sent).values_list("sequence", flat=True))
    return [sample for sample in samples if sample.sequence not in known]


def _count(feed: LiveFeed, fresh: list[Sample], at: datetime) -> None:
    known = None if feed.peak_lbf is None else (feed.peak_lbf, feed.peak_ft or 0.0)
    feed.peak_lbf, feed.peak_ft = highest(known, fresh) or (None, None)
    feed.clock_zero_s = clock_zero_s(feed.clock_zero_s, at.timestamp(), fresh)
    feed.trace = trace_with(feed.trace, fresh)
    feed.sample_count += len(fresh)
    feed.last_received_at = at
    if feed.last_sequence is None or fresh[-1].sequence > feed.last_sequence:
        feed.last_sequence, feed.last_time_s = fresh[-1].sequence, fresh[-1].time_s
        # It was ended too early: a page that says so while the cable is loaded would be untrue.
        feed.ended_at, feed.ended_by = None, ""


def live_feed_end(*, feed: LiveFeed, by: str, at: datetime) -> None:
    """End a feed; ending it twice changes nothing, and newer samples open it again."""
    LiveFeed.objects.filter(pk=feed.pk, ended_at=None).update(ended_at=at, ended_by=by)


def live_feed_keep(*, feed: LiveFeed, by: str, at: datetime) -> PullRecord:
    """Make the samples of a feed the log of the order's pull; the log takes their place.

    Raises
    ------
    PullRefused: the feed was played from a log or has no samples left, the pull is on record from
        its own file, or the samples cannot be read as a log.
    """
    with transaction.atomic():
        order = locked(feed.work_order)
        feed = LiveFeed.objects.select_for_update().get(pk=feed.pk)
        if feed.pull is not None:
            return feed.pull
        _refuse_keeping(feed, order)
        feed.pull = pull_record(
            work_order=order,
            log=feed_csv(feed).encode(),
            name=f"live feed of {order.number}.csv",
            machine={},
            by=by,
            at=at,
            pulled_on=day_of(feed.started_at),
        )
        feed.ended_at, feed.ended_by = feed.ended_at or at, feed.ended_by or by
        feed.samples_removed_at = at
        feed.save()
        feed.samples.all().delete()
    return feed.pull


def _refuse_keeping(feed: LiveFeed, order: WorkOrder) -> None:
    if feed.is_played:
        raise PullRefused("This feed was played from a log. Hand in the log itself.")
    if not feed.sample_count or feed.samples_removed_at is not None:
        raise PullRefused("This feed has no samples any more; hand in the logger's own file.")
    for pull in order.pulls.standing():
        if is_logged_by(feed, pull):
            raise PullRefused(
                f"The pull of that day is on record from its own log ({pull.length_ft:.1f} ft, "
                f"{pull.peak_lbf:,.0f} lb at most). Withdraw that first if this was another pull."
            )


def live_samples_clear(*, at: datetime) -> int:
    """Remove samples that no log was made of, some days after the last one came.

    A feed itself stays with its highest force and its trace, so that what was seen is not lost.

    Returns
    -------
    how many samples were removed
    """
    until = at - timedelta(days=shipped_rules()["live_keep_days"])
    old = LiveFeed.objects.filter(last_received_at__lt=until, samples_removed_at=None)
    with transaction.atomic():
        pks = list(old.values_list("pk", flat=True))
        removed, _ = LiveSample.objects.filter(feed__in=pks).delete()
        LiveFeed.objects.filter(pk__in=pks).update(samples_removed_at=at)
    return removed
