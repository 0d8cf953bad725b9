"""Draw the plan: years first, then crews inside each year.

One model for both doesn't close its gap, since crews that are alike may be renumbered without end.
The year stage counts the fewest openings any crew assignment can have, so its bound is a bound of
the whole plan; the gap reported compares the finished plan with it.
"""

from __future__ import annotations

from fractions import Fraction

from program.planning.solver.case import CannotPlan, Placement, Plan, PlanCase, YearRow
from program.planning.solver.checks import problems
from program.planning.solver.crews import CrewWork, crews_of_year, too_much_together
from program.planning.solver.model import Solution
from program.planning.solver.refine import years_solved
from program.planning.solver.relaxation import relaxations
from program.planning.solver.years import Cuts, mean_priority, year_model

# The year stage may use this part of the allowed gap; the rest is left to the crew stage.
_YEAR_STAGE_PART = 0.75
# Where whole areas didn't fit the crews of a year, a few areas allow an exact lesson each time; of
# many a single set teaches little, and the year's capacity is lowered by the overrun instead.
_FEW_AREAS, _LESSONS, _ROUNDS = 40, 30, 4


def draw(case: PlanCase, *, explain: bool = True) -> Plan:
    """The plan of least waiting and least moving about that keeps every rule of the case.

    Parameters
    ----------
    explain : work out what clashes where no plan keeps every rule.

    Returns
    -------
    Plan : with `relaxations` and no placements where the rules clash.

    Raises
    ------
    CannotPlan : the case is faulty (no crews, a budget of nothing, an area closed in every year,
        a quota that cannot be kept); the sentences say what to change.
    """
    if faults := problems(case):
        raise CannotPlan(faults)
    cuts, bound, work, drawn = Cuts(), None, 0, None
    rounds = _LESSONS if len(case.areas) <= _FEW_AREAS else _ROUNDS
    for last in (*(False,) * (rounds - 1), True):
        outcome, year_of = _years(case, cuts)
        work += outcome.nodes
        if not outcome.values and drawn is None and cuts.whole_areas:
            # The areas may be too large for the crews though their jobs are not too many.
            cuts = Cuts(whole_areas=False)
            outcome, year_of = _years(case, cuts)
        if not outcome.values:
            break
        if not cuts.capacity:
            bound = outcome.bound if bound is None else max(bound, outcome.bound)
        crews = _crews(case, outcome, year_of)
        drawn = year_of, crews, outcome
        if last or not cuts.whole_areas or not _learned(case, cuts, year_of, crews):
            break
    if drawn is None:
        return _no_plan(case, outcome, work, explain)
    return _plan(case, *drawn, bound, work)


def _no_plan(case: PlanCase, outcome: Solution, work: int, explain: bool) -> Plan:
    if outcome.status == "INFEASIBLE":
        found = relaxations(case) if explain else ()
        return Plan("INFEASIBLE", work=work, relaxations=found)
    return Plan("NONE", work=work, notes=(_nothing_found(case),))


def _learned(case: PlanCase, cuts: Cuts, year_of, crews) -> bool:
    """Whether whole areas failed to fit the crews of a year, and what follows for the years."""
    over = {year.year: year for year in case.years if crews[year.year].overrun}
    for number, year in over.items():
        areas = [area for area in case.areas if year_of[area.id] == number]
        if not crews[number].proven or len(case.areas) > _FEW_AREAS:
            cuts.capacity[number] = cuts.capacity.get(number, 0) + crews[number].overrun
            continue
        alike = frozenset(y.year for y in case.years if y.crew_jobs == year.crew_jobs)
        cuts.together.append((alike, too_much_together(case, year, areas)))
    return bool(over)


def _years(case: PlanCase, cuts: Cuts) -> tuple[Solution, dict[str, int]]:
    built = year_model(case, cuts=cuts)
    outcome = years_solved(built, case.settings.gap * _YEAR_STAGE_PART)
    if not outcome.values:
        return outcome, {}
    return outcome, {key[0]: key[1] for key, col in built.x.items() if outcome.values[col] > 0.5}


