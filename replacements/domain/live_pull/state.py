"""What a page may say of a pull while it happens.

A word is told from samples, limit and age alone. Two rules go before all others: a force that
nobody sent within the last seconds is not shown as the present one, and a limit that was passed is
told until the feed ends. The page never replaces the gauge or the relief valve.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor
from typing import NamedTuple

from replacements.domain.pull_logs.rules import EventRules, shipped_rules
from services_inventory.domain.labels import Labeled

from .plan import BandPoint, LivePlan
from .samples import Sample, in_order

CLOCKS_APART_S = 1.0


class Word(Labeled):
    """The one word that is read from ten feet."""

    WAITING = "WAITING", "WAITING"
    ENDED = "ENDED", "ENDED"
    NO_LIMIT = "NO_LIMIT", "NO LIMIT"
    OK = "OK", "OK"
    SLOW = "SLOW", "SLOW"
    NO_SAMPLE = "NO_SAMPLE", "NO SAMPLE"
    STOP = "STOP", "STOP"


class Ahead(NamedTuple):
    """A joint, a bend or the end of the run, so many feet before the head."""

    name: str
    in_ft: float
    high_lbf: float | None


@dataclass(frozen=True)
class LiveState:
    """What is shown; forces in lbf, places in ft from the entry pit.

    sentences : what the word means and what to do, the most pressing first
    force_lbf, share, against : present force, its share of the limit, and where it stands against
        the band of the estimate; None and "" unless the sample is fresh
    at_ft, age_s : where the head was last, and how long ago
    band : the estimate there
    ahead : what the head meets next, the nearest first
    peak_lbf, peak_ft : the highest force of the feed
    """

    word: Word
    sentences: tuple[str, ...]
    force_lbf: float | None = None
    share: float | None = None
    against: str = ""
    at_ft: float | None = None
    age_s: float | None = None
    band: BandPoint | None = None
    ahead: tuple[Ahead, ...] = ()
    peak_lbf: float | None = None
    peak_ft: float | None = None


def live_state(
    plan: LivePlan,
    samples: Iterable[Sample],
    *,
    peak: tuple[float, float] | None = None,
    age_s: float | None = None,
    ended: bool = False,
) -> LiveState:
    """Return what to show of a pull.

    Parameters
    ----------
    samples : those of the last seconds, in any order, repeated or not
    peak : highest force of the whole feed and where, lbf and ft; at least that of the samples
    age_s : how long ago the newest sample was taken, s; None where that cannot be told
    ended : the feed was ended, by its device or by a person
    """
    rules = shipped_rules()
    recent = in_order(samples)
    if not recent:
        return LiveState(Word.ENDED if ended else Word.WAITING, _without_samples(ended))
    now = recent[-1]
    fresh = (
        not ended and age_s is not None and -CLOCKS_APART_S <= age_s <= rules["live_no_sample_s"]
    )
    top = max([(s.force_lbf, s.distance_ft) for s in recent] + ([peak] if peak else []))
    held = max(s.force_lbf for s in recent if s.time_s >= now.time_s - rules["live_hold_s"])
    word = _word(plan, held, top[0], fresh, ended, rules)
    band = plan.band_at(now.distance_ft, rules["joint_tolerance_ft"])
    return LiveState(
        word=word,
        sentences=tuple(_sentences(plan, recent, word, top, held, fresh, age_s, rules)),
        force_lbf=now.force_lbf if fresh else None,
        share=now.force_lbf / plan.limit_lbf if fresh and plan.limit_lbf else None,
        against=_against(now.force_lbf, band) if fresh else "",
        at_ft=now.distance_ft,
        age_s=age_s,
        band=band,
        ahead=_ahead(plan, now.distance_ft, rules) if fresh else (),
        peak_lbf=top[0],
        peak_ft=top[1],
    )


def _word(plan, held_lbf: float, top_lbf: float, fresh: bool, ended: bool, rules) -> Word:
    """Return the word; what was a stop stays one when the samples cease."""
    limit = plan.limit_lbf
    if ended:
        return Word.ENDED
    if limit and (top_lbf >= limit or held_lbf >= rules["live_stop_share"] * limit):
        return Word.STOP
    if not fresh:
        return Word.NO_SAMPLE
    if not limit:
        return Word.NO_LIMIT
    return Word.SLOW if held_lbf >= rules["near_limit_share"] * limit else Word.OK


def _without_samples(ended: bool) -> tuple[str, ...]:
    return ("The feed was ended.",) if ended else ("No sample has come yet. Read the gauge.",)


def _sentences(plan, recent, word, top, held, fresh, age_s, rules):
    limit = plan.limit_lbf
    if limit and top[0] >= limit:
        of = f" ({plan.limited_by})" if plan.limited_by else ""
        yield (
            f"The limit was passed: {top[0]:,.0f} lb at {top[1]:.1f} ft, "
            f"{floor(limit):,} lb allowed{of}. A competent person inspects the string before it is "
            "loaded again."
        )
    if word is Word.STOP:
        yield "Stop pulling, take the pressure off, and find out why."
    if word in (Word.SLOW, Word.STOP) and fresh and held > recent[-1].force_lbf:
        yield f"{held:,.0f} lb within the last {rules['live_hold_s']:.0f} s."
    if word is Word.ENDED:
        yield "The feed was ended. What stands here is over."
    elif not fresh:
        yield _silence(age_s)
    elif word is Word.NO_LIMIT:
        yield "No limit is known for this string: this page cannot say slow or stop."
    elif word is Word.SLOW:
        stop_lbf = floor(rules["live_stop_share"] * limit)
        yield f"Slow down: {held / limit:.0%} of the limit. Stop comes at {stop_lbf:,} lb."
    elif word is Word.OK:
        share = rules["near_limit_share"]
        yield f"Below {share:.0%} of the limit. Slow comes at {floor(share * limit):,} lb."
    if fresh:
        yield from _motion(plan, recent, top[0], rules)


def _silence(age_s: float | None) -> str:
    how_long = "When the last sample was taken is not known."
    if age_s is not None and age_s > 0:
        how_long = f"No sample for {age_s:,.0f} s."
    return f"{how_long} This page does not know the force now: read the gauge."


def _motion(plan: LivePlan, recent: list[Sample], top_lbf: float, rules: EventRules):
    now, seconds = recent[-1], rules["stall_s"]
    last = [s for s in recent if s.time_s >= now.time_s - seconds]
    moved = now.distance_ft - min(s.distance_ft for s in last)
    loaded = min(s.force_lbf for s in last) >= max(rules["stall_force_share"] * top_lbf, 1.0)
    whole = recent[0].time_s <= now.time_s - seconds
    if whole and loaded and moved < rules["stall_speed_ft_per_min"] / 60 * seconds:
        yield f"The head has not moved for {seconds:.0f} s under load: stop and find out why."
    beyond = now.distance_ft - plan.length_ft
    if beyond > max(rules["end_tolerance_ft"], rules["end_tolerance_share"] * plan.length_ft):
        yield (
            f"The counter reads {now.distance_ft:.1f} ft and the run has {plan.length_ft:g} ft: "
            "what lies ahead cannot be told. Was it set to zero at the entry pit?"
        )


def _against(force_lbf: float, band: BandPoint | None) -> str:
    if band is None:
        return ""
    if force_lbf > band.high_lbf:
        return "above"
    return "below" if force_lbf < band.low_lbf else "within"


def _ahead(plan: LivePlan, at_ft: float, rules: EventRules) -> tuple[Ahead, ...]:
    """Return what comes within reach; a joint is there until the head has left it behind."""
    behind, reach = rules["joint_tolerance_ft"], rules["live_ahead_ft"]
    return tuple(
        Ahead(mark.name, max(0.0, mark.station_ft - at_ft), mark.high_lbf)
        for mark in plan.marks
        if -behind <= mark.station_ft - at_ft <= reach
    )
