"""Findings sort by what they mean for the work."""

from replacements.domain.findings import Finding, Level, by_severity, worst


def found(level, rule="R") -> Finding:
    return Finding(level, rule, "message", "source")


def test_worst_is_the_most_severe():
    assert worst([found(Level.NOTE), found(Level.STOP), found(Level.CAUTION)]) is Level.STOP
    assert worst([]) is None


def test_order_is_kept_within_a_level():
    first, second, stop = found(Level.NOTE, "A"), found(Level.NOTE, "B"), found(Level.STOP)
    assert by_severity([first, second, stop]) == [stop, first, second]
