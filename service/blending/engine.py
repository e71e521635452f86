"""HiGHS, the solver library: one goal after the other on one model. Loaded when a first plan is asked for."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service.blending.budget import Budget
from service.blending.goals import Goal
from service.blending.model import Model

OPTIONS: Mapping[str, Any] = {
    "threads": 1,
    "random_seed": 0,
    "primal_feasibility_tolerance": 1e-9,
    "dual_feasibility_tolerance": 1e-9,
    "mip_feasibility_tolerance": 1e-9,
    "mip_rel_gap": 1e-6,
    "mip_abs_gap": 1e-7,
    # Searches for a first plan cost more than they save: on problems of this size branching finds one at once.
    "mip_heuristic_run_feasibility_jump": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_rins": False,
    "mip_heuristic_effort": 0.0,
    "mip_pscost_minreliable": 1,
    "mip_detect_symmetry": False,
    "mip_allow_restart": False,
}
SLACK = 1e-9
"""How far a settled goal may be missed, as a share, while a later one is looked at."""


def best(
    model: Model, goals: Iterable[Goal], budget: Budget, start: Sequence[float] | None = None
) -> list[float] | None:
    """Values of the columns when each goal in turn is least; None where no values that keep the rules were found.

    Args:
        budget: what may be searched; it is told what was, and where a goal was not proven to be least.
        start: values that keep the rules, to begin from.
    """
    solver = _loaded(model)
    if start is not None:
        _begin(solver, start)
    found: list[float] | None = None
    whole = any(column.whole for column in model.columns)
    ordered = list(goals) or [Goal({})]
    for turn, goal in enumerate(ordered):
        _aim(solver, goal, ordered[turn - 1] if turn else None)
        values = _run(solver, budget, whole)
        if values is None:
            return found
        found = values
        if turn + 1 < len(ordered):
            _hold(solver, goal, values)
            if whole:
                _begin(solver, values)
    return found


def _loaded(model: Model) -> Any:
    import highspy

    # The class below the public one: the public one writes a banner to the standard output, which may be an answer's.
    solver = highspy._core._Highs()
    solver.setOptionValue("output_flag", False)
    for name, value in OPTIONS.items():
        solver.setOptionValue(name, value)
    solver.passModel(_program(model, highspy))
    return solver


def _program(model: Model, highspy: Any) -> Any:
    """The model as the library takes it, row by row."""
    program = highspy.HighsLp()
    columns, rows = model.columns, model.rows
    program.num_col_, program.num_row_ = len(columns), len(rows)
    program.col_cost_ = [0.0] * len(columns)
    program.col_lower_ = [0.0] * len(columns)
    program.col_upper_ = [column.upper for column in columns]
    program.row_lower_ = [row.low for row in rows]
    program.row_upper_ = [row.high for row in rows]
    matrix, start, places, factors = program.a_matrix_, [0], [], []
    for row in rows:
        places += [place for place, _ in row.entries]
        factors += [factor for _, factor in row.entries]
        start.append(len(places))
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.num_col_, matrix.num_row_ = len(columns), len(rows)
    matrix.start_, matrix.index_, matrix.value_ = start, places, factors
    if any(column.whole for column in columns):
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        program.integrality_ = [kinds[column.whole] for column in columns]
    return program


def _aim(solver: Any, goal: Goal, before: Goal | None) -> None:
    if before is not None:
        for place in before.costs:
            solver.changeColCost(place, 0.0)
    for place, cost in goal.costs.items():
        solver.changeColCost(place, cost)


def _begin(solver: Any, values: Sequence[float]) -> None:
    import highspy

    solution = highspy.HighsSolution()
    solution.col_value = list(values)
    solver.setSolution(solution)


def _run(solver: Any, budget: Budget, whole: bool) -> list[float] | None:
    """Values of the columns; None without any that keep the rules."""
    import highspy

    if whole:
        solver.setOptionValue("mip_max_nodes", budget.share())
    solver.run()
    info, status = solver.getInfo(), solver.getModelStatus()
    settled = (
        highspy.HighsModelStatus.kOptimal,
        highspy.HighsModelStatus.kInfeasible,
        highspy.HighsModelStatus.kUnboundedOrInfeasible,
        highspy.HighsModelStatus.kModelEmpty,
    )
    budget.spend(info.mip_node_count if whole else 0, whole, status in settled)
    if info.primal_solution_status != 2:  # kSolutionStatusFeasible
        return None
    return list(solver.getSolution().col_value)


def _hold(solver: Any, goal: Goal, values: list[float]) -> None:
    """A goal that is settled may not get worse."""
    reached = sum(cost * values[place] for place, cost in goal.costs.items())
    most = round(reached) + 0.5 if goal.counts else reached + SLACK * max(abs(reached), 1.0)
    solver.addRow(-float("inf"), most, len(goal.costs), list(goal.costs), list(goal.costs.values()))
