"""The rows of the submission's lists, one named tuple for each; unknown is None or empty."""

from datetime import date
from fractions import Fraction
from typing import NamedTuple


class LineRow(NamedTuple):
    """One service line on the day of the submission; dates are `date`, unknown is None."""

    location_id: str
    address: str
    neighborhood: str
    latitude: float | None
    longitude: float | None
    category: str
    reason: str
    citation: str
    since: date | None
    system_material: str
    system_basis: str
    system_observed_on: date | None
    system_points_seen: int | None
    customer_material: str
    customer_basis: str
    customer_observed_on: date | None
    customer_points_seen: int | None
    system_was_lead: str
    connector: str
    connector_basis: str
    connector_location: str
    rests_on_connectors: str
    line_use: str
    installed_year: int | None
    size_in: float | None
    under_control: str
    in_replacement_pool: str
    in_validation_pool: str
    document: str


class ReplacementRow(NamedTuple):
    """One replacement that left no lead or galvanized-requiring-replacement portion."""

    work_order: str
    location_id: str
    address: str
    neighborhood: str
    category_before: str
    category_after: str
    completed_on: date | None
    program_year: int | None
    counted: str
    system_material_after: str
    customer_material_after: str
    method: str
    length_ft: float | None
    contractor: str
    accepted_on: date | None
    remarks: str


class PartialRow(NamedTuple):
    """One replacement after which some lead or GRR portion stayed."""

    work_order: str
    location_id: str
    address: str
    category_before: str
    category_after: str
    completed_on: date | None
    program_year: int | None
    occasion: str
    portion_left: str
    offered_on: date | None
    remarks: str


class AccessRefusalRow(NamedTuple):
    """One line not replaced for lack of access or consent, with the attempts made."""

    location_id: str
    address: str
    category: str
    reason: str
    attempts: int
    methods: int
    first_attempt_on: date | None
    last_attempt_on: date | None
    attempts_made: str
    reasonable_effort: str
    next_due_on: date | None


class ChangeRow(NamedTuple):
    """One change of a line's category since the last submission."""

    location_id: str
    address: str
    from_category: str
    to_category: str
    cause: str
    effective_on: date | None
    program_year: int | None
    recorded_on: date | None
    reason: str
    document: str


class SetAsideRow(NamedTuple):
    """One finding of more protective pipe that does not stand: by decision, or taken back."""

    location_id: str
    address: str
    portion: str
    seen: str
    how: str
    stands: str
    decided_by: str
    agreed_by: str
    set_aside_on: date | None
    document: str
    reason: str
    holds: str


class CorrectionRow(NamedTuple):
    """One line of an amendment's ledger: what was filed, what is known now, by which evidence.

    Filed or now empty: the line was not, or is not, in the inventory on the day.
    """

    location_id: str
    address: str
    category_filed: str
    category_now: str
    since: date | None
    recorded_on: date | None
    evidence: str
    totals_moved: str
    system_filed: str
    system_now: str
    customer_filed: str
    customer_now: str
    system_was_lead_filed: str
    system_was_lead_now: str
    connector_filed: str
    connector_now: str
    rests_filed: str
    rests_now: str
    reason_now: str


class TotalMoved(NamedTuple):
    """One total of an amendment: as filed, as it is now, and by how much it moved."""

    code: str
    heading: str
    filed: str
    now: str
    moved_by: str


class NoticeRow(NamedTuple):
    """One notice owed to an address: by when, sent how, and what came back."""

    location_id: str
    address: str
    kind: str
    language: str
    due_on: date | None
    sent_on: date | None
    method: str
    outcome: str
    batch: str


class ValueUsed(NamedTuple):
    """One value of the rule that the submission was computed by."""

    id: str
    value: str
    unit: str
    citation: str
    source: str
    mark: str
    ticked_off_by: str | None = None
    ticked_off_on: date | None = None

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
