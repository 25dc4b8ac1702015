"""The proven optimum of an instance by HiGHS, with its bound; the best found where the time is up before the proof."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from rules.planning.propose.instance import Instance

#: All costs are whole quarters of a point, so a bound this near proves the best.
PROOF = 0.24


class Solved(NamedTuple):
    """Amounts for the choices, their cost, the least cost that any could have, and the seconds that it took."""

    amounts: tuple[int, ...]
    cost: float
    bound: float
    proven: bool
    seconds: float


class _Rows:
    """The rows of a model, by their non-zeros."""

    def __init__(self) -> None:
        self.starts, self.columns, self.values = [0], list[int](), list[float]()
        self.lower, self.upper = list[float](), list[float]()

    def add(self, terms: Sequence[tuple[int, float]], lower: float, upper: float) -> None:
        self.columns += [column for column, _ in terms]
        self.values += [value for _, value in terms]
        self.starts.append(len(self.columns))
        self.lower.append(lower)
        self.upper.append(upper)


def solve(
    instance: Instance,
    seconds: float,
    start: Sequence[int] | None = None,
    *,
    found: Callable[[tuple[int, ...], float], None] | None = None,
) -> Solved | None:
    """Solve an instance within about some seconds; the solver can overrun them, so guard it from outside.

    Parameters
    ----------
    start
        Amounts to begin with.
    found
        Is told each better solution with the bound so far, while the search goes on.

    Returns
    -------
    Solved or None
        None where no solution was found in time.
    """
    if not instance.choices:
        cost = instance.cost(())
        return Solved((), cost, cost, True, 0.0)
    import highspy

    highs, n = _quiet(), len(instance.choices)
    for option, value in (("time_limit", seconds), ("mip_rel_gap", 0.0), ("mip_abs_gap", PROOF)):
        highs.setOptionValue(option, value)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("random_seed", 1)
    model = _model(instance)
    highs.passModel(model)
    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = _columns(instance, start)
        highs.setSolution(solution)
    faults: list[Exception] = []
    if found is not None:
        highs.cbMipImprovingSolution += _teller(found, n, faults)
    highs.run()
    if faults:
        raise faults[0]
    info = highs.getInfo()
    if info.primal_solution_status != 2:  # kSolutionStatusFeasible
        return None
    amounts = _whole(highs.getSolution().col_value, n)
    cost = instance.cost(amounts)
    proven = highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    bound = cost if proven else min(cost, info.mip_dual_bound)
    return Solved(amounts, cost, bound, proven, highs.getRunTime())


def _quiet() -> Any:
    """A solver that prints nothing: its own greeting comes with the first callback, before it can be silenced."""
    import highspy

    class Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:
            self.silent()
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    return Quiet()  # type: ignore[no-untyped-call]


def _teller(found: Callable[[tuple[int, ...], float], None], n: int, faults: list[Exception]) -> Callable[[Any], None]:
    """Tells better solutions; what goes wrong there is kept, since nothing may be raised through the solver."""

    def tell(event: Any) -> None:
        try:
            if not faults:
                found(_whole(event.data_out.mip_solution, n), float(event.data_out.mip_dual_bound))
        except Exception as fault:
            faults.append(fault)

    return tell


def _whole(values: Any, n: int) -> tuple[int, ...]:
    return tuple(round(value) for value in values[:n])


def _slacks(instance: Instance) -> tuple[dict[int, int], list[float]]:
    """For each limit with a cost its slack's number, and the cost of each slack."""
    numbers: dict[int, int] = {}
    shared: dict[int, int] = {}
    costs: list[float] = []
    for n, limit in enumerate(instance.limits):
        if limit.cost is None:
            continue
        if limit.slack is not None and limit.slack in shared:
            numbers[n] = shared[limit.slack]
            continue
        numbers[n] = len(costs)
        if limit.slack is not None:
            shared[limit.slack] = len(costs)
        costs.append(limit.cost)
    return numbers, costs


def _columns(instance: Instance, amounts: Sequence[int]) -> list[float]:
    """The value of every column that some amounts lead to: choices, presences, missing quarters, slacks."""
    present = instance.present(amounts)
    numbers, costs = _slacks(instance)
    slacks = [0.0] * len(costs)
    for n, number in numbers.items():
        limit = instance.limits[n]
        slacks[number] = max(slacks[number], sum(present[p] for p in limit.presences) - limit.most)
    return [*map(float, amounts), *map(float, present), *map(float, instance.short(amounts)), *slacks]


def _model(instance: Instance) -> Any:
    import highspy
    import numpy as np

    infinity = highspy.kHighsInf
    numbers, slack_costs = _slacks(instance)
    n, p, d, s = len(instance.choices), len(instance.presences), len(instance.demands), len(slack_costs)
    rows = _Rows()
    for room in instance.rooms:
        rows.add([(c, 1.0) for c in room.choices], -infinity, room.most)
    for hold in instance.holds:
        rows.add([*((c, 1.0) for c in hold.choices), (n + hold.presence, -float(hold.most))], -infinity, 0.0)
        for c in hold.choices:
            most = min(hold.most, instance.choices[c].most)
            if most < hold.most:
                rows.add([(c, 1.0), (n + hold.presence, -float(most))], -infinity, 0.0)
    for i, demand in enumerate(instance.demands):
        rows.add([*((c, 1.0) for c in demand.choices), (n + p + i, 1.0)], demand.amount, demand.amount)
    for i, limit in enumerate(instance.limits):
        terms = [(n + presence, 1.0) for presence in limit.presences]
        if i in numbers:
            terms.append((n + p + d + numbers[i], -1.0))
        rows.add(terms, -infinity, limit.most)
    for missing in instance.missing:
        rows.add(
            [(n + p + i, 1.0) for i in missing.demands],
            missing.least,
            infinity if missing.most is None else missing.most,
        )
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = n + p + d + s, len(rows.lower)
    lp.col_cost_ = np.array(
        [
            *(c.cost for c in instance.choices),
            *(u.cost for u in instance.presences),
            *(demand.cost for demand in instance.demands),
            *slack_costs,
        ],
        dtype=float,
    )
    lp.col_lower_ = np.zeros(lp.num_col_)
    upper = [float(c.most) for c in instance.choices] + [1.0] * p + [float(x.amount) for x in instance.demands]
    lp.col_upper_ = np.array([*upper, *[infinity] * s])
    lp.row_lower_, lp.row_upper_ = np.array(rows.lower, dtype=float), np.array(rows.upper, dtype=float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(rows.starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.array(rows.columns, dtype=np.int32)
    lp.a_matrix_.value_ = np.array(rows.values, dtype=float)
    whole, real = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
    lp.integrality_ = [whole] * (n + p) + [real] * (d + s)
    return lp
