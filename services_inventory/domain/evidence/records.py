"""One piece of evidence about one portion of a line, and what the system may rely on."""

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction
from typing import Any, Self

from services_inventory.domain.days import day_told
from services_inventory.domain.evidence.bases import Basis
from services_inventory.domain.labels import Labeled
from services_inventory.domain.materials import EARLIEST_INSTALL_YEAR, Material
from services_inventory.domain.regulation import Rules, inventory_rules

_BANS = ("LEAD_BAN_DATE_FEDERAL", "LEAD_BAN_DATE_STATE", "LEAD_BAN_DATE_LOCAL")


class Portion(Labeled):
    """A portion of a service line, or its connector."""

    SYSTEM = "SYSTEM", "system side"
    CUSTOMER = "CUSTOMER", "customer side"
    CONNECTOR = "CONNECTOR"


class Era(StrEnum):
    """Whether the evidence is about the pipe in the ground or about an earlier one."""

    NOW = "NOW"
    BEFORE = "BEFORE"


@dataclass(frozen=True, kw_only=True, slots=True)
class EvidenceRecord:
    """One row of evidence; append-only, so a mistake is withdrawn by a later row.

    Parameters
    ----------
    material : what the evidence says; None for a row that only withdraws or resolves
    recorded_at : in the utility's time zone, so that its day is the utility's day
    place : where the pipe was seen, so that two rows of one place are one point
    every_earlier_pipe : of an earlier era, and speaks of every earlier pipe of this portion
    below_lead : this galvanized system side is or was itself downstream of lead
    withdraws : id of the row that this one takes back
    resolves : in a conflict, the material whose evidence a person let stand
    both_true : the decision sets nothing aside: the portion is mixed, and `resolves` its most
        protective material
    counts_from : the first day for which the row counts, where that is before it was recorded
    """

    id: Any
    portion: Portion
    material: Material | None
    basis: Basis
    recorded_at: datetime
    era: Era = Era.NOW
    points_seen: int = 0
    place: str = ""
    observed_on: date | None = None
    installed_on: date | None = None
    installed_year: int | None = None
    diameter_in: float | Fraction | None = None
    length_ft: float | Fraction | None = None
    every_earlier_pipe: bool = False
    below_lead: bool = False
    withdraws: Hashable | None = None
    resolves: Material | None = None
    both_true: bool = False
    counts_from: date | None = None

    @property
    def counts_on(self) -> date:
        """The first day for which the row counts: the day it was recorded, if it says no other."""
        return self.counts_from or self.recorded_at.date()

    @property
    def laid_on(self) -> date | None:
        """The earliest day the pipe can have been laid; a bare year counts from its first day."""
        if self.installed_on or not self.installed_year:
            return self.installed_on
        in_calendar = date.min.year <= self.installed_year <= date.max.year
        return date(self.installed_year, 1, 1) if in_calendar else None

    @property
    def speaks_of(self) -> date:
        """The day of which the evidence speaks: seen, else laid, else recorded."""
        return self.observed_on or self.laid_on or self.recorded_at.date()

    @property
    def is_evidence(self) -> bool:
        """Whether the row says anything about the pipe, rather than about other rows."""
        return self.material is not None


@dataclass(frozen=True)
class EvidencePolicy:
    """What this system may rely on, read from the rule and its State and local values."""

    lead_ban_date: date
    points_needed: int
    approved_bases: frozenset[Basis] = frozenset()
    diameter_nonlead_over_in: Fraction | float | None = None
    nonlead_install_cutoff: date | None = None
    connector_limit_ft: Fraction | float | None = None
    never_had_lead: bool = False

    @classmethod
    def from_rules(
        cls, as_of: date, rules: Rules | None = None, never_had_lead: bool = False
    ) -> Self:
        """The policy in force on a day.

        Raises
        ------
        UnknownRule or NoPeriod: a value that evidence is weighed by is not in force that day.
        ValueError: an approved basis is not one of the known bases.
        """
        rules = rules or inventory_rules()
        return cls(
            lead_ban_date=lead_ban_date(as_of, rules),
            points_needed=rules.value("POOL_OUT_TWO_POINTS", as_of),
            approved_bases=frozenset(map(Basis, rules.value("APPROVED_BASES", as_of))),
            diameter_nonlead_over_in=rules.value("DIAMETER_NONLEAD_OVER_IN", as_of),
            nonlead_install_cutoff=rules.value("NONLEAD_INSTALL_CUTOFF", as_of),
            connector_limit_ft=rules.value("CONNECTOR_LENGTH_LIMIT_FT", as_of),
            never_had_lead=never_had_lead,
        )


