"""Cleaning a log: order of time, gaps, clock jumps, duplicates, drop-outs, faults of the counter.

Nothing is smoothed or filled in here. A sample is kept as measured or set aside, and every set of
rows set aside or moved in time is counted in a note with the first row it concerns.
"""

from typing import TYPE_CHECKING

from .log import CleaningNote, Column, PullLogError, rows_counted
from .rules import EventRules
from .values import RawValues

if TYPE_CHECKING:
    import numpy as np


class Cleaner:
    """Arrays of equal length that shrink together, with the notes of why."""

    def __init__(self, raw: RawValues, rules: EventRules):
        self.time, self.force, self.distance, self.row = raw.time, raw.force, raw.distance, raw.row
        self.rules = rules
        self.raw_count = raw.raw_count
        self.notes = list(raw.notes)
        self.gap_samples = 0.0
        self.interval_s = 1.0

    def keep(self, mask: "np.ndarray", kind: str, sentence: str) -> None:
        """Set aside the samples where the mask is False; the sentence takes their number."""
        gone = int(len(mask) - mask.sum())
        if gone:
            first = int(self.row[mask.argmin()])
            self.time, self.force = self.time[mask], self.force[mask]
            self.distance, self.row = self.distance[mask], self.row[mask]
            self.note(kind, gone, sentence.format(rows_counted(gone)), first)

    def note(self, kind: str, count: int, sentence: str, first_row: int | None = None) -> None:
        self.notes.append(CleaningNote(kind, count, sentence, first_row))

    def unreadable(self) -> int:
        """Rows lost to damage; a duplicate takes nothing away."""
        harmless = {"DUPLICATE", "HEADER_REPEATED", "AFTER_THE_PULL"}
        return (
            self.raw_count
            - len(self.time)
            - sum(note.count for note in self.notes if note.kind in harmless)
        )

    def missing_share(self) -> float:
        """Share of the samples that should be there and are not."""
        missing = self.unreadable() + self.gap_samples
        return missing / (missing + len(self.time)) if missing else 0.0


def refuse_unreadable(cleaner: Cleaner) -> None:
    """Refuse a log of which too little could be read.

    Raises
    ------
    PullLogError: fewer than two rows, or less than the share that the rules ask for.
    """
    lost, total = cleaner.raw_count - len(cleaner.time), cleaner.raw_count
    why = " ".join(f"{note.sentence} First: row {note.first_row}." for note in cleaner.notes)
    if len(cleaner.time) < 2:
        raise PullLogError(
            f"The log has {len(cleaner.time)} usable rows of {total}; a pull needs at least two. "
            f"{why}".strip()
        )
    if lost > cleaner.rules["unreadable_share_max"] * total:
        raise PullLogError(f"{lost} of {total} rows cannot be read. {why} Export the log again.")


def drop_negative(cleaner: Cleaner, column: Column) -> None:
    """Set aside samples below zero.

    Raises
    ------
    PullLogError: more than the share that the rules allow is below zero.
    """
    mask = cleaner.force >= 0
    negative = int(len(mask) - mask.sum())
    word = "pressure" if column.quantity == "PRESSURE" else "force"
    if negative > cleaner.rules["negative_share_max"] * len(mask):
        raise PullLogError(
            f"{negative} of {len(mask)} rows have a negative {word}, the first in row "
            f"{cleaner.row[mask.argmin()]}. Zero the sensor or turn its sign, and export again."
        )
    cleaner.keep(mask, "NEGATIVE", f"{{}} with a negative {word}: set aside.")


