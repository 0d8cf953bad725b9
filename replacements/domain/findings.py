"""A finding: what a check has to say about a tool string, a pull, the ground or a log.

Every check in this app answers with a list of these, so that a sheet, a page and an export
can show them alike: the level, the rule broken or met, its source, and what to do about it.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from services_inventory.domain.labels import Labeled


class Level(Labeled):
    """STOP forbids the work, CAUTION asks for a decision, NOTE informs."""

    STOP = "STOP", "Stop"
    CAUTION = "CAUTION", "Caution"
    NOTE = "NOTE", "Note"

    @property
    def rank(self) -> int:
        """Order of severity: 0 for STOP, 1 for CAUTION, 2 for NOTE."""
        return tuple(Level).index(self)


@dataclass(frozen=True)
class Finding:
    """One thing a check found.

    level : Level
    rule : short UPPER_CASE code of the rule, stable between versions
    message : a sentence for the crew, with the figures compared
    source : where the rule comes from, with its mark (seen, memory, derived, judgment)
    do : what to do about it
    who : who may do something about it
    part : place in the tool string, counted from 0 at the cable, where there is one
    at_ft : distance along the line, ft, where there is one
    at_s : time since the start of the log, s, where there is one
    value : the figure that was compared, in the unit the message names
    """

    level: Level
    rule: str
    message: str
    source: str
    do: str = ""
    part: int | None = None
    at_ft: float | None = None
    at_s: float | None = None
    value: float | None = None
    who: str = ""


def worst(findings: Iterable[Finding]) -> Level | None:
    """Return the most severe level among the findings, None when there are none."""
    return min((finding.level for finding in findings), key=lambda level: level.rank, default=None)


def by_severity(findings: Iterable[Finding]) -> list[Finding]:
    """Return the findings with STOP first, otherwise in the order given."""
    return sorted(findings, key=lambda finding: finding.level.rank)
