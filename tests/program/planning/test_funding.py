"""Which source pays: by hand, and against the largest flow of another algorithm (scipy's)."""

import random

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from program.planning.funding import ANYWHERE, Source, paid_by


def test_grants_go_first_and_money_bound_to_a_place_stays_there():
    sources = [
        Source("Rates", "RATES", 100), Source("Loan", "LOAN", 50),
        Source("Grant", "GRANT", 80, ("Gasworks",)),
    ]  # fmt: skip
    paid, short = paid_by({"Gasworks": 60, "Northgate": 70, ANYWHERE: 10}, sources)
    told = {one.source.name: (one.spent, one.left) for one in paid}
    assert told == {"Grant": (60, 20), "Loan": (50, 0), "Rates": (30, 70)}
    assert [one.source.kind for one in paid] == ["GRANT", "LOAN", "RATES"]
    assert short == 0


def test_what_none_may_pay_is_told():
    paid, short = paid_by({"Gasworks": 60, ANYWHERE: 5}, [Source("G", "GRANT", 90, ("Northgate",))])
    assert (paid[0].spent, paid[0].left, short) == (0, 90, 65)
    assert paid_by({"Gasworks": 7}, []) == ([], 7)
    assert paid_by({}, [Source("G", "GRANT", 9)])[0][0].spent == 0


@pytest.mark.parametrize("seed", range(12))
def test_as_much_is_paid_as_the_largest_flow(seed):
    draw = random.Random(seed)
    costs = {place: draw.randint(0, 60) for place in ("A", "B", "C", ANYWHERE)}
    sources = [
        Source(f"S{k}", draw.choice(["GRANT", "LOAN", "RATES"]), draw.randint(0, 70),
               tuple(draw.sample(["A", "B", "C"], draw.randint(0, 2))))
        for k in range(draw.randint(1, 5))
    ]  # fmt: skip
    # From the first node by sources and places to the last.
    size = len(sources) + len(costs) + 2
    flows = np.zeros((size, size), dtype=int)
    for k, source in enumerate(sources, start=1):
        flows[0, k] = source.dollars
        for p, place in enumerate(costs, start=len(sources) + 1):
            if not source.places or place in source.places:
                flows[k, p] = 10_000
            flows[p, size - 1] = costs[place]
    most = maximum_flow(csr_array(flows), 0, size - 1).flow_value
    paid, short = paid_by(costs, sources)
    assert sum(one.spent for one in paid) == pytest.approx(most)
    assert short == pytest.approx(sum(costs.values()) - most)
    assert all(-0.01 <= one.spent <= one.source.dollars + 0.01 for one in paid)
    # No more could come from grants: alone they pay as much.
    grants = [one.source for one in paid if one.source.kind == "GRANT"]
    alone, _ = paid_by(costs, grants)
    spent = sum(one.spent for one in paid if one.source.kind == "GRANT")
    assert spent == pytest.approx(sum(one.spent for one in alone))
