"""What would have been forecast at each past program year's end, and what came.

Twice: the lead among lines that were unknown then and have been seen since, guessed from what was
verified by that day; and the average rate that the plan in force then foresaw, beside the one held.
Lines that were looked at are no random part of the unknown ones, so the first is a test of the
guess within neighborhoods and decades, not of the town's total.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date

from program.domain.calendar import program_year_bounds
from program.domain.replacement_rate import assess
from program.planning.unknowns import interval, lead_shares
from program.queries.planning.adoptions import adoption_on
from program.queries.planning.facts import FEW, settled_facts
from program.queries.rates import year_records
from program.rules import rules_in_force
from services_inventory.domain.regulation import Rules

_DRAWS, _FEWEST = 1_000, 10  # unknown lines from which on a neighborhood is counted


def back_test(as_of: date, seed: int) -> dict[str, list[dict]]:
    """Return one row a past program year of guesses at lead, and one of rates foreseen."""
    rules = rules_in_force()
    records = year_records(as_of, rules=rules)
    ends = [program_year_bounds(number, rules)[1] for number in range(1, len(records) + 1)]
    ends = [end for end in ends if end < as_of]
    return {
        "guesses": list(_guesses(ends, seed)),
        "rates": list(_rates(records[: len(ends)], ends, rules)) if ends else [],
    }


def _guesses(ends: list[date], seed: int) -> Iterator[dict]:
    settled = settled_facts() if ends else []
    for number, end in enumerate(ends, start=1):
        before = [fact for fact, day in settled if day <= end]
        after = [fact for fact, day in settled if day > end]
        row = {"year": number, "end": end.isoformat(), "verified": len(before), "seen": len(after)}
        if len(before) < FEW or not after:
            yield row
            continue
        shares = lead_shares(before).by_neighborhood(after, _DRAWS, seed)
        sizes = Counter(fact.neighborhood for fact in after)
        lead = Counter(fact.neighborhood for fact in after if fact.is_lead)
        whole = sum(sizes[hood] * share for hood, share in shares.items()) / len(after)
        low, high = interval(len(after), whole)
        counted = [hood for hood, size in sizes.items() if size >= _FEWEST]
        spans = {hood: interval(sizes[hood], shares[hood]) for hood in counted}
        yield {
            **row,
            "low": low,
            "high": high,
            "came": lead.total(),
            "held": low <= lead.total() <= high,
            "hoods": len(counted),
            "hoods_held": sum(spans[h][0] <= lead[h] <= spans[h][1] for h in counted),
        }


def _rates(records, ends: list[date], rules: Rules) -> Iterator[dict]:
    """What the plan in force when a year began foresaw of the average at its end."""
    if any(not record.pool for record in records):
        return
    required = rules.latest("REQUIRED_RATE").value
    for number, found in enumerate(assess(records, required), start=1):
        first = program_year_bounds(number, rules)[0]
        adoption = adoption_on(first)
        plan = adoption and adoption.plan
        row = {"year": number, "end": ends[number - 1].isoformat(), "plan": None}
        if plan is not None and number in plan.forecast.get("years", ()):
            fan = plan.forecast["fan"][plan.forecast["years"].index(number)]
            came = float(found.cumulative)
            row |= {"plan": plan.name, "low": fan[0], "high": fan[-1], "came": came}
            row["held"] = fan[0] <= came <= fan[-1]
        yield row
