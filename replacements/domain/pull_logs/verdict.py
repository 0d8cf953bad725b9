"""Whether a pull can be accepted as it stands, waits for a person, or is rejected.

Planning thresholds, a utility's to set. The verdict is about the log; it never replaces the
inspection by a competent person, the equipment maker's ratings or local codes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from replacements.domain.findings import Finding, Level
from services_inventory.domain.labels import Labeled

from .events import Event, EventKind, find_events
from .findings import PullLimits, all_findings, force_findings, log_findings
from .log import PullLog, PullLogError
from .metrics import PullMetrics, metrics_of
from .rules import EventRules, event_rules, shipped_rules
from .series import Series, series_of

# A stall or a rest that the pull went on from is a caution for the record, not a reason to wait.
HOLDS = frozenset(
    {
        *("NO_LIMIT", "CABLE_OVERLOAD", "SPIKE_UNEXPLAINED", "SLIP", "PIPE_LOST", "PIPE_CHECK"),
        *("LENGTH_SHORT", "LENGTH_LONG", "ENDED_LOADED", "ENDED_SHORT", "MISSING_SAMPLES"),
        *("UNIT_ASSUMED", "LOW_FORCE", "NO_MOTION", "TOO_SPARSE"),
    }
)


class LogVerdict(Labeled):
    """What becomes of a pull."""

    ACCEPT = "ACCEPT", "Accept"
    HOLD = "HOLD", "Hold"
    REJECT = "REJECT", "Reject"


@dataclass(frozen=True)
class PullAssessment:
    """A pull judged: verdict with its reasons, events in order of time, figures.

    metrics, series : None when nothing moves in the log
    """

    verdict: LogVerdict
    findings: tuple[Finding, ...]
    events: tuple[Event, ...]
    metrics: PullMetrics | None
    series: Series | None

    @property
    def reasons(self) -> tuple[Finding, ...]:
        """The findings that the verdict rests on; empty when the pull is accepted."""
        return tuple(f for f in self.findings if f.level == Level.STOP or f.rule in HOLDS)

    def count(self, kind: EventKind) -> int:
        """Return how often one kind of event happened."""
        return sum(1 for event in self.events if event.kind == kind)


def assess(
    log: PullLog,
    expected_length_ft: float,
    limit_lbf: float | None,
    *,
    pipe_allowable_lbf: float | None = None,
    breaking_force_lbf: float | None = None,
    joints_ft: Sequence[float] = (),
    bends: Sequence[tuple[float, float]] = (),
    pipe_force_measured: bool = False,
    rules: EventRules | Mapping[str, float] | None = None,
) -> PullAssessment:
    """Judge a pull by its log.

    Parameters
    ----------
    log : as `read` returns it
    expected_length_ft : length of the line between the pits
    limit_lbf : lowest allowable of cable, jaws, clevis, swivel, puller and anchor
    pipe_allowable_lbf : allowable pull of the new pipe times the efficiency of its grip
    breaking_force_lbf : of the cable, from its certificate
    joints_ft : places of known joints
    bends : (place in ft, angle in degrees) of each known bend
    pipe_force_measured : True when a load cell or break-away link stood at the pipe's grip
    rules : thresholds, or a utility's own values by key

    Returns
    -------
    PullAssessment; REJECT with any STOP, HOLD with any finding a person must clear, else ACCEPT

    Raises
    ------
    PullLogError: the line's length or the allowable force is not above zero.
    """
    for name, value in (("length of the line", expected_length_ft), ("allowable", limit_lbf)):
        if value is not None and not value > 0:
            raise PullLogError(f"The {name} must be above zero, not {value}.")
    if not isinstance(rules, EventRules):
        rules = event_rules(rules) if rules else shipped_rules()
    limits = PullLimits(
        expected_length_ft,
        limit_lbf,
        pipe_allowable_lbf,
        breaking_force_lbf,
        tuple(joints_ft),
        tuple(sorted(bends)),
        pipe_force_measured,
    )
    series = series_of(log, rules)
    if series is None:
        return _without_motion(log, limits, rules)
    events = find_events(log, series, rules, expected_length_ft, limits.bends)
    metrics = metrics_of(log, series, events, rules, limits.bends)
    findings = tuple(all_findings(log, events, metrics, limits, rules))
    return PullAssessment(_verdict(findings), findings, tuple(events), metrics, series)


def examine(
    log: PullLog, expected_length_ft: float, limit_lbf: float | None, **facts
) -> list[Finding]:
    """Return the findings of a pull; `facts` as for `assess`.

    Raises
    ------
    PullLogError: as `assess`.
    """
    return list(assess(log, expected_length_ft, limit_lbf, **facts).findings)


def _verdict(findings: Sequence[Finding]) -> LogVerdict:
    if any(finding.level == Level.STOP for finding in findings):
        return LogVerdict.REJECT
    held = any(finding.rule in HOLDS and finding.level != Level.NOTE for finding in findings)
    return LogVerdict.HOLD if held else LogVerdict.ACCEPT


def _without_motion(log: PullLog, limits: PullLimits, rules: EventRules) -> PullAssessment:
    still = Finding(
        Level.CAUTION,
        "NO_MOTION",
        f"Nothing moves faster than {rules['stall_speed_ft_per_min']} ft/min in the log: "
        f"{log.distance_ft[-1] - log.distance_ft[0]:.1f} ft in {log.time_s[-1] / 60:,.1f} min.",
        "the file itself",
        "Check the length counter, and that this is the log of this pull.",
        value=log.peak_lbf,
    )
    findings = (*force_findings(log, limits, rules), still, *log_findings(log, rules))
    return PullAssessment(_verdict(findings), findings, (), None, None)
