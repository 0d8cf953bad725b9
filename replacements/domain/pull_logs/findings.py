"""Events and figures of a pull put into findings: what was seen, what it means, what to do."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from replacements.domain.findings import Finding, Level

from .events import Event, EventKind, length_tolerance_ft
from .log import PullLog
from .metrics import PullMetrics
from .rules import EventRules

_FEET_IN_A_METER = 3.2808


@dataclass(frozen=True)
class PullLimits:
    """What a pull is held against.

    limit_lbf : lowest allowable of cable, jaws, clevis, swivel, puller and anchor
    pipe_allowable_lbf : allowable pull of the new pipe times its grip
    breaking_force_lbf : of the cable, from its certificate
    joints_ft, bends : known joints, and bends as (station, degrees)
    pipe_force_measured : a load cell or break-away link stood at the pipe's grip
    """

    expected_length_ft: float
    limit_lbf: float | None
    pipe_allowable_lbf: float | None = None
    breaking_force_lbf: float | None = None
    joints_ft: Sequence[float] = field(default_factory=tuple)
    bends: Sequence[tuple[float, float]] = field(default_factory=tuple)
    pipe_force_measured: bool = False


def all_findings(
    log: PullLog,
    events: Sequence[Event],
    metrics: PullMetrics,
    limits: PullLimits,
    rules: EventRules,
) -> list[Finding]:
    """Return every finding of a pull, force limits first, then events in order, then the log."""
    found = [
        *force_findings(log, limits, rules),
        *(f for event in events if (f := _event(event, limits, rules))),
        *_length(events, metrics, limits, rules),
        *_pipe(metrics, limits, rules),
        *log_findings(log, rules),
    ]
    if metrics.p95_lbf < rules["low_force_lbf"]:
        found.append(_low_force(metrics, rules))
    return found


def force_findings(log: PullLog, limits: PullLimits, rules: EventRules) -> Iterable[Finding]:
    """Return what the force alone says against the allowable and the cable's breaking force."""
    at = int(log.force_lbf.argmax())
    place = {"at_ft": float(log.distance_ft[at]), "at_s": float(log.time_s[at])}
    peak, limit = log.peak_lbf, limits.limit_lbf
    if limit is None:
        yield Finding(
            Level.CAUTION,
            "NO_LIMIT",
            f"The peak of {peak:,.0f} lb cannot be judged: no allowable force was given.",
            "the check needs the rated load of every part",
            "Enter the ratings of cable, jaws, clevis, swivel, puller and anchor.",
            value=peak,
        )
        return
    if peak > limit:
        yield _over(log, peak, limit, place)
    if peak > rules["near_limit_share"] * limit:
        yield _near(log, peak, limit, rules)
    yield from _overload(peak, limits, rules, place)


def _near(log: PullLog, peak: float, limit: float, rules: EventRules) -> Finding:
    share = rules["near_limit_share"]
    first = int((log.force_lbf > share * limit).argmax())
    return Finding(
        Level.CAUTION,
        "NEAR_LIMIT",
        f"The force passed {share:.0%} of the allowable {limit:,.0f} lb at "
        f"{log.distance_ft[first]:.1f} ft; its peak of {peak:,.0f} lb is {peak / limit:.1%}.",
        rules.source_of("NEAR_LIMIT"),
        "Look over the string before it is used again.",
        at_ft=float(log.distance_ft[first]),
        at_s=float(log.time_s[first]),
        value=peak,
    )


def _over(log: PullLog, peak: float, limit: float, place: dict) -> Finding:
    count = int((log.force_lbf > limit).sum())
    return Finding(
        Level.STOP,
        "OVER_ALLOWABLE",
        f"The force went to {peak:,.0f} lb, {peak - limit:,.0f} lb over the allowable "
        f"{limit:,.0f} lb ({count} {'sample' if count == 1 else 'samples'} above it).",
        "allowable = lowest rated load of the string; never to be passed",
        "Take the string out of use. A competent person inspects cable, jaws, clevis, swivel and "
        "anchor before any further pull.",
        value=peak,
        **place,
    )


def _overload(peak: float, limits: PullLimits, rules: EventRules, place: dict) -> Iterable[Finding]:
    breaking = limits.breaking_force_lbf
    if breaking and peak > rules["retire_share"] * breaking:
        yield Finding(
            Level.CAUTION,
            "CABLE_OVERLOAD",
            f"The peak of {peak:,.0f} lb is {peak / breaking:.0%} of the cable's breaking force "
            f"of {breaking:,.0f} lb.",
            rules.source_of("CABLE_OVERLOAD"),
            "Retire the cable.",
            value=peak,
            **place,
        )


