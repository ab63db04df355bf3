"""The best set of trips out of many that are known: set partitioning by CP-SAT.

The only part of the trip planner that loads OR-tools.
"""

from __future__ import annotations

from typing import Any

from .trips_exact import Choice
from .trips_route import Routes
from .trips_search import Chosen

MOST_TRIPS = 60_000


def choose_from_pool(
    routes: Routes, hint: Chosen, not_driven: int, seconds: float
) -> list[Choice] | None:
    """The best choice of the trips that ``routes`` has met; None if none was found in time."""
    from ortools.sat.python import cp_model

    pool = _useful(routes)
    if not pool or len(pool) > MOST_TRIPS:
        return None
    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in pool]
    carried: list[list[Any]] = [[] for _ in routes.problem.moves]
    by_rig: dict[tuple[int, int], list[Any]] = {}
    by_day: dict[int, list[Any]] = {}
    for var, (at, moves, _) in zip(taken, pool, strict=True):
        for m in moves:
            carried[m].append(var)
        slot = routes.slots[at]
        for day in range(slot.first, slot.first + slot.days):
            by_rig.setdefault((day, slot.rig), []).append(var)
            by_day.setdefault(day, []).append(var)
        model.add_hint(var, hint.get(at) == moves)
    left = [model.new_bool_var("") for _ in carried]
    for var, ways in zip(left, carried, strict=True):
        model.add_exactly_one([*ways, var])
    for vars in by_rig.values():
        model.add_at_most_one(vars)
    if routes.problem.drivers < len(routes.problem.rigs):
        for vars in by_day.values():
            model.add(sum(vars) <= routes.problem.drivers)
    model.minimize(
        sum(cost * var for var, (_, _, cost) in zip(taken, pool, strict=True))
        + not_driven * sum(left)
    )
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 1
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return [
        (at, moves)
        for var, (at, moves, _) in zip(taken, pool, strict=True)
        if solver.boolean_value(var)
    ]


def _useful(routes: Routes) -> list[tuple[int, tuple[int, ...], int]]:
    """Every trip met so far, in an order that does not depend on the search."""
    return sorted(routes.known())
