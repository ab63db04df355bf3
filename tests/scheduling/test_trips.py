"""Trips against hand-solved cases, brute force, an open routing library, and their own check."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refit.scheduling.problem import HOUR
from refit.scheduling.trips import can_be_driven, one_trip_a_move, plan_trips
from refit.scheduling.trips_check import check_trips
from refit.scheduling.trips_problem import (
    SCALE,
    BadTrips,
    DriverDay,
    Leg,
    TripMove,
    TripPlace,
    TripProblem,
    TripRig,
)

from .trips_problems import trip_problem
from .trips_pyvrp import cost_by_pyvrp

DAY = 24 * HOUR


def _line(*moves: TripMove, **others: object) -> TripProblem:
    """Home at 0 km, mill at 10, forge at 20, on one road of 60 km/h; two days from 8 to 17."""
    at = {"home": 0, "mill": 10, "forge": 20}
    legs = tuple(
        Leg(a, b, abs(at[a] - at[b]) * 1000, abs(at[a] - at[b]), 2 * abs(at[a] - at[b]))
        for a in at
        for b in at
        if a != b
    )
    hours = tuple((d * DAY + 8 * HOUR, d * DAY + 17 * HOUR) for d in range(2))
    problem = TripProblem(
        moves=moves,
        rigs=(TripRig("van", space=100, weight=500, tows=True, per_km=50),),
        days=tuple(DriverDay(str(d), *span) for d, span in enumerate(hours)),
        places=tuple(TripPlace(name, hours) for name in at),
        legs=legs,
        home="home",
        stop_minutes=30,
        per_hour=2000,
        per_trip=500,
    )
    return replace(problem, **others)  # type: ignore[arg-type]


def test_two_pieces_on_one_road_share_a_drive() -> None:
    # Out to the forge with one, back with another: 40 km, two stops at home and one out there
    # (30 min each) and 40 min of road. Each alone is the same road: half of everything is saved.
    out = TripMove("out", "home", "forge", 0, 2 * DAY)
    back = TripMove("back", "forge", "home", 0, 2 * DAY)
    problem = _line(out, back)
    plan = plan_trips(problem)
    [trip] = plan.trips
    assert plan.proved
    assert [stop.place for stop in trip.stops] == ["home", "forge", "home"]
    assert (trip.metres, trip.minutes) == (40_000, 130)
    assert one_trip_a_move(problem).metres == 80_000
    assert check_trips(problem, plan) == []


def test_what_does_not_fit_in_the_bed_together_goes_one_after_the_other() -> None:
    # Both fill more than half: the second cannot be aboard with the first, so home, mill, home,
    # mill: 40 km in one trip. A second trip would cost 500 more for the same road.
    moves = [TripMove(name, "home", "mill", 0, 2 * DAY, space=60) for name in "ab"]
    problem = _line(*moves)
    plan = plan_trips(problem)
    [trip] = plan.trips
    assert [stop.place for stop in trip.stops] == ["home", "mill", "home", "mill"]
    assert trip.metres == 40_000
    assert check_trips(problem, plan) == []


def test_a_window_that_opens_at_noon_is_left_for_not_waited_for() -> None:
    # Free at the mill from 12:00, and 10 minutes away: leaving at 11:50 costs no waiting.
    problem = _line(TripMove("a", "mill", "home", 12 * HOUR, 17 * HOUR))
    [trip] = plan_trips(problem).trips
    assert (trip.depart, trip.back) == (11 * HOUR + 50, 13 * HOUR + 10)


def test_the_boat_goes_at_towing_speed_and_alone_on_the_trailer() -> None:
    boat = TripMove("boat", "home", "mill", 0, 2 * DAY, on_trailer=True)
    [trip] = plan_trips(_line(boat)).trips
    assert trip.tows
    assert trip.minutes == 2 * 20 + 2 * 30
    without = _line(boat, rigs=(TripRig("car", per_km=50),))
    assert plan_trips(without).left == ("boat",)
    assert can_be_driven(without) == {"boat": False}


def test_a_pinned_day_is_kept_though_it_costs_a_drive() -> None:
    out = TripMove("out", "home", "forge", 0, 2 * DAY, day="0")
    back = TripMove("back", "forge", "home", 0, 2 * DAY, day="1")
    plan = plan_trips(_line(out, back))
    assert [(trip.day, trip.moves) for trip in plan.trips] == [("0", ("out",)), ("1", ("back",))]


def test_a_night_away_only_where_it_is_allowed() -> None:
    # Six hours there, six back: no day of nine hours is long enough.
    far = (Leg("home", "far", 360_000, 360, 360), Leg("far", "home", 360_000, 360, 360))
    hours = _line().places[0].spans
    places = (TripPlace("home", hours), TripPlace("far", hours))
    move = TripMove("a", "far", "home", 0, 2 * DAY)
    problem = _line(move, legs=far, places=places, per_night=9000)
    assert plan_trips(problem).left == ("a",)
    allowed = replace(problem, nights=1)
    plan = plan_trips(allowed)
    assert [trip.nights for trip in plan.trips] == [1]
    assert plan.trips[0].minutes == 2 * 360 + 2 * 30
    assert check_trips(allowed, plan) == []


@pytest.mark.parametrize(
    "move", [TripMove("a", "home", "home", 0, 1), TripMove("a", "home", "moon", 0, 1)]
)
def test_nonsense_is_refused(move: TripMove) -> None:
    with pytest.raises(BadTrips):
        plan_trips(_line(move))


# -- brute force ---------------------------------------------------------------------------------

STEP = 15
"""All minutes of the random cases are multiples of it, so that every departure worth trying is."""


@st.composite
def small_cases(draw: st.DrawFn) -> TripProblem:
    """Up to six moves, three days of five hours, four places, all times in quarters of an hour."""
    names = ("home", "mill", "forge", "loft")
    xs = [draw(st.integers(0, 3)) for _ in names]
    ys = [draw(st.integers(0, 3)) for _ in names]
    legs = []
    for i, a in enumerate(names):
        for j, b in enumerate(names):
            if i != j:
                far = max(1, abs(xs[i] - xs[j]) + abs(ys[i] - ys[j]))
                legs.append(Leg(a, b, far * 5000, far * STEP, far * 2 * STEP))
    days = tuple(DriverDay(str(d), d * DAY + 8 * HOUR, d * DAY + 13 * HOUR) for d in range(3))
    places = []
    for name in names:
        spans = []
        for d in range(3):
            opens = d * DAY + draw(st.sampled_from([8, 8, 9])) * HOUR
            kind = draw(st.sampled_from(["open", "open", "lunch", "shut"]))
            if kind == "lunch":
                spans += [(opens, d * DAY + 10 * HOUR), (d * DAY + 11 * HOUR, d * DAY + 13 * HOUR)]
            elif kind == "open" or name == "home":
                spans.append((opens, d * DAY + 13 * HOUR))
        places.append(TripPlace(name, tuple(spans)))
    moves = []
    for number in range(draw(st.sampled_from([1, 2, 3, 3, 4, 4, 5, 6]))):
        origin, destination = draw(st.permutations(names))[:2]
        free = draw(st.integers(0, 2)) * DAY + draw(st.sampled_from([0, 8, 9, 11])) * HOUR
        due = free + draw(st.sampled_from([4, 24, 48, 72])) * HOUR
        moves.append(
            TripMove(
                f"m{number}", origin, destination, free, due,
                space=draw(st.sampled_from([10, 40, 70])),
                on_trailer=number == 0 and draw(st.booleans()),
                day=draw(st.sampled_from([None, None, None, "0", "1"])),
            )
        )  # fmt: skip
    return TripProblem(
        moves=tuple(moves),
        rigs=(TripRig("van", space=100, tows=True, per_km=draw(st.sampled_from([0, 40]))),),
        days=days,
        places=tuple(places),
        legs=tuple(legs),
        home="home",
        stop_minutes=STEP,
        per_hour=draw(st.sampled_from([0, 2000])),
        per_trip=draw(st.sampled_from([0, 700])),
    )


@settings(max_examples=250, deadline=None)
@given(small_cases())
def test_brute_force_agrees(problem: TripProblem) -> None:
    plan = plan_trips(problem)
    assert check_trips(problem, plan) == []
    assert plan.proved
    left, cost = _by_brute_force(problem)
    assert (len(plan.left), plan.cost) == (left, cost)
    alone = one_trip_a_move(problem)
    if set(alone.left) == set(plan.left) and len({t.day for t in alone.trips}) == len(alone.trips):
        assert plan.cost <= alone.cost


def _by_brute_force(problem: TripProblem) -> tuple[int, int]:
    """Fewest moves left, then least cost: all sets of moves on each day, all orders of stops, all
    departures, simulated stop by stop."""
    ids = [move.id for move in problem.moves]
    legs = {(leg.origin, leg.destination): leg for leg in problem.legs}
    places = [place.id for place in problem.places]
    for via in places:
        for a in places:
            for b in places:
                if len({a, b, via}) == 3:
                    one, two, now = legs[a, via], legs[via, b], legs[a, b]
                    if (
                        one.metres + two.metres <= now.metres
                        and one.minutes + two.minutes <= now.minutes
                        and one.tow_minutes + two.tow_minutes <= now.tow_minutes
                    ):
                        legs[a, b] = Leg(
                            a, b, one.metres + two.metres, one.minutes + two.minutes,
                            one.tow_minutes + two.tow_minutes,
                        )  # fmt: skip
    # Fewest left first: state is the set of moves still to be driven after each day.
    best: dict[frozenset[str], int] = {frozenset(ids): 0}
    for day in problem.days:
        costs = dict(_day_costs(problem, day, legs))
        after = dict(best)
        for left, cost in best.items():
            for moves, more in costs.items():
                if moves <= left:
                    rest = left - moves
                    after[rest] = min(after.get(rest, cost + more), cost + more)
        best = after
    fewest = min(len(left) for left in best)
    return fewest, min(cost for left, cost in best.items() if len(left) == fewest)


def _day_costs(
    problem: TripProblem, day: DriverDay, legs: dict[tuple[str, str], Leg]
) -> Iterator[tuple[frozenset[str], int]]:
    able = [m for m in problem.moves if m.day in (None, day.id)]
    for number in range(1, 1 << len(able)):
        moves = [m for i, m in enumerate(able) if number >> i & 1]
        costs = [
            cost
            for depart in range(day.start, day.end, STEP)
            if (cost := _cheapest(problem, day, legs, moves, depart)) is not None
        ]
        if costs:
            yield frozenset(m.id for m in moves), min(costs)


def _cheapest(
    problem: TripProblem,
    day: DriverDay,
    legs: dict[tuple[str, str], Leg],
    moves: list[TripMove],
    depart: int,
) -> int | None:
    """The cheapest trip leaving at ``depart`` and never dallying."""
    rig = problem.rigs[0]
    spans = {place.id: place.spans for place in problem.places}
    tows = any(m.on_trailer for m in moves)
    service = problem.stop_minutes
    seen: dict[tuple[str, frozenset[str], frozenset[str], int], int] = {}
    best: list[int] = []

    def drive(place: str, at: int, waiting: frozenset[str], aboard: frozenset[str], cost: int):  # type: ignore[no-untyped-def]
        key = (place, waiting, aboard, at)
        if key in seen and seen[key] <= cost:
            return
        seen[key] = cost
        if not waiting and not aboard:
            leg = legs.get((place, problem.home))
            metres = leg.metres if leg else 0
            minutes = (leg.tow_minutes if tows else leg.minutes) if leg else 0
            if at + minutes <= day.end:
                best.append(
                    cost
                    + 60 * rig.per_km * metres
                    + 1000 * problem.per_hour * (at + minutes - depart)
                )
            return
        for where in {by[m].origin for m in waiting} | {by[m].destination for m in aboard}:
            leg = legs.get((place, where))
            metres = leg.metres if leg else 0
            arrive = at + ((leg.tow_minutes if tows else leg.minutes) if leg else 0)
            off = frozenset(m for m in aboard if by[m].destination == where)
            here = sorted(m for m in waiting if by[m].origin == where)
            for number in range(1 << len(here)):
                on = frozenset(m for i, m in enumerate(here) if number >> i & 1)
                now = (aboard - off) | on
                bed = [by[m] for m in now if not by[m].on_trailer]
                if not (off or on) or sum(m.space for m in bed) > rig.space:
                    continue
                ready = max([arrive, *(by[m].free_at for m in on)])
                for start, end in spans[where]:
                    begin = max(ready, start)
                    done = begin + service
                    if done <= min(end, day.end) and all(done <= by[m].due for m in off):
                        drive(where, done, waiting - on, now, cost + 60 * rig.per_km * metres)

    by = {m.id: m for m in moves}
    drive(problem.home, depart, frozenset(by), frozenset(), SCALE * problem.per_trip)
    return min(best, default=None)


# -- many moves ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("seed", "moves"), [(0, 20), (1, 30), (2, 40)])
def test_a_routing_library_finds_little_better(seed: int, moves: int) -> None:
    problem = trip_problem(seed, moves + 6, 8, plain=True)
    able = can_be_driven(problem)
    problem = replace(problem, moves=tuple([m for m in problem.moves if able[m.id]][:moves]))
    theirs = cost_by_pyvrp(problem, seconds=10)
    ours = plan_trips(problem, seconds=10, pool=True)
    assert check_trips(problem, ours) == []
    assert not ours.left
    assert theirs is not None
    assert ours.cost <= 1.02 * theirs


def test_the_search_is_true_at_any_size_and_keeps_to_its_time() -> None:
    for seed in range(3):
        problem = trip_problem(seed, 30)
        plan = plan_trips(problem, seconds=1)
        assert check_trips(problem, plan) == []
        alone = one_trip_a_move(problem)
        assert set(plan.left) == set(alone.left)
        assert plan.cost < alone.cost
