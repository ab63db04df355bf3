"""Which trips: the door of the trip planner.

1. Few moves: every trip that can be is looked at (`trips_exact`); the answer is proved.
2. Many: trips are built by insertion and rebuilt for a while (`trips_search`), then the best set
   of all trips met is picked (`trips_pool`, OR-tools), and once more around.

The answer never costs more than one trip a move where that can be driven, and `check_trips`
states the rules anew and tries every plan.
"""

from __future__ import annotations

from time import perf_counter

from .trips_exact import MOST_MOVES, Choice, choose_all
from .trips_problem import PlannedTrip, TripPlan, TripProblem
from .trips_route import Routes
from .trips_search import Search

QUICK_SECONDS = 0.4
ROUNDS = 40_000
WIDTH = 40
"""How many states a route is searched with where not every trip can be looked at anyway."""


def plan_trips(
    problem: TripProblem, *, seconds: float = QUICK_SECONDS, pool: bool = False, seed: int = 0
) -> TripPlan:
    """Trips for the moves of ``problem``. Raises BadTrips.

    ``seconds``: how long to search where not every trip can be looked at. ``pool``: use OR-tools
    too, which takes memory and a second to load; not inside a web server. The same problem gives
    the same answer where it is proved; a search that ran out of time depends on the machine.
    """
    began = perf_counter()
    few = len(problem.moves) <= MOST_MOVES
    routes = Routes(problem, width=None if few else WIDTH)
    not_driven = _more_than_any(routes)
    if few:
        return _plan(routes, choose_all(routes, not_driven), proved=True)
    search = Search(routes, not_driven, seed)
    search.start()
    if pool:
        for part in (0.35, 0.6, 0.8):
            search.run(began + seconds * part, ROUNDS)
            left = began + seconds - perf_counter()
            _pick(search, min(left, seconds * 0.2))
    else:
        search.run(began + seconds, ROUNDS)
    return _plan(routes, list(search.best.items()), proved=False)


def _pick(search: Search, seconds: float) -> None:
    from .trips_pool import choose_from_pool

    if seconds <= 0.05:
        return
    found = choose_from_pool(search.routes, search.best, search.not_driven, seconds)
    if found is not None and search.value(dict(found)) < search.best_value:
        search.best = dict(found)
        search.best_value = search.value(search.best)


def one_trip_a_move(problem: TripProblem) -> TripPlan:
    """What it would be if every move were a trip of its own, each on its cheapest day, however
    many that makes on a day. What to compare with; not always something that could be driven."""
    routes = Routes(problem)
    choices: list[Choice] = []
    for m in range(len(problem.moves)):
        costs = [
            (cost, slot)
            for slot in range(len(routes.slots))
            if (cost := routes.cost(slot, (m,))) is not None
        ]
        if costs:
            choices.append((min(costs)[1], (m,)))
    return _plan(routes, choices, proved=False)


def can_be_driven(problem: TripProblem) -> dict[str, bool]:
    """Of each move, whether some trip of these days could carry it by itself."""
    routes = Routes(problem)
    slots = range(len(routes.slots))
    return {
        move.id: any(routes.alone(slot, m) for slot in slots)
        for m, move in enumerate(problem.moves)
    }


def _more_than_any(routes: Routes) -> int:
    """More than all trips together: nothing is left behind to save a drive."""
    total = 1
    for m in range(len(routes.problem.moves)):
        costs = [routes.cost(slot, (m,)) for slot in range(len(routes.slots))]
        total += max((cost for cost in costs if cost is not None), default=0)
    return total


def _plan(routes: Routes, choices: list[Choice], *, proved: bool) -> TripPlan:
    trips: list[PlannedTrip] = [routes.planned(slot, moves) for slot, moves in choices]
    driven = {m for _, moves in choices for m in moves}
    left = tuple(move.id for m, move in enumerate(routes.problem.moves) if m not in driven)
    return TripPlan(tuple(sorted(trips, key=lambda trip: trip.depart)), left, proved)