def _event(event: Event, limits: PullLimits, rules: EventRules) -> Finding | None:
    if event.kind == EventKind.SPIKE:
        return _spike(event, limits, rules)
    if event.kind not in _WORDING:
        return None
    level, sentence, do = _WORDING[event.kind]
    if event.kind == EventKind.STALL and not event.closed:
        level = Level.STOP
    if event.kind == EventKind.PAUSE and event.seconds > rules["pause_normal_s"]:
        do = "Longer than a re-grip takes: write down why."
    figures = {
        "at": event.at_ft,
        "s": event.seconds,
        "minutes": event.seconds / 60,
        "lbf": event.value_lbf,
        "base": event.baseline_lbf,
        "left": limits.expected_length_ft - event.at_ft,
        "L": limits.expected_length_ft,
    }
    return _finding(event, level, sentence.format(**figures), do.format(**figures), rules)


def _finding(event: Event, level: Level, message: str, do: str, rules: EventRules, rule: str = ""):
    return Finding(
        level,
        rule or event.kind.value,
        message,
        rules.source_of(event.kind.value) or "common practice, no source",
        do,
        at_ft=event.at_ft,
        at_s=event.at_s,
        value=event.value_lbf,
    )


_WORDING = {
    EventKind.PLATEAU_RISE: (
        Level.CAUTION,
        "The force rose from {base:,.0f} to {lbf:,.0f} lb by {at:.1f} ft and stayed up.",
        "The hole may be closing, the old shell bunching or the blade blunt: look at blade and "
        "shell.",
    ),
    EventKind.BEND_RELEASE: (
        Level.NOTE,
        "The force fell from {base:,.0f} to {lbf:,.0f} lb as the head passed the bend at "
        "{at:.1f} ft, as it should.",
        "",
    ),
    EventKind.STALL: (
        Level.CAUTION,
        "The head stood still for {s:.0f} s at {at:.1f} ft under up to {lbf:,.0f} lb.",
        "Do not ram. Take the load off, inspect both pits, find what holds the head.",
    ),
    EventKind.PAUSE: (
        Level.NOTE,
        "Rest of {s:.0f} s at {at:.1f} ft, force down to {lbf:,.0f} lb.",
        "",
    ),
    EventKind.PAUSE_LONG: (
        Level.CAUTION,
        "Rest of {minutes:.0f} min at {at:.1f} ft in mid-pull.",
        "The hole may have set around the pipe: expect a higher force on restarting.",
    ),
    EventKind.SLIP: (
        Level.CAUTION,
        "The force fell from {base:,.0f} to {lbf:,.0f} lb at {at:.1f} ft and came back after "
        "{s:.1f} s: a jaw or grip slipped.",
        "Re-seat the jaws and measure the cable tail; look at the pipe's grip.",
    ),
    EventKind.CABLE_BREAK: (
        Level.STOP,
        "The force fell from {base:,.0f} to {lbf:,.0f} lb at once at {at:.1f} ft, {left:.0f} ft "
        "short of the line's {L:.0f} ft, and did not come back: a broken cable, or jaws let go.",
        "Keep everyone clear, relieve the pressure, fill in the incident form. Excavate at about "
        "{at:.0f} ft (suspect a coupling or stop), retire the cable, and plan open cut there.",
    ),
    EventKind.PIPE_LOST: (
        Level.CAUTION,
        "The force fell from {base:,.0f} to {lbf:,.0f} lb, the head's own, at {at:.1f} ft while "
        "the head went on: the new pipe may have been left behind.",
        "Look into the entry pit and see whether the pipe still moves with the head.",
    ),
    EventKind.ENDED_LOADED: (
        Level.CAUTION,
        "The log ends at {at:.1f} ft with {lbf:,.0f} lb still on the cable.",
        "Find the rest of the log, or the reason why the pull was left under load.",
    ),
    EventKind.ENDED_SHORT: (
        Level.CAUTION,
        "The force was taken off at {at:.1f} ft of {L:.0f} ft and the pull did not go on.",
        "Find out why, and what lies at that place.",
    ),
}


def _spike(event: Event, limits: PullLimits, rules: EventRules) -> Finding:
    near = [j for j in limits.joints_ft if abs(j - event.at_ft) <= rules["joint_tolerance_ft"]]
    ratio = event.value_lbf / event.baseline_lbf if event.baseline_lbf else 0.0
    seen = (
        f"{event.value_lbf:,.0f} lb at {event.at_ft:.1f} ft for {event.seconds:.1f} s, "
        f"{ratio:.1f} times the {event.baseline_lbf:,.0f} lb around it"
    )
    if event.seconds > rules["spike_max_s"]:
        seen += ", longer than a joint takes to pass"
    if near:
        message = f"{seen}: the known joint at {near[0]:.1f} ft."
        return _finding(event, Level.NOTE, message, "", rules)
    unexplained = ratio > rules["spike_unexplained_ratio"] or event.seconds > rules["spike_max_s"]
    rule = "SPIKE_UNEXPLAINED" if unexplained else "SPIKE"
    message = f"{seen}: no joint is known there."
    do = "Compare with the records and the old pipe: a joint, a coupling or a stone. Record which."
    return _finding(event, Level.CAUTION, message, do, rules, rule)


