"""Before water returns to the house, and the sample after it: what the rule asks for.

The numbers come from `services_inventory/regulation/around_replacement.toml`; nobody can waive
them. Source: 40 CFR 141.84(h), as marked on each value.
"""

from dataclasses import dataclass
from datetime import date
from typing import Self

from replacements.domain.findings import Finding, Level
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.regulation import Rules

from .facts import CompletionFacts, Household


@dataclass(frozen=True)
class AfterRules:
    """The values of the rule about returning to service and the sample afterwards, on one day."""

    needs: tuple[str, ...]
    cartridge_months: int
    sample_from_months: int
    sample_to_months: int
    citation: str
    filter_citation: str
    sample_citation: str

    @classmethod
    def on(cls, rules: Rules, as_of: date) -> Self:
        """Take the values in force on a day.

        Raises
        ------
        UnknownRule, NoPeriod: a value is missing on that day.
        """
        needs = rules.get("RETURN_TO_SERVICE_NEEDS", as_of)
        months = rules.get("FILTER_CARTRIDGE_MONTHS", as_of)
        sample = rules.get("FOLLOW_UP_SAMPLE_FROM_MONTHS", as_of)
        return cls(
            needs=needs.value,
            cartridge_months=months.value,
            sample_from_months=sample.value,
            sample_to_months=rules.value("FOLLOW_UP_SAMPLE_TO_MONTHS", as_of),
            citation=f"{needs.citation} [{needs.mark}]",
            filter_citation=f"{months.citation} [{months.mark}]",
            sample_citation=f"{sample.citation} [{sample.mark}]",
        )


def sample_window(completed_on: date, rules: AfterRules) -> tuple[date, date]:
    """Return the first and last day on which the sample after a replacement is taken."""
    return (
        add_months(completed_on, rules.sample_from_months),
        add_months(completed_on, rules.sample_to_months),
    )


def return_to_service_findings(
    household: Household, returns_on: date, rules: AfterRules
) -> list[Finding]:
    """Return what stands against giving the house water from the new line on a day."""
    given = {
        "NOTICE": (household.notice_on, "notice"),
        "FLUSHING_INSTRUCTIONS": (household.flushing_instructions_on, "flushing instructions"),
        "FILTER": (household.filter_on, "filter"),
    }
    found = []
    for need in rules.needs:
        day, name = given[need]
        if day is None or day > returns_on:
            when = (
                "no date"
                if day is None
                else f"the date {day_told(day)}, after the water's return on {day_told(returns_on)}"
            )
            found.append(
                Finding(
                    Level.STOP,
                    f"RETURN_NEEDS_{need}",
                    f"The household's {name} has {when}.",
                    rules.citation,
                    "Hand it over before the water is turned on.",
                )
            )
    if "FILTER" in rules.needs and household.cartridge_months < rules.cartridge_months:
        found.append(
            Finding(
                Level.STOP,
                "RETURN_NEEDS_CARTRIDGES",
                f"Cartridges for {household.cartridge_months} months were handed over; "
                f"{rules.cartridge_months} are needed.",
                rules.filter_citation,
                "Hand over the rest before the water is turned on.",
                value=float(household.cartridge_months),
            )
        )
    return found


def sample_findings(facts: CompletionFacts, rules: AfterRules, as_of: date) -> list[Finding]:
    """Return what is to be said about the sample after the replacement."""
    first, last = sample_window(facts.completed_on, rules)
    taken, offered = facts.household.sample_taken_on, facts.household.sample_offered_on
    window = f"from {day_told(first)} to {day_told(last)}"
    if taken and not first <= taken <= last:
        message, level = f"The sample was taken on {day_told(taken)}, not {window}.", Level.CAUTION
    elif taken or (offered and as_of < first):
        return []
    elif not offered:
        message = f"The sample {window} has not been offered."
        level = Level.CAUTION if as_of > last else Level.NOTE
    else:
        message = f"The sample offered on {offered} is due {window}."
        level = Level.CAUTION if as_of > last else Level.NOTE
    do = "Offer the sample, or record that the household declines."
    return [Finding(level, "FOLLOW_UP_SAMPLE", message, rules.sample_citation, do)]
