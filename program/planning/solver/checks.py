"""What is wrong with a planning case before any solver sees it, as sentences."""

from __future__ import annotations

from math import isfinite

from program.planning.solver.case import PlanCase


def problems(case: PlanCase) -> list[str]:
    """Sentences that say what to change; empty when the case can be solved for."""
    found = [*_years(case), *_areas(case)]
    if found:
        return found
    return [*_capacity(case), *_windows(case), *_quotas(case)]


def _years(case: PlanCase):
    if not case.years:
        yield "There are no program years to plan for: give at least one."
        return
    numbers = [year.year for year in case.years]
    if numbers != list(range(numbers[0], numbers[0] + len(numbers))):
        yield f"The program years {numbers} are not consecutive: give each year once, in order."
    if len(case.past_rates) != numbers[0] - 1:
        yield (
            f"The plan starts in program year {numbers[0]} but {len(case.past_rates)} past annual "
            f"rates are given: give one for each of the {numbers[0] - 1} years before."
        )
    for year in case.years:
        if year.pool <= 0:
            yield (
                f"Program year {year.year} has an empty replacement pool: no rate can be worked "
                "out. Give its pool, or leave the year out if no line is left."
            )
        if not (isfinite(year.budget) and year.budget >= 0 and year.set_aside >= 0):
            yield f"Program year {year.year}: the budget must be a number, zero or more."
        if any(not (isfinite(one.dollars) and one.dollars >= 0) for one in year.bound):
            yield f"Program year {year.year}: money bound to places must be zero or more."
        if any(len(crew) != len(case.seasons) for crew in year.crew_jobs):
            yield (
                f"Program year {year.year}: give every crew one number of jobs for each of the "
                f"{len(case.seasons)} seasons ({', '.join(case.seasons)})."
            )
        if any(jobs < 0 for crew in year.crew_jobs for jobs in crew):
            yield f"Program year {year.year}: a crew can't do fewer than zero jobs."


def _areas(case: PlanCase):
    if not case.areas:
        yield "There are no work areas to plan: group the replacement pool into areas first."
    seen = set()
    for area in case.areas:
        if area.id in seen:
            yield f"Work area {area.id} is given twice: keep one."
        seen.add(area.id)
        if area.jobs < 1 or area.jobs != int(area.jobs):
            yield f"Work area {area.id} has {area.jobs} jobs: give a whole number, one or more."
        for name, value in (("cost", area.cost), ("priority", area.priority)):
            if not (isfinite(value) and value >= 0):
                yield f"Work area {area.id}: its {name} must be a number, zero or more."
        if area.replacements is not None and not 0 <= area.replacements <= area.jobs:
            yield (
                f"Work area {area.id}: the replacements expected ({area.replacements:g}) must lie "
                f"between zero and its {area.jobs} jobs."
            )
        if strange := (area.seasons or frozenset()) - set(case.seasons):
            yield (
                f"Work area {area.id} names the season {sorted(strange)[0]}, which is none of "
                f"{', '.join(case.seasons)}."
            )


def _capacity(case: PlanCase):
    if not any(year.crew_jobs for year in case.years):
        yield "There are no crews in any program year: add at least one crew."
    elif not any(year.capacity for year in case.years):
        yield "No crew can do any job in any program year: raise the jobs a crew can do."
    if any(area.cost > 0 for area in case.areas) and not any(y.budget for y in case.years):
        total = sum(area.cost for area in case.areas)
        yield (
            f"The budget is zero in every program year, and the areas cost ${total:,.0f} in all: "
            "enter a budget for each year."
        )


def _windows(case: PlanCase):
    closed = [area for area in case.areas if not case.open_years(area)]
    if closed and len(closed) == len(case.areas):
        yield (
            "Every work area is closed in every program year (moratoria, paving windows, consent "
            "dates and locked years taken together): open at least one year for each area."
        )
        return
    for area in closed:
        yield _why_closed(case, area)
    largest = {
        year.year: max((sum(crew) for crew in year.crew_jobs), default=0) for year in case.years
    }
    for area in case.areas:
        reach = max((largest[year] for year in case.open_years(area)), default=None)
        # A case with no capacity at all has its own sentence above.
        if reach is not None and area.jobs > reach and any(largest.values()):
            yield (
                f"Work area {area.id} has {area.jobs} jobs, but in the program years open to it "
                f"no crew can do more than {reach}: split the area, or open another year."
            )


def _why_closed(case: PlanCase, area) -> str:
    years = f"{case.years[0].year}-{case.years[-1].year}"
    if area.locked_year is not None:
        return (
            f"Work area {area.id} is locked to program year {area.locked_year}, which is not open "
            f"to it (years planned: {years}; moratoria and consent dates apply): unlock it, or "
            "choose an open year."
        )
    if area.earliest_year is not None and area.earliest_year > case.years[-1].year:
        return (
            f"Work area {area.id} can't start before program year {area.earliest_year} for want "
            f"of consent, after the last year planned ({case.years[-1].year}): bring the consents "
            "forward."
        )
    return (
        f"Work area {area.id} is closed in every program year ({years}) by moratoria, paving "
        "windows or its consent date: open at least one."
    )


def _quotas(case: PlanCase):
    planned = {year.year for year in case.years}
    for quota in case.quotas:
        members = [area for area in case.areas if quota.holds(area)]
        if not 0 <= quota.least_share <= 1:
            yield (
                f"The quota of {quota.group} is {quota.least_share:g}: give a share between 0 and 1"
                "."
            )
        if not members:
            yield (
                f"The quota of {quota.group} can't be kept, since no work area belongs to it: "
                "remove the quota or assign areas."
            )
        if strange := set(quota.years) - planned:
            yield f"The quota of {quota.group} names program year {min(strange)}, not planned here."
        share = sum(area.jobs for area in members) / sum(area.jobs for area in case.areas)
        if planned <= set(quota.years) and members and share < quota.least_share:
            yield (
                f"{quota.group} holds {share:.1%} of all jobs, but its quota asks for "
                f"{quota.least_share:.1%} of the jobs of every program year, and every area has to "
                f"be done in the end: lower the quota to {share:.1%} or less, or limit it to the "
                "early years."
            )
    held = [area.id for quota in case.quotas for area in case.areas if quota.holds(area)]
    if len(held) > len(set(held)):
        # Groups that share areas may promise more than all of a year between them.
        return
    for year in sorted(planned):
        total = sum(quota.least_share for quota in case.quotas if year in quota.years)
        if total > 1 + 1e-9:
            yield (
                f"The quotas of program year {year} add up to {total:.0%}: lower them to 100% or "
                "less."
            )