def order_times(cleaner: Cleaner, column: Column) -> None:
    """Put the samples in order of time, join clock jumps, count gaps, start the clock at zero.

    Raises
    ------
    PullLogError: time runs backwards more often than a clock is set, or the log runs for weeks.
    """
    import numpy as np

    _turn_round(cleaner)
    _drop_duplicates(cleaner)
    steps = np.diff(cleaner.time)
    usual = _usual_step(steps)
    if column.unit == "CLOCK":
        _cross_midnight(cleaner, steps)
        steps = np.diff(cleaner.time)
    _join_jumps(cleaner, steps, usual)
    _spread_equal_times(cleaner, usual)
    cleaner.time = cleaner.time - cleaner.time[0]
    if cleaner.time[-1] > cleaner.rules["duration_max_s"]:
        raise PullLogError(
            f"The log runs for {cleaner.time[-1] / 86400:,.0f} days. Check the unit of the column "
            f"{column.header!r} (read as {column.unit}), or export only this pull."
        )
    _count_gaps(cleaner)


def _usual_step(steps: "np.ndarray") -> float:
    import numpy as np

    forward = steps[steps > 0]
    return float(np.median(forward)) if len(forward) else 1.0


def _turn_round(cleaner: Cleaner) -> None:
    import numpy as np

    steps = np.diff(cleaner.time)
    if len(steps) > 2 and (steps < 0).sum() > 0.9 * len(steps):
        for name in ("time", "force", "distance", "row"):
            setattr(cleaner, name, getattr(cleaner, name)[::-1])
        cleaner.note(
            "NEWEST_FIRST",
            len(cleaner.time),
            "The file has its newest row first: read from the end.",
        )


def _drop_duplicates(cleaner: Cleaner) -> None:
    import numpy as np

    sentence = "{} repeating an earlier one: set aside."
    values = (cleaner.time, cleaner.force, cleaner.distance)
    repeats = np.logical_and.reduce([np.diff(value) == 0 for value in values])
    cleaner.keep(np.concatenate(([True], ~repeats)), "DUPLICATE", sentence)
    if (np.diff(cleaner.time) < 0).any():
        # A block copied twice shows as a step back followed by rows that were there before.
        table = np.column_stack((cleaner.time, cleaner.force, cleaner.distance))
        first = np.unique(table, axis=0, return_index=True)[1]
        mask = np.zeros(len(table), dtype=bool)
        mask[first] = True
        cleaner.keep(mask, "DUPLICATE", sentence)


def _cross_midnight(cleaner: Cleaner, steps: "np.ndarray") -> None:
    import numpy as np

    nights = np.concatenate(([0], np.cumsum(steps < -43200)))
    if nights[-1]:
        cleaner.time = cleaner.time + nights * 86400.0
        cleaner.note("MIDNIGHT", int(nights[-1]), "The log runs past midnight.")


def _join_jumps(cleaner: Cleaner, steps: "np.ndarray", usual: float) -> None:
    import numpy as np

    jumps = np.flatnonzero((steps < 0) | (steps > cleaner.rules["clock_jump_s"]))
    if not len(jumps):
        return
    first = int(cleaner.row[jumps[0] + 1])
    if len(jumps) > cleaner.rules["clock_jumps_max"]:
        raise PullLogError(
            f"Time runs backwards or leaps at {len(jumps)} places, the first at row {first}. "
            "Sort the rows by time, or export one pull only."
        )
    steps = steps.copy()
    sizes = ", ".join(f"{steps[i]:+,.1f} s at row {cleaner.row[i + 1]}" for i in jumps)
    steps[jumps] = usual
    cleaner.time = np.concatenate(([0.0], np.cumsum(steps)))
    cleaner.note(
        "CLOCK_JUMP",
        len(jumps),
        f"The clock jumped ({sizes}): joined as if one usual interval had passed.",
        first,
    )


def _spread_equal_times(cleaner: Cleaner, usual: float) -> None:
    """Give samples within one tick of a coarse clock their places between its ticks."""
    import numpy as np

    same = np.diff(cleaner.time) == 0
    if not same.any():
        return
    starts = np.flatnonzero(np.concatenate(([True], ~same)))
    counts = np.diff(np.append(starts, len(cleaner.time)))
    ticks = cleaner.time[starts]
    widths = np.minimum(np.append(np.diff(ticks), usual), usual)
    place = np.arange(len(cleaner.time)) - np.repeat(starts, counts)
    cleaner.time = np.repeat(ticks, counts) + place * np.repeat(widths / counts, counts)
    cleaner.note(
        "COARSE_CLOCK",
        int(same.sum()),
        f"{int(same.sum())} samples share a time with the one before: spread within the tick.",
        int(cleaner.row[same.argmax() + 1]),
    )


