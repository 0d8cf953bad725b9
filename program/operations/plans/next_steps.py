"""The next steps of a plan, each with what it adds to the odds: the manager's list for Monday."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from django.db import transaction

from program.models import Plan
from program.operations.plans.advice import drawn_from, is_whole
from program.operations.plans.case import Draft, Record
from program.operations.plans.horizon import days_with_consent
from program.operations.plans.odds import forecast_case
from program.planning.forecast import BadForecast, ForecastCase, cut_off
from program.planning.forecast.steps import effects, success
from program.planning.solver import CannotPlan
from program.planning.solver import Plan as Drawn
from program.queries.planning.asked import PlanAsked, PlanError
from services_inventory.domain.reporting import Report

_EACH = 8  # steps of one kind that are tried
_MANY_AREAS = 1_500


@dataclass(frozen=True)
class NextStep:
    """One step: what it is, how much of it, and the case that it makes of the plan's.

    `unit` is what a dollar figure is entered for: inspection, owner, crew-year or closure.
    """

    kind: str
    sentence: str
    unit: str
    number: int
    case: ForecastCase
    place: str = ""
    area: str = ""
    settings: dict | None = None

    def kept(self) -> dict:
        """The step as the plan's row keeps it."""
        names = ("kind", "sentence", "unit", "number", "place", "area", "settings")
        return {name: getattr(self, name) for name in names}


def next_steps(*, plan: Plan, as_of: date, report: Report | None = None) -> dict:
    """Try the next steps of a plan on today's record, and keep with it what each adds.

    Areas and years of an adopted plan are kept as far as they can be.

    Raises
    ------
    PlanError: no plan can be drawn from today's record, or no odds be given.
    """
    report = report or (lambda done, total: None)
    kept = {"based_on": plan.pk, "keep_published": True}
    asked = PlanAsked.again(plan.settings | (kept if plan.state == Plan.State.ADOPTED else {}))
    try:
        draft, drawn = drawn_from(as_of, asked, Record.read(asked.seed, as_of), explain=False)
    except CannotPlan as error:
        raise PlanError(" ".join(error.sentences)) from error
    if not is_whole(drawn) or not draft.verdict:
        raise PlanError(
            f"{plan.name} can't be drawn from today's record so that it holds: draw it again and "
            "see what would help."
        )
    found = _tried(as_of, draft, drawn, report)
    with transaction.atomic():
        plan = Plan.objects.select_for_update().get(pk=plan.pk)
        plan.result["next_steps"] = found
        plan.save(update_fields=["result"])
    return found


def _tried(as_of: date, draft: Draft, drawn: Drawn, report: Report) -> dict:
    case = forecast_case(draft, drawn)
    try:
        without = success(case)
    except BadForecast as error:
        raise PlanError(str(error)) from error
    steps = [*_inspections(draft, case), *_consents(as_of, draft, drawn, case)]
    redrawn, skipped = list(_settings(draft)), []
    if len(draft.case.areas) > _MANY_AREAS:
        redrawn = []
        skipped.append("Crews and closures were not tried: a plan of so many areas takes long.")
    total = len(redrawn) + 1
    for number, (kind, sentence, unit, count, settings) in enumerate(redrawn):
        report(number, total)
        changed = PlanAsked.of({**draft.asked.kept(), **settings})
        try:
            other, plan = drawn_from(as_of, changed, draft.record, explain=False)
        except (CannotPlan, PlanError):
            continue
        if is_whole(plan):
            made = forecast_case(other, plan)
            steps.append(NextStep(kind, sentence, unit, count, made, settings=settings))
    report(total - 1, total)
    found = effects(without, [success(step.case) for step in steps])
    return {
        "on": as_of.isoformat(),
        "runs": case.runs,
        "without": cut_off(float(without.mean())),
        "steps": [step.kept() for step in steps],
        "points": found.points,
        "covariance": found.covariance,
        "skipped": skipped,
    }