def _length(
    events: Sequence[Event], metrics: PullMetrics, limits: PullLimits, rules: EventRules
) -> Iterable[Finding]:
    pulled, line = metrics.length_ft, limits.expected_length_ft
    tolerance = length_tolerance_ft(line, rules)
    off = pulled - line
    end = events[-1]
    if abs(off) <= tolerance:
        yield Finding(
            Level.NOTE,
            "END",
            f"Pulled {pulled:.1f} ft of {line:.1f} ft, within {tolerance:.1f} ft: completed.",
            rules.source_of("END"),
            at_ft=end.at_ft,
            at_s=end.at_s,
            value=pulled,
        )
        return
    word = "short of" if off < 0 else "more than"
    units = ""
    for factor, hint in ((_FEET_IN_A_METER, "meters"), (1 / _FEET_IN_A_METER, "feet")):
        if abs(pulled * factor - line) <= tolerance:
            units = f" It would fit if the distance were in {hint}: check its unit."
    yield Finding(
        Level.CAUTION,
        "LENGTH_SHORT" if off < 0 else "LENGTH_LONG",
        f"Pulled {pulled:.1f} ft, {abs(off):.1f} ft {word} the line's {line:.1f} ft.{units}",
        rules.source_of("END"),
        "Measure the line between the pits again, or find out what stopped the pull.",
        at_ft=end.at_ft,
        at_s=end.at_s,
        value=pulled,
    )


def _pipe(metrics: PullMetrics, limits: PullLimits, rules: EventRules) -> Iterable[Finding]:
    allowable, tension = limits.pipe_allowable_lbf, metrics.pipe_tension_lbf
    if limits.pipe_force_measured or allowable is None or tension <= allowable:
        return
    yield Finding(
        Level.CAUTION,
        "PIPE_CHECK",
        f"The drag on the new pipe, inferred from the log, is {tension:,.0f} lb, over its "
        f"allowable {allowable:,.0f} lb. It was not measured.",
        rules.source_of("PIPE_CHECK"),
        "Caliper the leading 2 ft, measure the stretch, and hold the tie-in until both pass.",
        value=tension,
    )


def _low_force(metrics: PullMetrics, rules: EventRules) -> Finding:
    return Finding(
        Level.CAUTION,
        "LOW_FORCE",
        f"95% of the pull stayed below {metrics.p95_lbf:,.0f} lb, too little for lead pipe.",
        rules.source_of("LOW_FORCE"),
        "Check the unit of the force column, the puller's measures and the sensor.",
        value=metrics.p95_lbf,
    )


_NOTE_LEVELS = {
    "CLOCK_JUMP": (Level.CAUTION, "Check the logger's clock; the moving time may be wrong."),
    "GAP": (Level.NOTE, "Peaks inside a gap are not seen."),
    "RAN_BACK": (Level.CAUTION, "Check the length counter: it may have slipped or been moved."),
}


def log_findings(log: PullLog, rules: EventRules) -> Iterable[Finding]:
    """Return what is wrong with the log itself: unit assumed, rows lost, samples too far apart."""
    for note in log.notes:
        level, do = _NOTE_LEVELS.get(note.kind, (Level.NOTE, ""))
        row = f" First: row {note.first_row}." if note.first_row else ""
        yield Finding(level, note.kind, note.sentence + row, "cleaning of the log", do)
    for column in log.columns.values():
        if column.unit_assumed:
            yield _assumed(column)
    if log.missing_share > rules["missing_share_max"]:
        yield Finding(
            Level.CAUTION,
            "MISSING_SAMPLES",
            f"{log.missing_share:.0%} of the samples are missing or were set aside.",
            rules.source_of("MISSING_SAMPLES"),
            "Look for a better copy of the log; what is missing may hold the peak.",
            value=log.missing_share,
        )
    if log.interval_s > rules["spike_sampling_s"] + 1e-6:
        sparse = log.interval_s > rules["slow_sampling_s"]
        lost = "too few to judge the pull by" if sparse else "spikes may be missed"
        yield Finding(
            Level.CAUTION,
            "TOO_SPARSE" if sparse else "SLOW_SAMPLING",
            f"One sample every {log.interval_s:.1f} s: {lost}.",
            rules.source_of("SLOW_SAMPLING"),
            "Set the logger to 1 to 10 samples a second.",
            value=log.interval_s,
        )


def _assumed(column) -> Finding:
    level = Level.NOTE if column.role == "time" else Level.CAUTION
    return Finding(
        level,
        "UNIT_ASSUMED",
        f"The column {column.header!r} names no unit; {column.unit} was assumed.",
        "the file itself",
        "Say which unit the column has.",
    )
