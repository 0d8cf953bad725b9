"""Changes to a plan's settings that would help: each was drawn from before it is offered.

Where the rules clash, each kind of change is made as large as it takes for a plan that keeps them
all. Where a plan is there, one step of each kind is tried, and what it adds to the odds is told.
Entering the settings of a change draws the very plan that was tried.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from math import ceil
from typing import Any

from program.operations.plans.case import Draft, Record, crews_for, draft_of
from program.operations.plans.odds import bound_unspent, played_forecast
from program.planning.forecast import cut_off
from program.planning.solver import CannotPlan, draw
from program.planning.solver import Plan as Drawn
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.calendar import weekdays_told
from services_inventory.domain.certain import certain
from services_inventory.domain.reporting import Report

_FURTHER_DAYS = (4, 5)  # Friday, then Saturday
_SHORTFALLS = (1, 1.01, 1.02, 1.05, 1.1, 1.25, 1.5, 2, 3)  # times what a budget falls short by
_RAISES = (1.1, 1.25, 1.5, 2, 3)
_ANSWERS = (28, 14, 0)  # days until owners have answered
_QUOTA_PARTS = (0.9, 0.75, 0.5, 0)
_MORE_CREWS = 12
_CENT = 0.005
_MANY_AREAS = 1_500


@dataclass(frozen=True)
class Step:
    """One change: the settings that differ, and what it is in words."""

    settings: dict
    sentence: str


@dataclass(frozen=True)
class Tried:
    """What a drawing under changed settings gave; no cost where no plan keeps all rules."""

    cost: float | None = None
    last_year: int | None = None
    complies: float | None = None
    finishes: float | None = None

    @property
    def holds(self) -> bool:
        """Whether there is a plan."""
        return self.cost is not None


def changes_tried(as_of: date, draft: Draft, drawn: Drawn, report: Report | None = None) -> dict:
    """Return the changes that help, each with its cost and odds, and sentences on those that don't.

    Parameters
    ----------
    drawn : the plan without any change, or why there is none
    report : called with the kinds of change tried so far, and all
    """
    report = report or (lambda done, total: None)
    now = told(draft, drawn) if is_whole(drawn) else Tried()
    rows, without = [], []
    for number, (kind, steps_of) in enumerate(_KINDS):
        report(number, len(_KINDS))
        steps = list(steps_of(draft, drawn))
        if not steps:
            continue
        if steps_of is not _crews and len(draft.case.areas) > _MANY_AREAS:
            without.append(f"{kind}: not tried, as a plan of so many areas takes long to draw.")
            continue
        if now.holds:
            step, found = steps[0], _tried(as_of, draft, steps[0])
        else:
            step, found = _least(as_of, draft, steps)
        gain = (found.complies or 0.0) - (now.complies or 0.0)
        if found.holds and (not now.holds or gain > _CENT):
            rows.append(_row(kind, step, found, now))
        else:
            why = "adds nothing to the odds" if found.holds else "isn't enough by itself"
            without.append(f"{kind}: {step.sentence} That {why}.")
    if not rows and not now.holds and (both := _crews_and_money(as_of, draft, drawn)):
        rows.append(both)
    rows.sort(key=lambda row: (row["dollars_a_point"] or 0.0, -(row["complies"] or 0.0)))
    return {"tried_on": as_of.isoformat(), "rows": rows, "without": without}


def _row(kind: str, step: Step, found: Tried, now: Tried) -> dict:
    points = more = None
    if now.cost is not None and found.complies is not None:
        points = 100 * (found.complies - (now.complies or 0.0))
        more = certain(found.cost) - now.cost
    return {
        "kind": kind,
        "sentence": step.sentence,
        "settings": step.settings,
        "cost": found.cost,
        "more": more,
        "less": None if more is None else -more,
        "last_year": found.last_year,
        "complies": found.complies,
        "odds": "" if found.complies is None else cut_off(found.complies),
        "finishes": "" if found.finishes is None else cut_off(found.finishes),
        "points": points,
        "dollars_a_point": max(0.0, more or 0.0) / points if points else None,
    }


def _tried(as_of: date, draft: Draft, step: Step) -> Tried:
    """Draw and play under the changed settings, from the same record."""
    try:
        asked = PlanAsked.of({**draft.asked.kept(), **step.settings})
        changed, drawn = drawn_from(as_of, asked, draft.record, explain=False)
    except (PlanError, CannotPlan):
        return Tried()
    return told(changed, drawn) if is_whole(drawn) else Tried()


def drawn_from(
    as_of: date, asked: PlanAsked, record: Record, *, explain: bool = True
) -> tuple[Draft, Drawn]:
    """Draw from a record; where crews aren't given, a few more are tried before it is given up.

    Raises
    ------
    PlanError, CannotPlan: something asked for or recorded makes a plan impossible.
    """
    draft = draft_of(as_of, asked, record)
    drawn = draw(draft.case, explain=False)
    chosen = any(asked.crews_in(year.year) is None for year in draft.horizon.years)
    part = ceil(max(draft.crews.values()) / 20)
    for more in (part, 2 * part, 4 * part) if chosen else ():
        if is_whole(drawn):
            break
        wider = draft_of(as_of, asked, record, more)
        found = draw(wider.case, explain=False)
        if is_whole(found):
            draft, drawn = wider, found
    if not drawn.placements and explain:
        drawn = draw(draft.case)
    return draft, drawn


def is_whole(drawn: Drawn) -> bool:
    """Whether there is a plan and it keeps every rule."""
    return bool(drawn.placements) and not drawn.overrun


def told(draft: Draft, drawn: Drawn) -> Tried:
    """What a plan costs, when it ends, and its odds."""
    looking = sum(year.unknown for year in draft.horizon.years) * draft.asked.cost_per_inspection
    odds = played_forecast(draft, drawn)
    return Tried(
        sum(row.cost for row in drawn.years) + looking,
        max(row.year for row in drawn.years if row.areas),
        odds.complies_throughout if odds else None,
        odds.finishes if odds else None,
    )


def _least(as_of: date, draft: Draft, steps: list[Step]) -> tuple[Step, Tried]:
    """The smallest of ever larger steps with which a plan is there, or the largest and no plan."""
    found = {len(steps) - 1: _tried(as_of, draft, steps[-1])}
    if not found[len(steps) - 1].holds:
        return steps[-1], Tried()
    low, high = -1, len(steps) - 1
    while high - low > 1:
        middle = (low + high) // 2
        found[middle] = _tried(as_of, draft, steps[middle])
        low, high = (low, middle) if found[middle].holds else (middle, high)
    return steps[high], found[high]


def _crews(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    now = {year.year: draft.crews[year.year] for year in draft.horizon.years}
    least = 1
    if not drawn.placements:
        # What the work of every year needs, counted without areas, is where to begin.
        free = replace(draft.asked, crews=None, crews_by_year={})
        work = sum(area.counted for area in draft.case.areas)
        least = max(1, crews_for(draft.horizon, work, free) - max(now.values()))
    for more in (1, *range(least, least + _MORE_CREWS * ceil(least / 20), ceil(least / 20))):
        if len(set(now.values())) == 1:
            crews = next(iter(now.values())) + more
            word = "crew" if crews == 1 else "crews"
            yield Step(
                {"crews": crews, "crews_by_year": {}},
                f"{crews} {word} in every year, not {crews - more}.",
            )
        else:
            table = {str(year): crews + more for year, crews in draft.crews.items()}
            word = "crew" if more == 1 else "crews"
            yield Step({"crews_by_year": table}, f"{more} more {word} in every year.")


def _budget(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    asked = draft.asked
    money = {year.year: asked.budget_in(year.year) for year in draft.horizon.years}
    now = {year: budget for year, budget in money.items() if budget is not None}
    if not now:
        return
    short = _shortfall(drawn, "BUDGET")
    for part in _SHORTFALLS if short else ():
        yield _budgets(asked, now, {y: now[y] + part * more for y, more in short.items()})
    for part in _RAISES:
        yield _budgets(asked, now, {year: budget * part for year, budget in now.items()})


def _budgets(asked: PlanAsked, now: dict[int, float], wanted: dict[int, float]) -> Step:
    """Budgets of whole thousands, so that what is entered is what was tried."""
    new = {year: 1000 * ceil(max(now[year], budget) / 1000) for year, budget in wanted.items()}
    parts = [
        f"${budget:,.0f} in program year {year} (not ${now[year]:,.0f})"
        for year, budget in sorted(new.items())
        if budget > now[year]
    ]
    more = sum(new[year] - now[year] for year in new)
    table = {**asked.budget_by_year, **{str(year): budget for year, budget in new.items()}}
    return Step({"budget_by_year": table}, f"{', '.join(parts)}; ${more:,.0f} more in all.")


def _shortfall(drawn: Drawn, kind: str) -> dict[int, float]:
    """What one kind of rule falls short by, by program year."""
    found = next((one for one in drawn.relaxations if one.kind == kind), None)
    return {int(name.split()[2]): amount for name, amount in (found.amounts if found else ())}


def _weekdays(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    now = sorted(draft.asked.weekdays)
    days = list(now)
    for day in _FURTHER_DAYS:
        if day not in days:
            days = sorted([*days, day])
            said = f"Replace lines on {weekdays_told(days)}, not on {weekdays_told(now)} only."
            yield Step({"weekdays": days}, said)


def _season(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    asked = draft.asked
    fewer = [row["name"] for row in asked.seasons if row.get("crews") is not None]
    if fewer:
        rows = [{**row, "crews": None} for row in asked.seasons]
        yield Step({"seasons": rows}, f"All of the year's crews at work in {', '.join(fewer)}.")
    if asked.frost:
        said = "Work in the frost season, too, where the ground and the permits allow it."
        yield Step({"frost": None}, said)


def _inspections(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    now = min(draft.asked.unknown_years, len(draft.horizon.years) + len(draft.horizon.later))
    if draft.unknown.chances:
        for years in range(now - 1, 0, -1):
            word = "the first program year" if years == 1 else f"{years} program years"
            yield Step({"unknown_years": years}, f"Look at all unknown lines in {word}, not {now}.")


def _consents(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    now = draft.asked.consent_lead_days
    for days in _ANSWERS:
        if days < now:
            said = f"Owners' answers within {days} days of the letter, not {now}."
            yield Step(
                {"consent_lead_days": days}, said if days else "Owners' answers in hand now."
            )


def _quotas(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    if drawn.placements:
        return
    for part in _QUOTA_PARTS if draft.asked.quotas else ():
        less = {place: _less(quota, part) for place, quota in draft.asked.quotas.items()}
        said = f"The promised shares lowered to {part:.0%} of what they are."
        yield Step({"quotas": less if part else {}}, said if part else "No promised shares.")


def _less(quota, part: float):
    if isinstance(quota, dict):
        return {**quota, "share": quota["share"] * part}
    return quota * part


def _windows(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    asked = draft.asked
    places = [*asked.closed_years, *(row["place"] for row in asked.windows)]
    if places and not drawn.placements:
        said = f"Without the closures and windows of {', '.join(dict.fromkeys(places))}."
        yield Step({"closed_years": {}, "windows": []}, said)


def _locks(draft: Draft, drawn: Drawn) -> Iterator[Step]:
    locked = [area.id for area in draft.case.areas if area.locked_year is not None]
    if not locked or drawn.placements:
        return
    found = next((one for one in drawn.relaxations if one.kind == "LOCKS"), None)
    some = sorted({name.rsplit(",", 1)[0] for name, _ in found.amounts}) if found else []
    for names in filter(None, (some, locked)):
        said = f"Without the locked years of {', '.join(names)}."
        yield Step({"unlocked": [*draft.asked.unlocked, *names]}, said)


_KINDS = (
    ("Crews", _crews),
    ("Budget", _budget),
    ("Working days", _weekdays),
    ("Season", _season),
    ("Inspections first", _inspections),
    ("Consents", _consents),
    ("Promised shares", _quotas),
    ("Closures", _windows),
    ("Locked years", _locks),
)


def _crews_and_money(as_of: date, draft: Draft, drawn: Drawn) -> dict | None:
    """The fewest further crews where money sets no limit, and the money that their plan takes."""
    free: dict[str, Any] = {"budget_per_year": None, "budget_by_year": {}, "funding": []}
    steps = [Step({**step.settings, **free}, step.sentence) for step in _crews(draft, drawn)]
    step, found = _least(as_of, draft, steps)
    if not found.holds:
        return None
    asked = PlanAsked.of({**draft.asked.kept(), **step.settings})
    wider, plan = drawn_from(as_of, asked, draft.record, explain=False)
    looked = {year.year: year.unknown * asked.cost_per_inspection for year in wider.horizon.years}
    # Money bound to places stays bound: what it leaves over there has to come on top.
    idle = bound_unspent((y for y in draft.case.years if y.year in looked), wider, plan)
    table = {
        str(row.year): 1000 * ceil((row.cost + looked[row.year] + idle.get(row.year, 0.0)) / 1000)
        for row in plan.years
    }
    parts = [f"${budget:,.0f} in program year {year}" for year, budget in table.items()]
    both = Step(
        {
            **step.settings,
            "budget_per_year": draft.asked.budget_per_year,
            "budget_by_year": table,
            "funding": draft.asked.funding,
        },
        f"{step.sentence[:-1]}; and {', '.join(parts)}.",
    )
    found = _tried(as_of, draft, both)
    return _row("Crews and budget together", both, found, Tried()) if found.holds else None
