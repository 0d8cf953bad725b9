"""Why no plan exists, and by how much each kind of rule falls short.

Each kind of rule is made elastic by itself and the smallest total change is solved for. A kind that
suffices alone takes part in every clash; when none does, all kinds may give together, each priced
by its share of the whole program, the rule's own limits (rate, deadline) ten times dearer.
"""

from __future__ import annotations

from program.planning.solver.case import PlanCase, Relaxation
from program.planning.solver.years import KINDS, year_model

_NAMES = {
    "CREWS": "crews",
    "BUDGET": "budget",
    "RATE": "replacement rate",
    "QUOTA": "area quotas",
    "WINDOWS": "moratoria and consent dates",
    "LOCKS": "locked years",
    "DEADLINE": "deadline",
}
_LEGAL = ("RATE", "DEADLINE")
# A change is the smallest to within two in a hundred, or half a job.
_GAP, _HALF_JOB = 0.02, 0.5
_SPREAD, _PEAK_PRICE = ("CREWS", "BUDGET"), 0.2


def relaxations(case: PlanCase) -> tuple[Relaxation, ...]:
    """Every kind of rule that suffices alone; failing that, the combination of least weight."""
    kinds = [kind for kind in KINDS if _present(case, kind)]
    alone = [found for kind in kinds if (found := _alone(case, kind))]
    return tuple(alone) or _together(case, kinds)


def clash(found: tuple[Relaxation, ...]) -> str:
    """One sentence that names the kinds of rule that stand against each other."""
    names = [_NAMES[relaxation.kind] for relaxation in found]
    if not names:
        return "No plan keeps all rules, and none keeps all but one kind of them."
    if len(names) == 1:
        return (
            f"No plan keeps all rules: the limits on {names[0]} can't be kept together with the "
            "others."
        )
    together = "" if found[0].alone else ", and no single one of them is what stands in the way"
    return f"No plan keeps all rules: {_listed(names)} clash{together}."


def _present(case: PlanCase, kind: str) -> bool:
    if kind == "QUOTA":
        return bool(case.quotas)
    if kind == "LOCKS":
        return any(area.locked_year is not None for area in case.areas)
    if kind == "WINDOWS":
        return any(
            area.locked_year is None and len(case.open_years(area)) < len(case.years)
            for area in case.areas
        )
    return True


def _alone(case: PlanCase, kind: str) -> Relaxation | None:
    amounts = _solve(case, (kind,), {kind: 1.0})
    return _told(case, kind, amounts[kind], alone=True) if amounts and amounts[kind] else None


def _together(case: PlanCase, kinds) -> tuple[Relaxation, ...]:
    jobs = sum(area.jobs for area in case.areas)
    cost = sum(area.cost for area in case.areas) / 1000 or 1.0
    weight = {kind: (10.0 if kind in _LEGAL else 1.0) * 1000 / jobs for kind in kinds}
    weight["BUDGET"] = 1000 / cost
    amounts = _solve(case, tuple(kinds), weight)
    if not amounts:
        return ()
    return tuple(_told(case, kind, amounts[kind], alone=False) for kind in kinds if amounts[kind])


def _solve(case: PlanCase, kinds, weight) -> dict[str, dict[object, float]] | None:
    built = year_model(case, give=kinds)
    for (kind, _), column in built.slack.items():
        built.model.costs[column] *= weight[kind]
    for kind in _SPREAD:
        _peak(built, kind, weight.get(kind, 0.0))
    settings = case.settings
    outcome = built.model.solve(
        gap=_GAP,
        absolute_gap=_HALF_JOB * min(weight.values()),
        node_limit=settings.node_limit,
        seconds_limit=settings.seconds_limit,
        seed=settings.seed,
    )
    if not outcome.values:
        return None
    amounts: dict[str, dict[object, float]] = {kind: {} for kind in kinds}
    for (kind, label), column in built.slack.items():
        if outcome.values[column] > 1e-6:
            amounts[kind][label] = outcome.values[column]
    return amounts


