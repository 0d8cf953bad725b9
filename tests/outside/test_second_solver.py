"""The year stage against a second solver, SCIP, which reads the model as a file.

Source: PySCIPOpt (Maher, Miltenberger, Pedroso, Rehfeldt, Schwarz, Serrano 2016), which carries
SCIP. The file is written by HiGHS from the very model that the plan is drawn from.
"""

import highspy
import pytest
from pyscipopt import Model

from program.planning.solver import draw
from program.planning.solver.model import _silent_solver
from program.planning.solver.refine import years_solved
from program.planning.solver.years import year_model
from tests.examples import SHARE
from tests.program.planning.cases import small_case


def best_by_scip(case, folder):
    """Write the year model, have SCIP solve it to the end, return its cost; None if impossible."""
    solver = _silent_solver(highspy)
    solver.passModel(year_model(case).model._for_highs(highspy, {}, False))
    name = str(folder / "years.mps")
    solver.writeModel(name)
    other = Model()
    other.hideOutput()
    other.readProblem(name)
    other.setParam("limits/time", 60)
    other.optimize()
    if other.getStatus() == "infeasible":
        return None
    assert other.getStatus() == "optimal"
    return other.getObjVal()


@pytest.mark.parametrize("seed", range(0 if SHARE == 1 else 1, 10, 1 if SHARE == 1 else 2))
def test_both_solvers_find_the_same_cost(seed, tmp_path):
    case = small_case(areas=13, years=3, crews=3, seed=100 + seed, gap=0.0)
    best = best_by_scip(case, tmp_path)
    ours = years_solved(year_model(case), gap=0.0)
    assert ours.objective == pytest.approx(best, rel=1e-6)
    assert ours.bound == pytest.approx(best, rel=1e-6)
    # What the crews' stage teaches the years' only makes a plan dearer.
    assert draw(case).objective >= best - 1e-6 * best


def test_both_find_that_there_is_no_plan(tmp_path):
    case = small_case(areas=13, years=3, crews=3, seed=7, rate=1)
    assert best_by_scip(case, tmp_path) is None
    assert draw(case, explain=False).status == "INFEASIBLE"