def lead_ban_date(as_of: date, rules: Rules | None = None) -> date:
    """The earliest of the federal, State and local ban (rules LEAD_BAN_DATE_...)."""
    rules = rules or inventory_rules()
    return min(ban for ban in (rules.value(rule_id, as_of) for rule_id in _BANS) if ban)


def contradictions(record: EvidenceRecord) -> list[str]:
    """What cannot be true about a record, one sentence each; ask before it is stored."""
    recorded = record.recorded_at.date()
    found = []
    if record.installed_year is not None and not (
        EARLIEST_INSTALL_YEAR <= record.installed_year <= recorded.year
    ):
        found.append(
            f"The year of installation is {record.installed_year}; write a year from "
            f"{EARLIEST_INSTALL_YEAR} to {recorded.year}."
        )
    if record.installed_on and record.installed_year not in (None, record.installed_on.year):
        found.append(
            f"The date of installation is {day_told(record.installed_on)} but the year is "
            f"{record.installed_year}; keep one of them."
        )
    found += _contradicting_days(record, recorded)
    found += _contradicting_numbers(record)
    if record.resolves in (Material.UNKNOWN, Material.NONE):
        found.append("A conflict is resolved for a material, not for unknown or none.")
    return found


def _contradicting_days(record: EvidenceRecord, recorded: date) -> list[str]:
    found = [
        f"The day {name} is {day_told(day)}, after it was recorded on {day_told(recorded)}."
        for name, day in (("seen", record.observed_on), ("laid", record.installed_on))
        if day and day > recorded
    ]
    laid, seen = record.laid_on, record.observed_on
    if laid and seen and seen < laid and record.era == Era.NOW:
        found.append(f"The pipe was seen on {seen}, before it was laid on {laid}.")
    return [*found, *_contradicting_start(record, recorded)]


def _contradicting_start(record: EvidenceRecord, recorded: date) -> list[str]:
    """What cannot be true about the day from which a row counts."""
    since, laid = record.counts_from, record.laid_on
    if since is None:
        return []
    if since > recorded:
        return [
            f"It is said to be true since {day_told(since)}, after it was recorded on "
            f"{day_told(recorded)}."
        ]
    if since.year < EARLIEST_INSTALL_YEAR:
        return [
            f"It is said to be true since {day_told(since)}; write a year from "
            f"{EARLIEST_INSTALL_YEAR}."
        ]
    if record.installed_on and since < record.installed_on and record.era == Era.NOW:
        return [
            f"It is said to be true since {day_told(since)}, before the pipe was laid on "
            f"{day_told(record.installed_on)}."
        ]
    if laid and since.year < laid.year and record.era == Era.NOW:
        return [
            f"It is said to be true since {day_told(since)}, before the pipe was laid in "
            f"{laid.year}."
        ]
    return []


def _contradicting_numbers(record: EvidenceRecord) -> list[str]:
    found = []
    if record.points_seen < 0:
        found.append(f"The points seen are {record.points_seen}; write 0 or more.")
    if record.points_seen and not record.basis.traits.inspection:
        found.append(f"Points were seen, but the basis is {record.basis.label}.")
    for name, number in (("diameter", record.diameter_in), ("length", record.length_ft)):
        if number is not None and not number > 0:
            found.append(f"The {name} is {number}; write a number above zero.")
    return found
