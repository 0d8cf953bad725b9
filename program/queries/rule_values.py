"""The rule's values as pages and exports show them, with marks, overrides and ticks."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.timezone import localdate

from program.models import ValueTick
from program.rules import rules_known
from program.submissions.rows import ValueUsed
from services_inventory.asked_once import once
from services_inventory.domain.allowed import shown
from services_inventory.domain.regulation import Rules, Value

# What the totals, pools and rates of a submission are computed by.
USED_IN_SUBMISSION = (
    "COMPLIANCE_DATE", "PROGRAM_YEAR_1_END", "PROGRAM_YEARS", "REPLACEMENT_DEADLINE",
    "REQUIRED_RATE", "FIRST_ASSESSED_YEAR", "POOL_BASIS", "DISCONNECTED_COUNTS",
    "ANNUAL_UPDATE_DAY", "DEFERRAL_SHARE", "DEFERRAL_TEST_RATE", "DEFERRAL_NUMERATOR",
    "DEFERRAL_ANNUAL_ROUNDING", "DEFERRAL_LENGTH_ROUNDING", "CONSENT_MIN_ATTEMPTS",
    "CONSENT_MIN_METHODS", "CONSENT_MIN_DAYS_BETWEEN", "OWNER_CHANGE_OFFER_MONTHS",
    "LEAD_ANY_PORTION", "LEAD_LINED_IS_LEAD", "GRR_EVER_DOWNSTREAM_OF_LEAD",
    "GRR_DOWNSTREAM_OF_UNKNOWN", "GRR_NOT_DEMONSTRATED", "NEVER_HAD_LEAD_RECORDS",
    "CONNECTORS_MAKE_GRR", "CONNECTOR_LENGTH_LIMIT_FT", "NON_LEAD_SHOWN", "UNKNOWN_NOT_SHOWN",
    "LEAD_BAN_DATE_FEDERAL", "LEAD_BAN_DATE_STATE", "LEAD_BAN_DATE_LOCAL",
    "NONLEAD_INSTALL_CUTOFF", "DIAMETER_NONLEAD_OVER_IN", "APPROVED_BASES",
    "POOL_OUT_BAN", "POOL_OUT_TWO_POINTS", "POOL_OUT_REPLACED", "POOL_IN_OTHER_RECORDS",
    "VALIDATION_POINTS", "VALIDATION_POINTS_PER_PORTION", "VALIDATION_SMALL_POOL_UP_TO",
    "VALIDATION_SMALL_POOL_SHARE", "VALIDATION_TABLE", "VALIDATION_LARGEST_COUNT",
    "VALIDATION_DEADLINE",
)  # fmt: skip


@once
def ticks_now() -> dict[str, ValueTick]:
    """Return the latest reading of each value that was not taken back."""
    return {tick.value_id: tick for tick in ValueTick.objects.standing().order_by("id")}


def is_settled(value: Value, tick: ValueTick | None) -> bool:
    """Tell whether a reading confirms a value as it is now."""
    return tick is not None and tick.confirms and tick.value == shown(value.value)[:200]


def not_yet_read(ids: Iterable[str], as_of: date) -> list[Value]:
    """Return the values from memory in force on a day that nobody has read in the rule's text."""
    rules, ticks = rules_known().rules, ticks_now()
    found = (rules.get(rule_id, as_of) for rule_id in ids)
    return [
        value
        for value in found
        if value.mark == "memory"
        and not value.author
        and not is_settled(value, ticks.get(value.id))
    ]


@dataclass(frozen=True)
class RuleRow:
    """One value in one period, with its tick if somebody read the rule's own text for it."""

    value: Value
    shown: str
    tick: ValueTick | None
    reading: ValueTick | None
    used_in_submission: bool
    in_force: bool

    @property
    def contradicted(self) -> bool:
        """Whether somebody read that the rule says something else than this."""
        found = self.reading
        return found is not None and not found.confirms and found.value == self.shown[:200]

    @property
    def open(self) -> bool:
        """Whether it waits for somebody to read the rule's own text."""
        return self.value.needs_reading and self.tick is None


def rule_rows(rules: Rules, as_of: date) -> list[RuleRow]:
    """Return every value in every period, by id, with ticks that confirm what it still says."""
    ticks = ticks_now()
    rows = []
    for rule_id in rules.ids():
        for value in rules.all(rule_id):
            text = shown(value.value)
            tick = ticks.get(rule_id)
            rows.append(
                RuleRow(
                    value,
                    text,
                    tick if is_settled(value, tick) else None,
                    tick,
                    rule_id in USED_IN_SUBMISSION,
                    value.holds_on(as_of) and rules.get(rule_id, as_of) is value,
                )
            )
    return rows


def found_by(rows: list[RuleRow], text: str) -> list[RuleRow]:
    """Return the rows in whose words every word of a text stands, by their plain names."""
    wanted = text.casefold().split()

    def said(row: RuleRow) -> str:
        value = row.value
        parts = (value.name, value.id, value.summary, value.citation, value.source, row.shown)
        return " ".join((*parts, value.unit)).casefold()

    kept = [row for row in rows if all(word in said(row) for word in wanted)]
    return sorted(kept, key=lambda row: row.value.name.casefold())


def by_paragraph(rows: list[RuleRow]) -> list[tuple[str, list[RuleRow]]]:
    """Return the rows by the paragraph of the rule that they stand in, in the rule's order."""
    found: dict[str, list[RuleRow]] = {}
    for row in rows:
        said = row.value.citation
        found.setdefault(_PARAGRAPH.match(said)[0].strip() or said, []).append(row)
    return sorted(found.items(), key=lambda group: _in_order(group[0]))


_PARAGRAPH = re.compile(r"[^(,;]*(?:\(\w\))?")  # "40 CFR 141.84(b)" of "40 CFR 141.84(b)(5)"


def _in_order(citation: str) -> list[tuple[int, str]]:
    """A key by which section 141.84 comes before section 141.202."""
    return [
        (int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", citation)
    ]


def readings_of(value_id: str) -> list[ValueTick]:
    """Return every reading of a value, latest first; those taken back too."""
    return list(ValueTick.objects.filter(value_id=value_id).order_by("-id"))


def values_used(
    rules: Rules, as_of: date, ids: Iterable[str] = USED_IN_SUBMISSION
) -> tuple[ValueUsed, ...]:
    """Return the values that a submission of a day is computed by, with who ticked them off.

    A tick confirms what the value said when it was read: a changed value is open again.
    """
    ticks = ticks_now()
    return tuple(_used(rules.get(rule_id, as_of), ticks.get(rule_id)) for rule_id in ids)


def _used(value: Value, tick: ValueTick | None) -> ValueUsed:
    text, holds = shown(value.value), is_settled(value, tick)
    return ValueUsed(
        value.id,
        text,
        value.unit,
        value.citation,
        value.source,
        value.mark,
        tick.ticked_by if holds else None,
        localdate(tick.ticked_at) if holds else None,
    )
