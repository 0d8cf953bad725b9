"""Invented planning cases: a town of the size asked for, the same for the same seed."""

import random
from fractions import Fraction

from program.planning.solver import PlanArea, PlanCase, PlanSettings, PlanYear, Quota

TEN_PERCENT = Fraction(1, 10)


def settings(**changes):
    values = {"required_rate": TEN_PERCENT, "first_assessed_year": 3} | changes
    return PlanSettings(**values)


def small_case(areas=6, years=3, crews=2, seed=1, rate=Fraction(1, 10), **changes):
    """A case small enough to try every plan."""
    draw = random.Random(seed)
    made = tuple(
        PlanArea(
            f"A{k}",
            draw.randint(15, 40),
            float(draw.randint(80, 400)) * 1000,
            float(draw.randint(1, 30)),
            f"H{k % 2}",
        )
        for k in range(areas)
    )
    total = sum(area.jobs for area in made)
    share = max(int(total / years / crews * 1.35), max(area.jobs for area in made) + 2)
    budget = sum(area.cost for area in made) / years * 1.5
    planned = tuple(
        PlanYear(y, total * 2, budget, ((share,),) * crews) for y in range(1, years + 1)
    )
    return PlanCase(
        made, planned, settings(required_rate=rate, **({"gap": 0.0, "node_limit": 5000} | changes))
    )


def town(areas=300, hoods=20, seed=1, years=10, crews=6):
    """A town whose crews can do eight jobs in a hundred more than there are."""
    draw = random.Random(seed)
    made = []
    for k in range(areas):
        jobs, hood = draw.randint(15, 60), k * hoods // areas
        made.append(
            PlanArea(
                f"A{k:04d}",
                jobs,
                jobs * draw.uniform(4000, 11000),
                jobs * draw.uniform(0.1, 1) * (0.5 + (hood * 7 % hoods) / hoods),
                f"H{hood}",
                quota_group="NORTH" if hood < hoods // 2 else "SOUTH",
                allowed_years=(
                    frozenset(range(1, years + 1)) - {draw.randint(1, years)}
                    if draw.random() < 0.2
                    else None
                ),
                earliest_year=draw.choice([None, None, None, 2, 3]),
                seasons=frozenset({"SUMMER"}) if draw.random() < 0.1 else None,
            )
        )
    total = sum(area.jobs for area in made)
    share = total / years * 1.08 / crews
    budget = sum(area.cost for area in made) / years * 1.12
    crew = (int(share * 0.3), int(share * 0.7) + 1)
    planned = tuple(
        PlanYear(y, total - draw.randint(0, 50), budget, (crew,) * crews)
        for y in range(1, years + 1)
    )
    return PlanCase(
        tuple(made),
        planned,
        settings(required_rate=Fraction(97, 1000)),
        ("WINTER", "SUMMER"),
        (Quota("NORTH", 0.4, (1, 2, 3, 4)),),
    )
