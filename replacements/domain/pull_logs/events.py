"""What happened in a pull: spikes, stalls, pauses, slips, a broken cable, a lost pipe, the end.

Each kind of event has one detector; all thresholds come from `event_rules.csv`.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from .log import PullLog
from .rules import EventRules
from .series import Series, runs

if TYPE_CHECKING:
    import numpy as np


class EventKind(StrEnum):
    """Kinds of events, in the order in which they are looked for."""

    START = "START"
    SPIKE = "SPIKE"
    PLATEAU_RISE = "PLATEAU_RISE"
    BEND_RELEASE = "BEND_RELEASE"
    STALL = "STALL"
    PAUSE = "PAUSE"
    PAUSE_LONG = "PAUSE_LONG"
    SLIP = "SLIP"
    CABLE_BREAK = "CABLE_BREAK"
    PIPE_LOST = "PIPE_LOST"
    END = "END"
    ENDED_SHORT = "ENDED_SHORT"
    ENDED_LOADED = "ENDED_LOADED"


@dataclass(frozen=True)
class Event:
    """Something that happened, where and when.

    at_s, at_ft : time since the first sample and distance along the line
    seconds : how long it lasted
    value_lbf : the force that marks it
    baseline_lbf : the force of the run around it
    closed : whether the pull went on afterwards
    """

    kind: EventKind
    at_s: float
    at_ft: float
    seconds: float = 0.0
    value_lbf: float = 0.0
    baseline_lbf: float = 0.0
    closed: bool = True


def find_events(
    log: PullLog,
    series: Series,
    rules: EventRules,
    expected_length_ft: float,
    bends: Sequence[tuple[float, float]] = (),
) -> list[Event]:
    """Return every event of a pull, in order of time."""
    stalls = list(_stalls(series, rules))
    gaps = _low_runs(series, rules)
    found = [_start(series, rules), *stalls]
    found += _spikes(log, series, rules, stalls)
    found += _pauses_and_slips(series, rules, gaps)
    found += _bend_releases(series, rules, bends)
    found += _plateau(series, rules)
    found += _pipe_lost(series, rules, bends)
    found.append(_ending(log, series, rules, expected_length_ft))
    return sorted(found, key=lambda event: event.at_s)


def length_tolerance_ft(expected_length_ft: float, rules: EventRules) -> float:
    """Return by how much the length pulled may differ from the line's."""
    return max(rules["end_tolerance_ft"], rules["end_tolerance_share"] * expected_length_ft)


def steady_from(series: Series, rules: EventRules) -> int:
    """Return the first step of steady motion: moving, and loaded to half of the first baseline."""
    ready = series.moving & (series.force_lbf >= 0.5 * series.baseline_lbf)
    return int(ready.argmax())


def head_force_lbf(
    series: Series, rules: EventRules, bends: Sequence[tuple[float, float]] = ()
) -> float:
    """Return the head's own force: median over the first feet, bends still ahead divided out."""
    import numpy as np

    first = steady_from(series, rules)
    x0 = series.distance_ft[first]
    span = (series.distance_ft >= x0) & (series.distance_ft <= x0 + rules["head_span_ft"])
    values = series.force_lbf[span & series.moving & (series.force_lbf >= _rest(series, rules))]
    return float(np.median(values)) / bend_factor(x0, bends, rules)


def bend_factor(x_ft: float, bends: Sequence[tuple[float, float]], rules: EventRules) -> float:
    """Return by how much the bends still ahead multiply the force (capstan equation)."""
    ahead = sum(angle for station, angle in bends if station >= x_ft)
    return math.exp(rules["cable_bend_friction"] * math.radians(ahead))


def _rest(series: Series, rules: EventRules) -> "np.ndarray":
    return rules["pause_force_share"] * series.baseline_lbf


def _event(kind: EventKind, series: Series, first: int, last: int, **more) -> Event:
    return Event(
        kind,
        float(series.time_s[first]),
        float(series.distance_ft[first]),
        float(series.time_s[last] - series.time_s[first]),
        baseline_lbf=float(series.baseline_lbf[first]),
        **more,
    )


def _start(series: Series, rules: EventRules) -> Event:
    first = steady_from(series, rules)
    return _event(EventKind.START, series, first, first, value_lbf=float(series.force_lbf[first]))


def _usual_step(series: Series) -> float:
    import numpy as np

    return float(np.median(np.diff(series.time_s))) if len(series.time_s) > 1 else 1.0