def _crews(case: PlanCase, outcome: Solution, year_of) -> dict[int, CrewWork]:
    settings = case.settings
    price = settings.move_weight * mean_priority(case)
    spare = settings.gap * outcome.objective - (outcome.objective - outcome.bound)
    # An opening is a whole number: a gap under one proves the best.
    openings = max(0.99, spare / price / len(case.years)) if price > 0 else 0.99
    return {
        year.year: crews_of_year(
            case,
            year,
            [area for area in case.areas if year_of[area.id] == year.year],
            absolute_gap=openings,
        )
        for year in case.years
    }


def _plan(case, year_of, crews, outcome, bound, work) -> Plan:
    settings = case.settings
    objective = plan_cost(case, year_of, sum(done.openings for done in crews.values()))
    gap = max(0.0, (objective - bound) / objective) if objective else 0.0
    published = [area for area in case.areas if area.published_year is not None]
    return Plan(
        status="OPTIMAL" if gap <= settings.gap + 1e-9 else "FEASIBLE",
        placements=tuple(
            Placement(area.id, year_of[area.id], crews[year_of[area.id]].crew_of[area.id])
            for area in case.areas
        ),
        years=year_rows(case, year_of),
        objective=objective,
        bound=bound,
        gap=gap,
        openings=sum(done.openings for done in crews.values()),
        overrun=sum(done.overrun for done in crews.values()),
        kept=sum(year_of[area.id] == area.published_year for area in published),
        published=len(published),
        work=work + sum(done.nodes for done in crews.values()),
        notes=_notes(case, crews, outcome, gap),
    )


def plan_cost(case: PlanCase, year_of: dict[str, int], openings: int) -> float:
    """Priority-years of waiting, of openings and of published areas moved, of one plan."""
    first, unit = case.years[0].year, mean_priority(case)
    waiting = sum(area.priority * (year_of[area.id] - first + 0.5) for area in case.areas)
    moved = sum(area.published_year not in (None, year_of[area.id]) for area in case.areas)
    settings = case.settings
    return waiting + unit * (settings.move_weight * openings + settings.keep_weight * moved)


def year_rows(case: PlanCase, year_of: dict[str, int]) -> tuple[YearRow, ...]:
    """The plan year by year, its rates as exact fractions: the mean of the annual rates so far."""
    rows, rates = [], list(case.past_rates)
    for year in case.years:
        areas = [area for area in case.areas if year_of.get(area.id) == year.year]
        replaced = year.already_replaced + sum(
            (Fraction(area.counted) for area in areas), Fraction(0)
        )
        rates.append(replaced / year.pool)
        mean = sum(rates, Fraction(0)) / len(rates)
        assessed = year.year >= case.settings.first_assessed_year
        rows.append(
            YearRow(
                year.year,
                len(areas),
                sum(area.jobs for area in areas),
                year.capacity,
                float(sum(area.cost for area in areas)),
                year.budget,
                float(replaced),
                year.pool,
                rates[-1],
                mean,
                assessed,
                mean >= case.settings.required_rate if assessed else None,
            )
        )
    return tuple(rows)


def _notes(case, crews, outcome, gap) -> tuple[str, ...]:
    notes = [
        f"Program year {year}: whole areas don't fit the crews; the fullest crews run over by "
        f"{work.overrun} jobs in all."
        for year, work in crews.items()
        if work.overrun
    ]
    if outcome.stopped_by_clock:
        notes.append(
            "The clock stopped the solver before its work limit did: another run may give another "
            "plan. Raise the limit of seconds, or the gap, for a plan that repeats exactly."
        )
    elif gap > case.settings.gap + 1e-9:
        notes.append(
            f"The work limit came before the wanted gap: the plan is within {gap:.2%} of the best "
            f"possible, not {case.settings.gap:.2%}."
        )
    return tuple(notes)


def _nothing_found(case: PlanCase) -> str:
    return (
        f"No plan was found within {case.settings.node_limit} steps of search and "
        f"{case.settings.seconds_limit:g} seconds, and none was proven impossible. Raise either "
        "limit, or loosen the tightest year."
    )
