"""From the refit to the problem that the trip planner solves, and back into rows.

Which moves: open handoffs that our crew carries and that are not under way, in the coming weeks.
A move whose window has passed, or that no day allows, gets the first day on which it can be driven
and is marked late. What the manager sets (a day, a rig with it: a trip that is kept) stands
on the handoffs; trips that have begun keep what they carry.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import ROUND_CEILING, Decimal
from math import ceil

from django.db.models import Q

from refit.custody.models import Carrier, Handoff, HandoffState
from refit.interchange.export import export_refit
from refit.planning.calendars import Clock
from refit.planning.opening import Opening, at_place
from refit.planning.travel import Roads
from refit.scheduling.problem import DAY, HOUR, Minutes
from refit.scheduling.trips import can_be_driven
from refit.scheduling.trips_problem import (
    DriverDay,
    Leg,
    TripMove,
    TripPlace,
    TripProblem,
    TripRig,
)
from refit.work.models import Driving, Refit, Rig

from .models import Trip, TripState

DEFAULT_SPACE = 20
"""Of a bed, in hundredths, for a piece whose size nobody has entered (common practice)."""
LATER_HOURS = (1, 2, 4, 8, 24, 48, 72, 120, 192, 312, 504, 816)


@dataclass(frozen=True)
class BuiltTrips:
    """``problem`` None: ``obstacle`` says what to enter first. ``late``: ids of moves."""

    problem: TripProblem | None
    clock: Clock
    version: int
    late: frozenset[str] = frozenset()
    obstacle: str = ""
    rows: Mapping[str, Handoff] = field(default_factory=dict)
    """The handoffs behind the moves."""


def build_trips(
    refit: Refit,
    driving: Driving,
    now: datetime,
    *,
    keep_today: bool = False,
    extra: Mapping[int, int] | None = None,
    free: Mapping[int, datetime] | None = None,
) -> BuiltTrips:
    """``keep_today``: trips of today are kept as if the manager had said so. ``extra``: minutes by
    which the packages of these ids may wait for their pieces. ``free``: when handoffs of these
    ids are free, if that is later than said."""
    version = Refit.objects.values_list("version", flat=True).get(pk=refit.pk)
    document = export_refit(refit, for_planning=True)
    clock = Clock.of(refit.start, refit.zone)
    rigs = list(Rig.objects.filter(refit=refit))
    home = next((p["name"] for p in document["places"] if p["kind"] == "home"), None)
    if home is None or not rigs:
        what = "a rig to drive with" if not rigs else "a place of the kind “home”"
        return BuiltTrips(None, clock, version, obstacle=f"Enter {what}; then trips are planned.")
    opening = Opening(document, clock, refit.today(now), 1)
    roads = Roads.of(document)
    kept = list(
        Trip.objects.filter(
            refit=refit, state=TripState.PLANNED, day=refit.today(now)
        ).prefetch_related("loads")
        if keep_today
        else ()
    )
    days = tuple(_days(refit, driving, clock, now))
    rows = {str(row.pk): row for row in _handoffs(refit)}
    moves = tuple(
        _moves(
            rows, driving, clock, now, rigs, kept, {day.id for day in days}, extra or {}, free or {}
        )
    )
    names = {home, *(m.origin for m in moves), *(m.destination for m in moves)}
    # One order of places, whatever order the moves come in: the same moves, the same trips.
    problem = TripProblem(
        moves=moves,
        rigs=tuple(_rig(rig) for rig in rigs),
        days=days,
        places=tuple(TripPlace(name, opening.calendars[at_place(name)]) for name in sorted(names)),
        legs=tuple(_legs(roads, sorted(names))),
        home=home,
        # The refit's minutes are for both ends of a move: a direct drive takes what the plan says.
        stop_minutes=roads.driving.each_end,
        per_hour=_hundredths(driving.per_hour),
        per_trip=_hundredths(driving.per_trip),
        per_night=_hundredths(driving.per_night),
        drivers=driving.drivers,
        nights=driving.nights,
    )
    problem, late = _let_late(problem)
    return BuiltTrips(problem, clock, version, late, rows=rows)


def _hundredths(money: Decimal) -> int:
    return int((Decimal(money) * 100).to_integral_value(ROUND_CEILING))


def _days(refit: Refit, driving: Driving, clock: Clock, now: datetime) -> Iterable[DriverDay]:
    """Working days from today on; none on which a trip has begun already."""
    begun = set(
        Trip.objects.filter(refit=refit, state=TripState.UNDER_WAY).values_list("day", flat=True)
    )
    today = refit.today(now)
    for number in range(driving.weeks * 7):
        day = today + timedelta(days=number)
        if day.weekday() > (5 if driving.saturdays else 4) or day in begun:
            continue
        start = clock.minutes(datetime.combine(day, driving.day_starts, refit.zone))
        end = clock.minutes(datetime.combine(day, driving.day_ends, refit.zone))
        start = max(start, clock.minutes_up(now))
        if start < end:
            yield DriverDay(day.isoformat(), start, end)


def _rig(rig: Rig) -> TripRig:
    return TripRig(
        id=str(rig.pk),
        space=100,
        weight=1_000_000 if rig.bed_load_kg is None else int(rig.bed_load_kg),
        tows=rig.tows_boat,
        per_km=_hundredths(rig.per_km),
    )


def _handoffs(refit: Refit) -> Iterable[Handoff]:
    return (
        Handoff.objects.filter(
            Q(loads=None) | Q(loads__trip__state=TripState.PLANNED),
            refit=refit,
            carrier=Carrier.CREW,
            state__in=[HandoffState.PLANNED, HandoffState.READY],
        )
        .select_related("piece", "origin", "destination", "for_package")
        .order_by("pk")
    )


def _moves(
    rows: Mapping[str, Handoff],
    driving: Driving,
    clock: Clock,
    now: datetime,
    rigs: list[Rig],
    kept: list[Trip],
    days: set[str],
    extra: Mapping[int, int],
    free_later: Mapping[int, datetime],
) -> Iterable[TripMove]:
    last = now + timedelta(weeks=driving.weeks)
    on_kept = {load.handoff_id: trip for trip in kept for load in trip.loads.all()}
    for handoff in rows.values():
        free = now if handoff.state == HandoffState.READY else handoff.free_at or now
        free = free_later.get(handoff.pk, free)
        if free > last:
            continue
        due = handoff.needed_at
        if due is not None and handoff.for_package_id is not None:
            due += timedelta(minutes=extra.get(handoff.for_package_id, 0))
        trip = on_kept.get(handoff.pk)
        pinned = trip.day if trip is not None else handoff.drive_on
        with_rig = trip.rig_id if trip is not None else handoff.drive_with_id
        day = None if pinned is None else pinned.isoformat()
        yield TripMove(
            id=str(handoff.pk),
            origin=handoff.origin.name,
            destination=handoff.destination.name,
            free_at=max(clock.minutes_up(free), clock.minutes_up(now)),
            due=clock.minutes(due) if due is not None else clock.minutes(last) + 7 * DAY,
            space=0 if handoff.piece.is_boat else _space(handoff, rigs),
            weight=0 if handoff.piece.is_boat else ceil(handoff.piece.weight_kg or 0),
            on_trailer=handoff.piece.is_boat,
            day=day if day in days else None,
            rig=str(with_rig) if with_rig and day in days else None,
        )


def _space(handoff: Handoff, rigs: list[Rig]) -> int:
    """The share of the smallest bed that its two longest sides cover; what sticks out of it
    behind counts as the whole bed."""
    piece = handoff.piece
    sides = sorted((s for s in (piece.length_m, piece.width_m, piece.height_m) if s), reverse=True)
    beds = [
        float(rig.bed_length_m * rig.bed_width_m)
        for rig in rigs
        if rig.bed_length_m and rig.bed_width_m
    ]
    if len(sides) < 2 or not beds:
        return DEFAULT_SPACE
    return min(100, max(1, ceil(100 * float(sides[0] * sides[1]) / min(beds))))


def _legs(roads: Roads, names: list[str]) -> Iterable[Leg]:
    for origin in names:
        for destination in names:
            if origin == destination:
                continue
            way = roads.way(origin, destination)
            minutes: Minutes = max(0, way.minutes - roads.driving.loading)
            kilometres = way.kilometres
            if kilometres is None:  # only a time is known: as far as one gets in it
                kilometres = minutes * roads.driving.kmh / 60
            towed = roads.way(origin, destination, towed=True)
            towing: Minutes = max(0, towed.minutes - roads.driving.loading)
            yield Leg(origin, destination, ceil(kilometres * 1000), minutes, towing)


def _let_late(problem: TripProblem) -> tuple[TripProblem, frozenset[str]]:
    """Give moves that no trip can carry in time the first later day on which one could."""
    late: set[str] = set()
    for hours in LATER_HOURS:
        able = can_be_driven(problem)
        stuck = {move for move, can in able.items() if not can}
        if not stuck:
            break
        start = problem.days[0].start if problem.days else 0
        late |= stuck
        problem = replace(
            problem,
            moves=tuple(
                replace(m, due=max(m.due, m.free_at, start) + hours * HOUR) if m.id in stuck else m
                for m in problem.moves
            ),
        )
    stuck = {move for move, can in can_be_driven(problem).items() if not can}
    return problem, frozenset(late - stuck)
