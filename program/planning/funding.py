"""Which source pays for a program year's work: grants first, then loans, then rates.

A source bound to neighborhoods pays for work there only. As much is paid as can be; among the ways
to do so grants go first, then loans, then rates, and within a kind those bound to places.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

KINDS = {"GRANT": "grant", "LOAN": "loan", "RATES": "rates"}
ANYWHERE = ""


@dataclass(frozen=True)
class Source:
    """Money of one source in one program year; no places means that it may go anywhere."""

    name: str
    kind: str
    dollars: float
    places: tuple[str, ...] = ()
    condition: str = ""


@dataclass(frozen=True)
class Paid:
    """What of a source is spent, and what is left that nothing in its places asks for."""

    source: Source
    spent: float

    @property
    def left(self) -> float:
        """Dollars not spent."""
        return self.source.dollars - self.spent


def paid_by(costs: Mapping[str, float], sources: Iterable[Source]) -> tuple[list[Paid], float]:
    """Return what each source pays, and the dollars that none may pay, which are as few as can be.

    Parameters
    ----------
    costs : dollars by neighborhood; what is in none (inspections) stands under ANYWHERE
    """
    import numpy as np
    from scipy.optimize import linprog

    every, places = list(sources), sorted(costs)
    ways = [
        (s, p)
        for s, source in enumerate(every)
        for p, place in enumerate(places)
        if not source.places or place in source.places
    ]
    # What is not paid is dearest, then the later kinds, then money that may go anywhere.
    order = list(KINDS)
    dear = [order.index(every[s].kind) + 1 + (not every[s].places) / 2 for s, _ in ways]
    limits = np.zeros((len(every) + len(places), len(ways)))
    for column, (s, p) in enumerate(ways):
        limits[s, column] = limits[len(every) + p, column] = 1
    most = [source.dollars for source in every] + [costs[place] for place in places]
    spent = np.zeros(len(every))
    if ways:
        found = linprog(np.array(dear) - 10, limits, most, method="highs")
        np.add.at(spent, [s for s, _ in ways], np.asarray(found.x))
    paid = [Paid(source, round(float(spent[s]), 2)) for s, source in enumerate(every)]
    paid.sort(key=lambda one: (order.index(one.source.kind), one.source.name))
    return paid, max(0.0, round(sum(costs.values()) - float(spent.sum()), 2))
