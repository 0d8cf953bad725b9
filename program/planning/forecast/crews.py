"""How many crews it takes to hold every assessment and finish in time with a given probability."""

from __future__ import annotations

from dataclasses import dataclass, replace

from program.planning.forecast.case import ForecastCase
from program.planning.forecast.odds import cut_off
from program.planning.forecast.playing import drawn, played


@dataclass(frozen=True)
class CrewsNeeded:
    """Fewest crews in every year that reach the probability; None where no number does."""

    crews: int | None
    probability: float
    tried: dict[int, float]
    sentence: str


def crews_needed(case: ForecastCase, probability: float = 0.9, most: int = 60) -> CrewsNeeded:
    """Fewest crews for compliance at every assessment and a finish in time, with one set of draws.

    Crews with time left may start later work, since that is what further crews are for.

    Raises
    ------
    BadForecast : the case can't be played through.
    """
    luck, tried = drawn(case), {}

    def odds(crews: int) -> float:
        if crews not in tried:
            trial = replace(case, crews=(float(crews),) * len(case.years), work_ahead=True)
            tried[crews] = _success(trial, luck)
        return tried[crews]

    if odds(most) < probability:
        return CrewsNeeded(None, odds(most), tried, _no_number(case, most, odds(most), probability))
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if odds(middle) >= probability else (middle, high)
    less = f"{high - 1} {'reaches' if high == 2 else 'reach'}"
    fewer = f"; {less} {cut_off(odds(high - 1))}" if high > 1 else ""
    word = "crew in every year reaches" if high == 1 else "crews in every year reach"
    sentence = (
        f"{high} {word} {cut_off(odds(high))}{fewer}, where crews with time left start later work."
    )
    return CrewsNeeded(high, odds(high), tried, sentence)


def _success(case: ForecastCase, luck) -> float:
    found = played(case, luck)
    meets = found.meets(case)[:, case.assessed].all(axis=1)
    return float((meets & found.complete[:, case.due]).mean())


def _no_number(case: ForecastCase, most: int, best: float, wanted: float) -> str:
    money = "the budget is spent, " if any(budget is not None for budget in case.budgets) else ""
    return (
        f"No number of crews up to {most} reaches {cut_off(wanted)}: at best {cut_off(best)}. What "
        f"holds the program back is not crews: too many owners refuse, {money}unknown lines are "
        "left for too late, or too little lead is left for the pool."
    )
