"""Is a plan of trips true: every rule stated once more, without borrowing from the planner."""

from __future__ import annotations

from itertools import pairwise

from .trips_problem import SCALE, PlannedTrip, TripPlan, TripProblem


def check_trips(problem: TripProblem, plan: TripPlan) -> list[str]:
    """What is wrong with the plan, a sentence each; empty if nothing is.

    Legs are those of the problem or a shorter way by another place.
    """
    return [*_moves(problem, plan), *_days(problem, plan), *_each(problem, plan)]


def _moves(problem: TripProblem, plan: TripPlan) -> list[str]:
    wrong = []
    loaded = [m for trip in plan.trips for stop in trip.stops for m in stop.load]
    unloaded = [m for trip in plan.trips for stop in trip.stops for m in stop.unload]
    for move in problem.moves:
        times = (loaded.count(move.id), unloaded.count(move.id))
        wanted = (0, 0) if move.id in plan.left else (1, 1)
        if times != wanted:
            wrong.append(f"{move.id} is loaded {times[0]} and unloaded {times[1]} times")
    known = {move.id for move in problem.moves}
    wrong += [f"{m} is no move of the problem" for m in {*loaded, *unloaded} - known]
    return wrong


def _days(problem: TripProblem, plan: TripPlan) -> list[str]:
    wrong = []
    order = [day.id for day in problem.days]
    for index, day in enumerate(order):
        out = [
            trip
            for trip in plan.trips
            if order.index(trip.day) <= index <= order.index(trip.day) + trip.nights
        ]
        if len(out) > problem.drivers:
            wrong.append(f"{len(out)} trips on day {day}, but {problem.drivers} drive")
        if len({trip.rig for trip in out}) < len(out):
            wrong.append(f"a rig makes two trips on day {day}")
    return wrong


def _each(problem: TripProblem, plan: TripPlan) -> list[str]:
    return [
        f"trip of day {trip.day}: {said}" for trip in plan.trips for said in _one(problem, trip)
    ]


def _one(problem: TripProblem, trip: PlannedTrip) -> list[str]:
    wrong: list[str] = []
    moves = {move.id: move for move in problem.moves}
    rig = next(rig for rig in problem.rigs if rig.id == trip.rig)
    spans = {place.id: place.spans for place in problem.places}
    order = [day.id for day in problem.days]
    first = order.index(trip.day)
    days = problem.days[first : first + trip.nights + 1]
    if trip.nights > problem.nights:
        wrong.append("it is away for more nights than allowed")
    if trip.depart < days[0].start or trip.back > days[-1].end:
        wrong.append("it is outside the driver's day")
    tows = any(moves[m].on_trailer for m in trip.moves)
    place, at, metres, paid = problem.home, trip.depart, 0, 0
    aboard: set[str] = set()
    ways = _shortest(problem, tows)
    for stop in trip.stops:
        leg = ways[place, stop.place]
        if stop.arrive < at + leg[1]:
            wrong.append(f"it is at {stop.place} before it can be")
        if stop.begin < stop.arrive or stop.leave < stop.begin + problem.stop_minutes:
            wrong.append(f"the stop at {stop.place} is too short")
        if not any(start <= stop.begin and stop.leave <= end for start, end in spans[stop.place]):
            wrong.append(f"{stop.place} is shut")
        if not any(day.start <= stop.begin and stop.leave <= day.end for day in days):
            wrong.append(f"the stop at {stop.place} is outside the driver's day")
        for m in stop.unload:
            if m not in aboard:
                wrong.append(f"{m} is unloaded but was not aboard")
            aboard.discard(m)
            if moves[m].destination != stop.place or stop.leave > moves[m].due:
                wrong.append(f"{m} is unloaded too late or at the wrong place")
        for m in stop.load:
            aboard.add(m)
            move = moves[m]
            if move.origin != stop.place or stop.begin < move.free_at:
                wrong.append(f"{m} is loaded too early or at the wrong place")
            if move.day not in (None, trip.day) or move.rig not in (None, trip.rig):
                wrong.append(f"{m} is on the wrong day or rig")
            if move.on_trailer and not rig.tows:
                wrong.append(f"{m} needs a trailer")
        in_bed = [moves[m] for m in aboard if not moves[m].on_trailer]
        if sum(m.space for m in in_bed) > rig.space or sum(m.weight for m in in_bed) > rig.weight:
            wrong.append(f"too much is aboard after {stop.place}")
        if len(aboard) - len(in_bed) > 1:
            wrong.append("two boats are on one trailer")
        metres, place, at = metres + leg[0], stop.place, stop.leave
    leg = ways[place, problem.home]
    if aboard:
        wrong.append(f"{', '.join(sorted(aboard))} came home undelivered")
    if trip.back < at + leg[1]:
        wrong.append("it is home before it can be")
    metres += leg[0]
    night = sum(b.start - a.end for a, b in pairwise(days))
    paid = trip.back - trip.depart - night
    cost = 60 * rig.per_km * metres + 1000 * problem.per_hour * paid
    cost += SCALE * (problem.per_trip + problem.per_night * trip.nights)
    if (metres, paid, cost) != (trip.metres, trip.minutes, trip.cost):
        wrong.append(
            f"it states {trip.metres} m, {trip.minutes} min, {trip.cost}; "
            f"it is {metres} m, {paid} min, {cost}"
        )
    return wrong


def _shortest(problem: TripProblem, tows: bool) -> dict[tuple[str, str], tuple[int, int]]:
    """Legs as given, and shorter ways by other places where they are better in all respects."""
    ways = {(place.id, place.id): (0, 0, 0) for place in problem.places}
    ways |= {(leg.origin, leg.destination): (leg.metres, leg.minutes, leg.tow_minutes)
             for leg in problem.legs}  # fmt: skip
    names = [place.id for place in problem.places]
    for via in names:
        for a in names:
            for b in names:
                if (a, via) in ways and (via, b) in ways and len({a, via, b}) == 3:
                    sums = tuple(x + y for x, y in zip(ways[a, via], ways[via, b], strict=True))
                    now = ways.get((a, b))
                    if now is None or all(s <= n for s, n in zip(sums, now, strict=True)):
                        ways[a, b] = sums  # type: ignore[assignment]
    return {pair: (way[0], way[2] if tows else way[1]) for pair, way in ways.items()}