def _spikes(
    log: PullLog, series: Series, rules: EventRules, stalls: Iterable[Event]
) -> Iterable[Event]:
    import numpy as np

    force, base = series.force_lbf, series.baseline_lbf
    high = (force > rules["spike_ratio"] * base) & (force - base > rules["spike_rise_lbf"])
    step = _usual_step(series)
    stood = [(stall.at_s, stall.at_s + stall.seconds) for stall in stalls]
    for first, last in runs(high, join=round(1.0 / step)):
        begin, finish = series.time_s[first], series.time_s[last]
        if any(start <= begin and finish <= stop + step for start, stop in stood):
            continue
        i, j = np.searchsorted(log.time_s, [begin, finish + step])
        yield Event(
            EventKind.SPIKE,
            float(begin),
            float(series.distance_ft[first]),
            float(finish - begin + step),
            value_lbf=float(max(force[first : last + 1].max(), log.force_lbf[i:j].max())),
            baseline_lbf=float(base[first]),
        )


def _standing(series: Series) -> list[tuple[int, int]]:
    import numpy as np

    found = []
    for first, last in runs(~series.moving):
        x = series.distance_ft[(first + last) // 2]
        # The window that motion is measured over eats into both ends of the rest.
        i = int(np.searchsorted(series.distance_ft, x - 0.02, side="left"))
        j = int(np.searchsorted(series.distance_ft, x + 0.02, side="right")) - 1
        found.append((min(first, i), max(last, j)))
    return found


def _stalls(series: Series, rules: EventRules) -> Iterable[Event]:
    import numpy as np

    highest = np.maximum.accumulate(series.force_lbf)
    loaded = series.force_lbf >= rules["stall_force_share"] * highest
    for first, last in _standing(series):
        for i, j in runs(loaded[first : last + 1]):
            begin, finish = first + i, first + j
            seconds = series.time_s[finish] - series.time_s[begin]
            if seconds > rules["stall_s"] and finish > series.start:
                goes_on = series.distance_ft[-1] - series.distance_ft[finish]
                yield _event(
                    EventKind.STALL,
                    series,
                    begin,
                    finish,
                    value_lbf=float(series.force_lbf[begin : finish + 1].max()),
                    closed=bool(goes_on > 1.0),
                )


def _low_runs(series: Series, rules: EventRules) -> list[tuple[int, int]]:
    low = series.force_lbf < (1 - rules["slip_fall_share"]) * series.baseline_lbf
    low[: steady_from(series, rules)] = False
    return runs(low, join=1)


def _pauses_and_slips(
    series: Series, rules: EventRules, low: Sequence[tuple[int, int]]
) -> Iterable[Event]:
    steps = len(series.time_s)
    for first, last in low:
        if last >= steps - 1:
            continue  # never comes back: that is the ending
        moved = series.distance_ft[last] - series.distance_ft[first]
        lowest = float(series.force_lbf[first : last + 1].min())
        at_rest = lowest < rules["pause_force_share"] * series.baseline_lbf[first]
        seconds = float(series.time_s[last + 1] - series.time_s[first])
        if at_rest and moved <= 0.1 + 1e-9:
            kind = EventKind.PAUSE
            if seconds > rules["pause_long_s"]:
                kind = EventKind.PAUSE_LONG
            yield Event(
                kind,
                float(series.time_s[first]),
                float(series.distance_ft[first]),
                seconds,
                value_lbf=lowest,
                baseline_lbf=float(series.baseline_lbf[first]),
            )
        elif _fell_fast(series, rules, first) and seconds <= rules["slip_recover_s"]:
            yield _event(EventKind.SLIP, series, first, last, value_lbf=lowest)


def _fell_fast(series: Series, rules: EventRules, first: int) -> bool:
    """Tell whether the force fell within the time of a slip, or between two samples."""
    import numpy as np

    since = series.time_s[first] - rules["slip_fall_s"]
    i = min(int(np.searchsorted(series.time_s, since)), max(0, first - 1))
    before = series.force_lbf[i:first].max(initial=0.0)
    return bool(before and 1 - series.force_lbf[first] / before > rules["slip_fall_share"])


def _grid_medians(series: Series, span_ft: float) -> tuple["np.ndarray", "np.ndarray"]:
    """Return the median of the baseline over a span before and after each place of the grid."""
    import numpy as np

    width = max(1, round(span_ft / 0.1))
    if len(series.grid_lbf) <= 2 * width:
        return np.empty(0), np.empty(0)
    windows = np.lib.stride_tricks.sliding_window_view(series.grid_lbf, width)
    spans = np.median(windows, axis=1)
    return spans[:-width], spans[width:]


def _at_place(kind: EventKind, series: Series, x_ft: float, value: float, base: float) -> Event:
    import numpy as np

    i = min(int(np.searchsorted(series.distance_ft, x_ft)), len(series.time_s) - 1)
    return Event(kind, float(series.time_s[i]), float(x_ft), 0.0, float(value), float(base))


def _bend_releases(
    series: Series, rules: EventRules, bends: Sequence[tuple[float, float]]
) -> Iterable[Event]:
    for station, _ in bends:
        near = rules["bend_tolerance_ft"]
        before, after = series.baseline_at(station - near), series.baseline_at(station + near)
        inside = series.grid_ft[0] < station < series.grid_ft[-1]
        if inside and rules["bend_drop_low"] <= 1 - after / before <= rules["bend_drop_high"]:
            yield _at_place(EventKind.BEND_RELEASE, series, station, after, before)


def _plateau(series: Series, rules: EventRules) -> Iterable[Event]:
    import numpy as np

    grid, span = series.grid_lbf, round(rules["plateau_span_ft"] / 0.1)
    first = int(np.searchsorted(series.grid_ft, series.distance_ft[steady_from(series, rules)]))
    if len(grid) <= first + span + 1:
        return
    limit = rules["plateau_rise_ratio"]
    for i in np.flatnonzero(grid[first + span :] > limit * grid[first:-span]) + first:
        rest = grid[i + span :]
        if np.median(rest) > limit * grid[i]:
            yield _at_place(
                EventKind.PLATEAU_RISE, series, series.grid_ft[i + span], grid[i + span], grid[i]
            )
            return


def _pipe_lost(
    series: Series, rules: EventRules, bends: Sequence[tuple[float, float]]
) -> Iterable[Event]:
    import numpy as np

    span = rules["pipe_lost_advance_ft"]
    before, after = _grid_medians(series, span)
    if not len(before):
        return
    head = head_force_lbf(series, rules, bends)
    x = series.grid_ft[round(span / 0.1) :][: len(before)]
    # A bend's station is known to a few feet only, and its release is no lost pipe.
    back = span + rules["bend_tolerance_ft"]
    heads = np.array([head * bend_factor(place, bends, rules) for place in x])
    heads_before = np.array([head * bend_factor(place - back, bends, rules) for place in x])
    fell = before >= rules["pipe_lost_high"] * heads_before
    fell &= after <= rules["pipe_lost_low"] * heads
    stays = np.maximum.accumulate(after[::-1])[::-1] <= rules["pipe_lost_low"] * heads * 1.05
    places = np.flatnonzero(fell & stays)
    if len(places):
        i = places[(before - after)[places].argmax()]
        yield _at_place(EventKind.PIPE_LOST, series, x[i], after[i], before[i])


def _ending(log: PullLog, series: Series, rules: EventRules, length_ft: float) -> Event:
    """Tell how the log ends: done, short of the line, under load, or by a sudden loss of force."""
    import numpy as np

    x_end = float(series.distance_ft[-1])
    level = float(series.baseline_lbf[-1])
    loaded = np.flatnonzero(log.force_lbf >= rules["pause_force_share"] * level)
    last = int(loaded[-1])
    left = length_ft - (x_end - float(series.distance_ft[series.start]))
    # Longer than the line is for the length check to tell: the pull itself came to its end.
    complete = left <= length_tolerance_ft(length_ft, rules)
    at = float(log.time_s[last]), float(log.distance_ft[last])
    if last == len(log) - 1:
        kind = EventKind.END if complete else EventKind.ENDED_LOADED
        return Event(kind, *at, value_lbf=float(log.force_lbf[last]), closed=False)
    if complete:
        return Event(EventKind.END, *at, value_lbf=float(log.force_lbf[last + 1]))
    fell_s = max(rules["break_fall_s"], 1.5 * log.interval_s)
    recent = log.time_s[: last + 1] >= log.time_s[last + 1] - fell_s - 1e-9
    before = float(log.force_lbf[: last + 1][recent].max(initial=0.0))
    after = float(log.force_lbf[last + 1])
    sudden = bool(before) and 1 - after / before > rules["break_fall_share"]
    broke = sudden and left > rules["break_short_ft"]
    kind = EventKind.CABLE_BREAK if broke else EventKind.ENDED_SHORT
    return Event(kind, *at, value_lbf=after, baseline_lbf=before, closed=False)