def _count_gaps(cleaner: Cleaner) -> None:
    import numpy as np

    steps = np.diff(cleaner.time)
    cleaner.interval_s = _usual_step(steps)
    limit = max(cleaner.rules["gap_factor"] * cleaner.interval_s, cleaner.rules["gap_min_s"])
    gaps = np.flatnonzero(steps > limit)
    if len(gaps):
        cleaner.gap_samples = float((steps[gaps] / cleaner.interval_s - 1).sum())
        cleaner.note(
            "GAP",
            len(gaps),
            f"{len(gaps)} gaps, {steps[gaps].sum():,.0f} s in all, the longest "
            f"{steps[gaps].max():,.0f} s: nothing filled in.",
            int(cleaner.row[gaps[0] + 1]),
        )


def order_distances(cleaner: Cleaner) -> None:
    """Set aside faults of the length counter and make the distance never run back.

    Raises
    ------
    PullLogError: the counter was set back in mid-pull.
    """
    _count_up(cleaner)
    _drop_counter_faults(cleaner)
    _cut_rewind(cleaner)
    _level_shaking(cleaner)


def _count_up(cleaner: Cleaner) -> None:
    import numpy as np

    x = cleaner.distance
    tenth = max(1, len(x) // 10)
    start, end = np.median(x[:tenth]), np.median(x[-tenth:])
    falling = (np.diff(x) < 0).sum() > 3 * (np.diff(x) > 0).sum()
    if start - end > cleaner.rules["distance_glitch_ft"] and falling:
        cleaner.distance = x[0] - x
        cleaner.note(
            "COUNTS_DOWN", len(x), "The counter runs down: read as the length still to pull."
        )


def _drop_counter_faults(cleaner: Cleaner) -> None:
    import numpy as np

    limit = cleaner.rules["distance_glitch_ft"]
    x = cleaner.distance
    if len(x) < 5 or not (np.abs(np.diff(x)) > limit).any():
        return
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(x, 2, mode="edge"), 5)
    single = np.abs(x - np.median(windows, axis=1)) <= limit
    cleaner.keep(single, "COUNTER_FAULT", "{} with a leap of the length counter: set aside.")
    x = cleaner.distance
    highest = np.maximum.accumulate(x)
    later = np.maximum.accumulate(x[::-1])[::-1]
    dropped = (x < highest - limit) & (later >= highest - limit)
    cleaner.keep(
        ~dropped, "COUNTER_DROP_OUT", "{} without a reading of the length counter: set aside."
    )


def _cut_rewind(cleaner: Cleaner) -> None:
    import numpy as np

    x, limit = cleaner.distance, cleaner.rules["distance_glitch_ft"]
    back = np.flatnonzero(x < np.maximum.accumulate(x) - limit)
    if not len(back):
        return
    first = back[0]
    if cleaner.force[first:].max() > cleaner.rules["pause_force_share"] * cleaner.force.max():
        raise PullLogError(
            f"The distance falls from {x[:first].max():,.1f} to {x[first]:,.1f} ft at row "
            f"{cleaner.row[first]} while the pull goes on: the counter was set back. Correct the "
            "distance below that row, or give the two parts as two logs."
        )
    mask = np.arange(len(x)) < first
    cleaner.keep(mask, "AFTER_THE_PULL", "{} after the pull, the counter wound back: set aside.")


def _level_shaking(cleaner: Cleaner) -> None:
    import numpy as np

    highest = np.maximum.accumulate(cleaner.distance)
    back = highest - cleaner.distance
    far = back > cleaner.rules["distance_tolerance_ft"]
    if far.any():
        cleaner.note(
            "RAN_BACK",
            int(far.sum()),
            f"The distance runs back by up to {back.max():.1f} ft: held at its highest.",
            int(cleaner.row[far.argmax()]),
        )
    cleaner.distance = highest
