"""The rows of the submission, one named tuple for each list; unknown is None or empty."""

from fractions import Fraction
from typing import NamedTuple

from program.submissions import tables

LineRow = tables.LINES.row
ReplacementRow = tables.REPLACEMENTS.row
PartialRow = tables.PARTIALS.row
AccessRefusalRow = tables.REFUSALS.row
ChangeRow = tables.CHANGES.row
SetAsideRow = tables.SET_ASIDE.row
CorrectionRow = tables.CORRECTIONS.row
TotalMoved = tables.FILED_AND_NOW.row
NoticeRow = tables.NOTICES.row
NonLeadBasisRow = tables.NON_LEAD_BASES.row


class ValueUsed(tables.VALUES.row):
    """One value of the rule that the submission was computed by."""

    __slots__ = ()

    @property
    def settled(self) -> bool:
        """Read in the rule's own text, or ticked off by a person who did."""
        return self.mark == "seen" or self.ticked_off_by is not None


class RateYear(NamedTuple):
    """One program year of the replacement rate; None where it cannot be computed."""

    program_year: int
    pool: int | None
    replaced: int
    annual_rate: Fraction | None
    cumulative_rate: Fraction | None


class KeyedFact(NamedTuple):
    """One line of the validation report or the deferred-deadline sheet."""

    heading: str
    value: str
    citation: str
    mark: str
