"""The same drives put to PyVRP, an open library of vehicle routing: a second opinion on cost.

Only for problems that it can be told exactly: one rig, no nights, no boat, nothing pinned, and
every place open whenever somebody drives (a shipment there has one window, not one a day). The
minutes of a stop go into the road to it, windows are moved by as much; costs are whole numbers.
"""

from __future__ import annotations

from math import gcd

from pyvrp import Model
from pyvrp.stop import MaxRuntime

from refit.scheduling.trips_problem import SCALE, TripProblem


def cost_by_pyvrp(problem: TripProblem, *, seconds: float, seed: int = 1) -> int | None:
    """The cost of the best plan it finds that carries every move; None if it finds none."""
    assert len(problem.rigs) == 1
    assert problem.nights == 0
    assert not any(move.on_trailer or move.day or move.rig for move in problem.moves)
    rig, service = problem.rigs[0], problem.stop_minutes
    costs = (60 * rig.per_km, 1000 * problem.per_hour, SCALE * problem.per_trip)
    unit = gcd(*costs)  # it searches better among small numbers
    per_metre, per_minute, per_trip = (cost // unit for cost in costs)
    model = Model()
    spots = {place.id: model.add_location(i, 0) for i, place in enumerate(problem.places)}
    gate = model.add_location(len(spots), 0)  # home as where trips begin and end
    depot = model.add_depot(gate)
    for day in problem.days:
        model.add_vehicle_type(
            num_available=problem.drivers,
            capacity=[rig.space, rig.weight],
            start_depot=depot,
            end_depot=depot,
            fixed_cost=per_trip,
            tw_early=day.start,
            tw_late=day.end,
            unit_distance_cost=per_metre,
            unit_duration_cost=per_minute,
        )
    for leg in problem.legs:
        model.add_edge(spots[leg.origin], spots[leg.destination], leg.metres, leg.minutes + service)
        if leg.origin == problem.home:
            model.add_edge(gate, spots[leg.destination], leg.metres, leg.minutes + service)
        if leg.destination == problem.home:
            model.add_edge(spots[leg.origin], gate, leg.metres, leg.minutes)
    model.add_edge(gate, spots[problem.home], 0, service)
    model.add_edge(spots[problem.home], gate, 0, 0)
    model.add_edge(gate, gate, 0, 0)
    for spot in spots.values():
        model.add_edge(spot, spot, 0, 0)
    last = problem.days[-1].end
    for move in problem.moves:
        model.add_shipment(
            spots[move.origin],
            spots[move.destination],
            pickup_tw_early=move.free_at + service,
            pickup_tw_late=last,
            delivery_tw_early=0,
            delivery_tw_late=move.due,
            amount=[move.space, move.weight],
            name=move.id,
        )
    result = model.solve(stop=MaxRuntime(seconds), seed=seed, display=False)
    if not result.is_feasible():
        return None
    return round(result.cost()) * unit
