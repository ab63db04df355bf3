"""The words in which drives are put to the planning core, and nothing that computes.

A **move** is something that must get from one place to another within its window. A **trip** is
one drive that begins and ends at home on one driver's day (or over the nights that are allowed)
and makes stops; what it picks up it delivers. A driver makes one trip a day; a trip may pass home
in between, as a stop.

Minutes are counted from an origin of the caller's choice, distances in metres, money in hundredths.
At a stop everything for that place is unloaded first, then something may be loaded; the stop
takes `TripProblem.stop_minutes`, within one span of the place's opening hours.
"""

from __future__ import annotations

from dataclasses import dataclass

from .problem import Minutes, SchedulingError


@dataclass(frozen=True, slots=True)
class TripMove:
    """``free_at``: loading begins no earlier. ``due``: unloaded by then.

    ``space`` is the share of a bed in hundredths and ``weight`` kilograms, both whole numbers
    rounded up; ``on_trailer``: it is the boat and goes on the trailer, not in the bed. ``day``:
    driven on the day of this id and no other. ``rig``: with this rig and no other.
    """

    id: str
    origin: str
    destination: str
    free_at: Minutes
    due: Minutes
    space: int = 0
    weight: int = 0
    on_trailer: bool = False
    day: str | None = None
    rig: str | None = None


@dataclass(frozen=True, slots=True)
class TripRig:
    """``space`` hundredths of a bed and ``weight`` kilograms fit in; ``tows``: it can take the
    boat. ``per_km``: hundredths of money for a kilometre."""

    id: str
    space: int = 100
    weight: int = 1_000_000
    tows: bool = False
    per_km: int = 0


@dataclass(frozen=True, slots=True)
class DriverDay:
    """A day on which somebody drives, from leaving home to being back."""

    id: str
    start: Minutes
    end: Minutes


@dataclass(frozen=True, slots=True)
class TripPlace:
    """When things can be loaded and unloaded there: sorted, disjoint spans."""

    id: str
    spans: tuple[tuple[Minutes, Minutes], ...]


@dataclass(frozen=True, slots=True)
class Leg:
    """From one place to another, without loading. ``tow_minutes``: with the boat's trailer."""

    origin: str
    destination: str
    metres: int
    minutes: Minutes
    tow_minutes: Minutes


@dataclass(frozen=True, slots=True)
class TripProblem:
    """Everything the trip planner knows. Money in hundredths; ``nights``: the most nights that one
    trip may be away, each costing ``per_night``. ``drivers``: the most trips of one day."""

    moves: tuple[TripMove, ...]
    rigs: tuple[TripRig, ...]
    days: tuple[DriverDay, ...]
    places: tuple[TripPlace, ...]
    legs: tuple[Leg, ...]
    home: str
    stop_minutes: Minutes = 30
    per_hour: int = 0
    per_trip: int = 0
    per_night: int = 0
    drivers: int = 1
    nights: int = 0


SCALE = 60_000
"""Costs are reckoned in whole parts of a hundredth, so that nothing is rounded before the end:
a metre at ``per_km`` counts 60 x per_km, a minute at ``per_hour`` 1000 x per_hour."""


@dataclass(frozen=True, slots=True)
class TripStop:
    """``arrive``, then wait until ``begin``; ``leave`` when everything is off and on."""

    place: str
    arrive: Minutes
    begin: Minutes
    leave: Minutes
    unload: tuple[str, ...]
    load: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedTrip:
    """``minutes``: of the driver, from home to home, nights not counted. ``cost``: in `SCALE`."""

    day: str
    rig: str
    depart: Minutes
    back: Minutes
    stops: tuple[TripStop, ...]
    metres: int
    minutes: Minutes
    cost: int
    nights: int = 0
    tows: bool = False

    @property
    def moves(self) -> tuple[str, ...]:
        return tuple(move for stop in self.stops for move in stop.load)


@dataclass(frozen=True, slots=True)
class TripPlan:
    """Trips by day; ``left`` are moves that no trip of these days can carry.

    ``proved``: no plan of these rules carries more, or the same for less.
    """

    trips: tuple[PlannedTrip, ...]
    left: tuple[str, ...] = ()
    proved: bool = False

    @property
    def cost(self) -> int:
        return sum(trip.cost for trip in self.trips)

    @property
    def metres(self) -> int:
        return sum(trip.metres for trip in self.trips)

    @property
    def minutes(self) -> int:
        return sum(trip.minutes for trip in self.trips)


class BadTrips(SchedulingError):
    """An id is unknown or used twice, a number is out of range; the message names it."""
