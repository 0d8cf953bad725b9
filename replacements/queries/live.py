"""A live feed as the page shows it, read in two queries."""

from datetime import datetime
from math import floor

from ..domain.live_pull import (
    Ahead,
    BandPoint,
    LivePlan,
    LiveState,
    Mark,
    Sample,
    in_order,
    live_state,
    live_strip_svg,
)
from ..domain.pull_logs import shipped_rules
from ..models import LiveFeed, WorkOrder

HEADER = "Time (s),Force (lbf),Distance (ft)"
RULES = shipped_rules()
KEEP_DAYS = int(RULES["live_keep_days"])


def latest_feed(order: WorkOrder) -> LiveFeed | None:
    """Return the feed of an order that began last."""
    return order.live_feeds.order_by("-id").first()


def plan_back(kept: dict) -> LivePlan:
    """Return the plan of a feed as the domain's own."""
    return LivePlan(
        kept["length_ft"],
        kept["limit_lbf"],
        kept["limited_by"],
        tuple(BandPoint(*point) for point in kept["band"]),
        tuple(Mark(*mark) for mark in kept["marks"]),
    )


def samples_of(feed: LiveFeed, since_s: float | None = None) -> list[Sample]:
    """Return the samples of a feed in order, from a time of the device's clock on."""
    rows = feed.samples.order_by("sequence")
    if since_s is not None:
        rows = rows.filter(time_s__gte=since_s)
    return in_order(
        Sample(*row) for row in rows.values_list("sequence", "time_s", "force_lbf", "distance_ft")
    )


def state_of(feed: LiveFeed, at: datetime) -> LiveState:
    """Return what may be said of a feed at a moment."""
    recent = []
    if feed.last_time_s is not None:
        span_s = max(RULES["live_hold_s"], RULES["stall_s"]) + 2
        recent = samples_of(feed, feed.last_time_s - span_s)
    known = feed.clock_zero_s is not None
    return live_state(
        plan_back(feed.plan),
        recent,
        peak=(feed.peak_lbf, feed.peak_ft) if feed.peak_lbf is not None else None,
        age_s=at.timestamp() - feed.clock_zero_s - feed.last_time_s if known else None,
        ended=feed.ended_at is not None,
    )


def live_now(order: WorkOrder, at: datetime) -> dict:
    """Return what the page of an order says at a moment, in words and figures for its script."""
    feed = latest_feed(order)
    silent_after_s = RULES["live_no_sample_s"]
    if feed is None:
        state = live_state(LivePlan(order.length_ft or 0.0, None, ""), [])
        return {**_words_of(state), "silent_after_s": silent_after_s}
    state, plan = state_of(feed, at), plan_back(feed.plan)
    return {
        **_words_of(state),
        "silent_after_s": silent_after_s,
        "limit": _limit_told(plan, state),
        "estimate": _estimate_told(state),
        "peak": _peak_told(state),
        "strip": live_strip_svg(plan, state, feed.trace),
        "is_played": feed.is_played,
        "feed": feed.pk,
    }


def _words_of(state: LiveState) -> dict:
    return {
        "word": state.word.value,
        "label": state.word.label,
        "sentences": state.sentences,
        "force": None if state.force_lbf is None else f"{state.force_lbf:,.0f}",
        "age_s": None if state.age_s is None else round(state.age_s, 1),
        "ahead": [_ahead_told(thing) for thing in state.ahead],
    }


def _ahead_told(thing: Ahead) -> str:
    where = f"in {thing.in_ft:.1f} ft" if thing.in_ft else "here"
    up_to = f", up to {thing.high_lbf:,.0f} lb" if thing.high_lbf else ""
    return f"{thing.name} {where}{up_to}"


def _limit_told(plan: LivePlan, state: LiveState) -> str:
    if plan.limit_lbf is None:
        return "no limit known"
    share = "" if state.share is None else f"{state.share:.0%} of "
    return f"{share}the limit, {floor(plan.limit_lbf):,} lb ({plan.limited_by})"


def _estimate_told(state: LiveState) -> str:
    if state.band is None or not state.against:
        return ""
    band = f"{state.band.low_lbf:,.0f} to {state.band.high_lbf:,.0f} lb here"
    return f"{state.against} the estimate, {band}"


def _peak_told(state: LiveState) -> str:
    if state.peak_lbf is None:
        return ""
    at = "" if state.at_ft is None else f"The head was last seen at {state.at_ft:.1f} ft. "
    return f"{at}Highest so far: {state.peak_lbf:,.0f} lb at {state.peak_ft:.1f} ft."


def feeds_shown(order: WorkOrder) -> list[dict]:
    """Return the feeds of an order, the latest first, each told in a sentence."""
    return [
        {
            "feed": feed,
            "told": _feed_told(feed),
            "passed": _is_passed(feed),
            "may_keep": not feed.is_played
            and feed.sample_count
            and feed.samples_removed_at is None,
        }
        for feed in order.live_feeds.order_by("-id")
    ]


def _is_passed(feed: LiveFeed) -> bool:
    limit_lbf = feed.plan["limit_lbf"]
    return bool(limit_lbf and feed.peak_lbf is not None and feed.peak_lbf >= limit_lbf)


def _feed_told(feed: LiveFeed) -> str:
    told = [f"{feed.sample_count:,} samples"]
    if feed.peak_lbf is not None:
        told.append(f"{feed.peak_lbf:,.0f} lb at most at {feed.peak_ft:.1f} ft")
    if feed.plan["limit_lbf"]:
        told.append(f"limit {floor(feed.plan['limit_lbf']):,} lb")
    became = " Its samples were removed." if feed.samples_removed_at else ""
    became = " It was made the pull's log." if feed.pull_id else became
    return f"{', '.join(told)}.{became}"


def feed_csv(feed: LiveFeed) -> str:
    """Return the samples of a feed as the text of a pull log."""
    rows = (f"{s.time_s:.3f},{s.force_lbf:.1f},{s.distance_ft:.3f}" for s in samples_of(feed))
    return "\n".join([HEADER, *rows]) + "\n"