def _peak(built, kind: str, weight: float) -> None:
    """Price the largest yearly change a little, so that the change is spread over the years."""
    columns = [column for (name, _), column in built.slack.items() if name == kind]
    if len(columns) < 2:
        return
    peak = built.model.column(_PEAK_PRICE * weight, 0)
    for column in columns:
        built.model.row([(column, 1), (peak, -1)], upper=0)


def _told(case: PlanCase, kind: str, amounts: dict, *, alone: bool) -> Relaxation:
    pairs, sentence = _TELL[kind](case, amounts)
    return Relaxation(kind, alone, tuple(pairs), sentence)


def _crews(case: PlanCase, amounts):
    years = {year.year: year for year in case.years}
    pairs, parts = [], []
    for (number, seasons), slack in sorted(amounts.items()):
        more = int(slack + 0.999)
        where = f"program year {number}" + (f" ({seasons})" if seasons else "")
        pairs.append((where, more))
        now = "" if seasons else f" (they can do {years[number].capacity})"
        parts.append(f"{where} by {more} {'job' if more == 1 else 'jobs'}{now}")
    return pairs, f"Crews: short in {_listed(parts)}."


def _budget(case: PlanCase, amounts):
    budgets = {
        year.year: f"${year.budget:,.0f}"
        + (f", ${year.budget - year.free:,.0f} bound to places" if year.bound else "")
        for year in case.years
    }
    pairs = [(f"program year {year}", slack * 1000) for year, slack in sorted(amounts.items())]
    parts = [
        f"program year {year} by ${slack * 1000:,.0f} (of {budgets[year]})"
        for year, slack in sorted(amounts.items())
    ]
    return pairs, f"Budget: short in {_listed(parts)}."


def _rate(case: PlanCase, amounts):
    scale = max(year.pool for year in case.years)
    required = float(case.settings.required_rate)
    reached = {year: required - slack / scale / year for year, slack in sorted(amounts.items())}
    parts = [f"{rate:.3%} at the end of program year {year}" for year, rate in reached.items()]
    return (
        [(f"program year {year}", required - rate) for year, rate in reached.items()],
        f"Replacement rate: the cumulative average can reach no more than {_listed(parts)}, where "
        f"{required:.3%} is required. Only the primacy agency can allow less: a plan that needs "
        "this is a plan that fails the rule.",
    )


def _quota(case: PlanCase, amounts):
    parts = [
        f"{group} in program year {year} by {slack:.0f} jobs"
        for (group, year), slack in sorted(amounts.items())
    ]
    pairs = [(f"{group}, program year {year}", v) for (group, year), v in sorted(amounts.items())]
    return pairs, f"Area quotas: the shares can't all be reached: {_listed(parts)}."


def _windows(case: PlanCase, amounts):
    opened = sorted(amounts)
    parts = [f"program year {year} to work area {area}" for area, year in opened]
    pairs = [(f"{area}, program year {year}", 1.0) for area, year in opened]
    return pairs, f"Moratoria and consent dates: they close {_listed(parts)}."


def _locks(case: PlanCase, amounts):
    parts = [f"{area} (to program year {year})" for area, year in sorted(amounts)]
    pairs = [(f"{area}, program year {year}", 1.0) for area, year in sorted(amounts)]
    return pairs, f"Locked years: these work areas stand in the way: {_listed(parts)}."


def _deadline(case: PlanCase, amounts):
    jobs = {area.id: area.jobs for area in case.areas}
    left = sorted(amounts)
    total = sum(jobs[area] for area in left)
    areas = "1 work area" if len(left) == 1 else f"{len(left)} work areas"
    return (
        [(area, float(jobs[area])) for area in left],
        f"Deadline: {areas} with {total} jobs would stay undone after program year "
        f"{case.years[-1].year} ({_listed(left)}). Only a deferred deadline can allow this.",
    )


def _listed(parts: list[str], shown: int = 12) -> str:
    if len(parts) > shown:
        parts = [*parts[:shown], f"{len(parts) - shown} more"]
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


_TELL = {
    "CREWS": _crews,
    "BUDGET": _budget,
    "RATE": _rate,
    "QUOTA": _quota,
    "WINDOWS": _windows,
    "LOCKS": _locks,
    "DEADLINE": _deadline,
}
