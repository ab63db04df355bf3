"""Random moves to be driven: a home, some shops round it, pieces that go from one to the next.

`trip_problem(seed, moves)` is deterministic. Minute 0 is a Monday's midnight. The default mix is
what a refit makes: each piece leaves home, is at one shop after another for some working days, and
comes home; between being free at one and needed at the next lie some days of slack. Shares of the
mix are the founders' estimate (common practice, no source).
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil, hypot
from random import Random

from refit.scheduling.problem import DAY, HOUR
from refit.scheduling.trips_problem import (
    DriverDay,
    Leg,
    TripMove,
    TripPlace,
    TripProblem,
    TripRig,
)

HOME = "shed"
SHOPS = ("metal shop", "coater", "loft", "glass shop", "mould shop", "machine shop")
ROAD = 1.3
"""Road to straight line, as for Canada in Ballou et al. 2002 (trade facts; from memory)."""


def legs_between(spots: dict[str, tuple[float, float]], kmh: int = 60) -> tuple[Leg, ...]:
    """Legs for places on a map in km; times rounded up to whole minutes."""
    legs = []
    for a, (ax, ay) in spots.items():
        for b, (bx, by) in spots.items():
            if a != b:
                metres = ceil(hypot(ax - bx, ay - by) * ROAD * 1000)
                minutes = ceil(metres * 60 / kmh / 1000)
                legs.append(Leg(a, b, metres, minutes, ceil(minutes * 1.25)))
    return tuple(legs)


def open_days(
    weeks: int, days: tuple[int, ...], opens: int, closes: int, *, lunch: bool = False
) -> tuple[tuple[int, int], ...]:
    spans: list[tuple[int, int]] = []
    for day in range(7 * weeks):
        if day % 7 in days:
            begin, end = day * DAY + opens, day * DAY + closes
            if lunch:
                spans += [(begin, day * DAY + 12 * HOUR), (day * DAY + 12 * HOUR + 30, end)]
            else:
                spans.append((begin, end))
    return tuple(spans)


def trip_problem(
    seed: int, moves: int = 60, weeks: int = 12, *, plain: bool = False
) -> TripProblem:
    """The default mix. ``plain``: every shop is open whenever somebody drives, and a boat never
    moves, so that a program that knows no opening hours can be asked for a second opinion."""
    random = Random(seed)
    spots = {HOME: (0.0, 0.0)} | {
        shop: (random.uniform(-30, 30), random.uniform(-30, 30)) for shop in SHOPS
    }
    work_week = (0, 1, 2, 3, 4)
    places = [TripPlace(HOME, open_days(weeks + 1, work_week, 8 * HOUR, 17 * HOUR))]
    for shop in SHOPS:
        if plain:
            spans = places[0].spans
        else:
            week = random.choice([work_week, work_week, (1, 2, 3, 4, 5), (0, 1, 2, 3)])
            opens = random.choice([7 * HOUR + 30, 8 * HOUR, 9 * HOUR])
            closes = random.choice([15 * HOUR, 16 * HOUR, 17 * HOUR + 30])
            spans = open_days(weeks + 1, week, opens, closes, lunch=random.random() < 0.2)
        places.append(TripPlace(shop, spans))
    days = tuple(
        DriverDay(f"day {day:03}", day * DAY + 8 * HOUR, day * DAY + 17 * HOUR)
        for day in range(7 * weeks)
        if day % 7 < 5
    )
    made: list[TripMove] = []
    piece = 0
    while len(made) < moves:
        piece += 1
        made += _journey(random, piece, weeks, boat=not plain and piece % 12 == 0)
    return TripProblem(
        moves=tuple(made[:moves]),
        rigs=(TripRig("truck", space=100, weight=900, tows=True, per_km=60),),
        days=days,
        places=tuple(places),
        legs=legs_between(spots),
        home=HOME,
        stop_minutes=30,
        per_hour=3500,
        per_trip=1000,
    )


def _journey(random: Random, piece: int, weeks: int, *, boat: bool) -> list[TripMove]:
    """One piece from home by one to three shops and home again; the boat to one and back."""
    shops = random.sample(SHOPS, 1 if boat else random.choice([1, 1, 2, 2, 3]))
    way = [HOME, *shops, HOME]
    space, weight = random.choice([(10, 8), (20, 15), (35, 40), (60, 80)])
    day = random.randrange(0, 7 * weeks - 14)
    moves = []
    for number, (origin, destination) in enumerate(pairwise(way)):
        slack = random.randint(1, 8)
        free = day * DAY + random.choice([8, 8, 12, 16]) * HOUR
        due = (day + slack) * DAY + random.choice([8, 12, 17]) * HOUR
        if destination == HOME:
            due += 4 * DAY
        while due // DAY % 7 in (5, 6, 0) and due - free < 4 * DAY:
            due += DAY
        if due > 7 * weeks * DAY - 2 * DAY:
            break
        moves.append(
            TripMove(
                f"{piece:02}.{number}", origin, destination, free, due,
                0 if boat else space, 0 if boat else weight, on_trailer=boat,
            )
        )  # fmt: skip
        day = due // DAY + random.randint(2, 9)
    return moves