def _inspections(draft: Draft, case: ForecastCase) -> Iterator[NextStep]:
    """Look at a neighborhood's unknown lines in the running year instead of later."""
    first = case.years[0]
    later: Counter[str] = Counter()
    for group in case.groups:
        if group.year != first:
            later[group.neighborhood] += group.unknown
    for hood, number in later.most_common(_EACH):
        if number:
            yield NextStep(
                "Inspect",
                f"Look this year at all unknown lines of {hood}: {number:,} wait for a later year.",
                "inspection",
                number,
                replace(case, groups=tuple(_sooner(case, hood, number))),
                place=hood,
            )


def _sooner(case: ForecastCase, hood: str, number: int):
    """The groups with a neighborhood's unknown lines all in the first year."""
    there = False
    for group in case.groups:
        if group.neighborhood != hood:
            yield group
        elif group.year == case.years[0]:
            there = True
            yield replace(group, unknown=group.unknown + number)
        else:
            like = group
            yield replace(group, unknown=0)
    if not there:
        yield replace(like, year=case.years[0], known=0, unknown=number)


def _consents(as_of: date, draft: Draft, drawn: Drawn, case: ForecastCase) -> Iterator[NextStep]:
    """Ask the owners of an area now, so that crews who wait for answers have work sooner."""
    first, asked = draft.horizon.years[0], draft.asked
    refuse, agree = case.uncertainty.refusal_prior
    year_of = drawn.year_of()
    said = draft.record.said
    waiting = []
    for area in draft.grouping.areas:
        if year_of[area.id] == first.year and area.id not in draft.ready:
            lines = draft.members(area)
            owners = sum(line.category != "UNKNOWN" and line.pk not in said for line in lines)
            waiting.append((owners, area))
    waiting.sort(key=lambda row: (-row[0], row[1].id))
    answered = sum(len(area.line_ids) for area in draft.grouping.areas if area.id in draft.ready)
    full = max(1, draft.horizon.full_year_days)
    for owners, area in waiting[:_EACH]:
        more = answered + owners * agree / (refuse + agree)
        days = days_with_consent(asked, first.year, as_of, first.first_day, first.last_day, more)
        parts = (max(case.parts[0], sum(days) / full), *case.parts[1:])
        if owners:
            yield NextStep(
                "Ask for consent",
                f"Ask all owners of {area.name} this week: {owners:,} have not answered.",
                "owner",
                owners,
                replace(case, year_parts=parts),
                place=area.neighborhood,
                area=area.id,
            )


def _settings(draft: Draft) -> Iterator[tuple[str, str, str, int, dict]]:
    """Steps that are a change of the settings: kind, sentence, unit, number, what changes."""
    asked, years = draft.asked, [year.year for year in draft.horizon.years]
    more = {str(year): draft.crews[year] + 1 for year in years[:1]}
    told = f"One more crew in program year {years[0]}."
    yield "Hire", told, "crew-year", 1, {"crews_by_year": {**asked.crews_by_year, **more}}
    if len(years) > 1:
        table = {str(year): draft.crews[year] + 1 for year in years}
        told = f"One more crew in every program year, {years[0]} to {years[-1]}."
        yield "Hire", told, "crew-year", len(years), {"crews_by_year": table}
    for place in list(asked.closed_years)[:_EACH]:
        rest = {name: shut for name, shut in asked.closed_years.items() if name != place}
        shut = ", ".join(map(str, asked.closed_years[place]))
        told = f"Have the closure of {place} in program year {shut} lifted or put off."
        yield "Pave later", told, "closure", 1, {"closed_years": rest}
    for k, row in enumerate(asked.windows[:_EACH]):
        left = [one for number, one in enumerate(asked.windows) if number != k]
        told = f"Have the closure or window of {row['place']} lifted or put off."
        yield "Pave later", told, "closure", 1, {"windows": left}
