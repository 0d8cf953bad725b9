"""A mixed-integer model kept as plain lists and handed to HiGHS in one call."""

from __future__ import annotations

from dataclasses import dataclass, field

INFINITY = float("inf")


@dataclass(frozen=True)
class Solution:
    """What HiGHS found: OPTIMAL, FEASIBLE, INFEASIBLE or NONE (limit reached, nothing found)."""

    status: str
    values: tuple[float, ...] = ()
    objective: float = 0.0
    bound: float = 0.0
    nodes: int = 0
    stopped_by_clock: bool = False


@dataclass
class LinearModel:
    """Columns with cost and bounds, rows with bounds; minimized."""

    costs: list[float] = field(default_factory=list)
    lowers: list[float] = field(default_factory=list)
    uppers: list[float] = field(default_factory=list)
    integers: list[bool] = field(default_factory=list)
    row_lowers: list[float] = field(default_factory=list)
    row_uppers: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    columns: list[int] = field(default_factory=list)
    factors: list[float] = field(default_factory=list)

    def column(self, cost=0.0, lower=0.0, upper=INFINITY, integer=False) -> int:
        """Add one column and return its number."""
        self.costs.append(float(cost))
        self.lowers.append(float(lower))
        self.uppers.append(float(upper))
        self.integers.append(integer)
        return len(self.costs) - 1

    def row(self, terms, lower=-INFINITY, upper=INFINITY) -> int:
        """Add lower <= sum(factor x column) <= upper; `terms` are (column, factor) pairs."""
        for column, factor in terms:
            self.columns.append(column)
            self.factors.append(float(factor))
        self.starts.append(len(self.columns))
        self.row_lowers.append(float(lower))
        self.row_uppers.append(float(upper))
        return len(self.row_lowers) - 1

    def solve(
        self,
        *,
        gap,
        node_limit,
        seconds_limit,
        seed,
        absolute_gap=0.0,
        start=None,
        fixed=None,
        relaxed=False,
    ) -> Solution:
        """Solve on one thread with a fixed seed; the same model gives the same answer.

        The work limit counts branch-and-bound nodes, so it does not depend on the machine;
        `seconds_limit` is a last resort and the outcome says when it struck.
        `start` may hold a full set of column values to begin from; `fixed` holds columns at values;
        `relaxed` lets whole numbers be broken, so that the objective is a bound.
        """
        import highspy

        solver = _silent_solver(highspy)
        options = {
            "threads": 1,
            "random_seed": int(seed),
            "mip_rel_gap": float(gap),
            "mip_abs_gap": max(float(absolute_gap), 1e-6),
            "mip_max_nodes": int(node_limit),
            "time_limit": float(seconds_limit),
        }
        for name, value in options.items():
            solver.setOptionValue(name, value)
        solver.passModel(self._for_highs(highspy, fixed or {}, relaxed))
        if start is not None:
            solution = highspy.HighsSolution()
            solution.col_value = list(start)
            solver.setSolution(solution)
        solver.run()
        return _outcome(highspy, solver, any(self.integers) and not relaxed)

    def _for_highs(self, highspy, fixed, relaxed):
        import numpy as np

        model = highspy.HighsLp()
        model.num_col_ = len(self.costs)
        model.num_row_ = len(self.row_lowers)
        model.col_cost_ = np.array(self.costs)
        lowers, uppers = np.array(self.lowers), np.array(self.uppers)
        if fixed:
            lowers[list(fixed)] = uppers[list(fixed)] = list(fixed.values())
        model.col_lower_, model.col_upper_ = lowers, uppers
        model.row_lower_ = np.array(self.row_lowers)
        model.row_upper_ = np.array(self.row_uppers)
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = np.array(self.starts, dtype=np.int32)
        model.a_matrix_.index_ = np.array(self.columns, dtype=np.int32)
        model.a_matrix_.value_ = np.array(self.factors)
        whole, real = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
        if any(self.integers) and not relaxed:
            model.integrality_ = [whole if flag else real for flag in self.integers]
        return model


def _silent_solver(highspy):
    """A solver that prints nothing: HiGHS would put its banner into a command's JSON."""

    class Silent(highspy.Highs):
        def enableCallbacks(self):  # noqa: N802 - the name is highspy's
            self.setOptionValue("output_flag", False)
            return super().enableCallbacks()

    return Silent()


def _outcome(highspy, solver, whole_numbers: bool) -> Solution:
    status, info = solver.getModelStatus(), solver.getInfo()
    if status in (
        highspy.HighsModelStatus.kInfeasible,
        highspy.HighsModelStatus.kUnboundedOrInfeasible,
    ):
        return Solution("INFEASIBLE")
    clock = status == highspy.HighsModelStatus.kTimeLimit
    found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    if not found:
        return Solution("NONE", nodes=int(info.mip_node_count), stopped_by_clock=clock)
    proven = status == highspy.HighsModelStatus.kOptimal
    objective = info.objective_function_value
    return Solution(
        "OPTIMAL" if proven else "FEASIBLE",
        tuple(solver.getSolution().col_value),
        objective,
        info.mip_dual_bound if whole_numbers else objective,
        max(int(info.mip_node_count), 0),
        clock,
    )
