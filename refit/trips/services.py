"""Planning trips, keeping them, and doing what a stop of one does."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.core.files.base import File
from django.db import transaction

from refit.custody import services as custody
from refit.custody.models import Handoff, HandoffState
from refit.custody.transitions import IllegalMove
from refit.nudges import nudge
from refit.scheduling.trips import one_trip_a_move, plan_trips
from refit.scheduling.trips_check import check_trips
from refit.scheduling.trips_problem import SCALE, PlannedTrip, TripPlan, TripProblem
from refit.work.models import (
    Actor,
    Booking,
    BookingKind,
    Driving,
    Place,
    Refit,
    WorkPackage,
    record,
)
from refit.work.services import change_row

from .build import BuiltTrips, build_trips
from .child import plan_in_child
from .float import Shift, use_float
from .models import Load, StopReport, Trip, TripState, TripStop

log = logging.getLogger(__name__)
NOT_YET_SENT = [HandoffState.PLANNED, HandoffState.READY]
AT_ONCE = 0.3
IN_THE_WORKER = 4.0


def driving_of(refit: Refit) -> Driving:
    return Driving.objects.get_or_create(refit=refit)[0]


def replan_trips(
    *, refit: Refit, now: datetime, thoroughly: bool = False, by_itself: bool = False
) -> str:
    """Plan the trips of the coming weeks anew; why not, as a sentence, if that cannot be.

    Pinned trips keep day, rig and moves; those that have begun are not touched. At once it takes
    a second or two and asks for more thought in the background; ``thoroughly`` is that thought, in
    a process of its own. ``by_itself``: nobody asked, so today's trips stay too; somebody may be
    loading. A plan that is not true by `check_trips` is not stored, nor one that is overtaken.
    """
    driving = driving_of(refit)
    keep_today = thoroughly or by_itself
    built = build_trips(refit, driving, now, keep_today=keep_today)
    if built.problem is None:
        return built.obstacle

    def think(problem: TripProblem) -> TripPlan:
        if thoroughly:
            return plan_in_child(problem, seconds=IN_THE_WORKER)
        return plan_trips(problem, seconds=AT_ONCE)

    alone, plan = one_trip_a_move(built.problem), think(built.problem)
    shifts: list[Shift] = []
    if driving.use_float:
        patience = 60.0 if thoroughly else 2.0
        built, plan, shifts = use_float(
            refit, driving, now, built, plan, think, keep_today, patience
        )
    assert built.problem is not None
    wrong = check_trips(built.problem, plan)
    if wrong:
        log.error("trips of refit %s failed their check: %s", refit.pk, "; ".join(wrong))
        return "The planned trips failed their own check and were not stored. Please report it."
    with transaction.atomic():
        _store(refit, driving, built, plan, alone, shifts, now)
    if not plan.proved and not thoroughly:
        from .tasks import think_trips_over

        nudge(think_trips_over, refit.pk)
    return ""


def _store(
    refit: Refit,
    driving: Driving,
    built: BuiltTrips,
    plan: TripPlan,
    alone: TripPlan,
    shifts: Sequence[Shift],
    now: datetime,
) -> None:
    if Refit.objects.select_for_update().get(pk=refit.pk).version != built.version:
        return  # the sweep plans them from what is now
    planned_before = Trip.objects.filter(refit=refit, state=TripState.PLANNED)
    old = {(t.day, t.rig_id): t for t in planned_before.order_by("id")}
    places = dict(Place.objects.filter(refit=refit).values_list("name", "pk"))
    shapes = {trip.pk: _shape(trip) for trip in old.values()}
    new = [_trip(refit, built, planned) for planned in plan.trips]
    kept = [any(built.rows[m].drive_with_id for m in planned.moves) for planned in plan.trips]
    keys = {(trip.day, trip.rig_id) for trip in new}
    planned_before.exclude(pk__in=[old[key].pk for key in keys & old.keys()]).delete()
    # First everything that changes lets go of its loads: a handoff is on one trip at a time.
    changed = []
    for trip, planned, pinned in zip(new, plan.trips, kept, strict=True):
        trip.pinned = pinned
        known = old.get((trip.day, trip.rig_id))
        if known is not None:
            if shapes[known.pk] == _shape_of(trip, built, planned, places):
                if known.pinned != pinned:
                    Trip.objects.filter(pk=known.pk).update(pinned=pinned)
                continue  # a sheet that somebody has open stays the one it was
            trip.pk, trip.checked = known.pk, known.checked
            known.stops.all().delete()
        changed.append((trip, planned))
    for trip, planned in changed:
        trip.save()
        _stops(trip, built, planned, places)
    driving.planned_version, driving.planned_at = built.version, now
    driving.saved = {
        "trips": [len(alone.trips), len(plan.trips)],
        "metres": [alone.metres, plan.metres],
        "minutes": [alone.minutes, plan.minutes],
        "money": [str(_money(alone.cost)), str(_money(plan.cost))],
        "left": [int(move) for move in plan.left],
        "proved": plan.proved,
        "shifts": [shift.as_json() for shift in shifts],
    }
    driving.save(update_fields=["planned_version", "planned_at", "saved"])


def _shape(trip: Trip) -> Any:
    loads = trip.loads.values_list("handoff_id", "on__number", "off__number", "late")
    stops = trip.stops.values_list("place_id", "arrive_at", "begin_at", "leave_at")
    return trip.depart_at, trip.back_at, list(stops), sorted(loads)


def _shape_of(trip: Trip, built: BuiltTrips, planned: PlannedTrip, places: dict[str, int]) -> Any:
    moment = built.clock.moment
    on = {move: number for number, stop in enumerate(planned.stops, 1) for move in stop.load}
    loads = [
        (int(move), on[move], number, move in built.late)
        for number, stop in enumerate(planned.stops, 1)
        for move in stop.unload
    ]
    stops = [
        (places[stop.place], moment(stop.arrive), moment(stop.begin), moment(stop.leave))
        for stop in planned.stops
    ]
    return trip.depart_at, trip.back_at, stops, sorted(loads)


def _money(cost: int) -> Decimal:
    return (Decimal(cost) / SCALE / 100).quantize(Decimal("0.01"))


def _trip(refit: Refit, built: BuiltTrips, planned: PlannedTrip) -> Trip:
    moment = built.clock.moment
    return Trip(
        refit=refit,
        rig_id=int(planned.rig),
        day=datetime.fromisoformat(planned.day).date(),
        depart_at=moment(planned.depart),
        back_at=moment(planned.back),
        metres=planned.metres,
        minutes=planned.minutes,
        cost=_money(planned.cost),
        tows=planned.tows,
        nights=planned.nights,
    )


def _stops(trip: Trip, built: BuiltTrips, planned: PlannedTrip, places: dict[str, int]) -> None:
    moment = built.clock.moment
    on: dict[str, TripStop] = {}
    for number, stop in enumerate(planned.stops, 1):
        row = TripStop.objects.create(
            trip=trip, number=number, place_id=places[stop.place],
            arrive_at=moment(stop.arrive), begin_at=moment(stop.begin),
            leave_at=moment(stop.leave),
        )  # fmt: skip
        on |= dict.fromkeys(stop.load, row)
        for move in stop.unload:
            Load.objects.create(
                trip=trip, handoff_id=int(move), on=on[move], off=row, late=move in built.late
            )


@transaction.atomic
def pin_trip(*, trip: Trip, pinned: bool, actor: Actor, now: datetime) -> None:
    """Keep the trip on its day with what it carries, or leave it to the planner again.

    Written on each move it carries, so that it outlives the trip and can be taken back there.
    """
    facts = {"drive_on": trip.day, "drive_with": trip.rig_id if pinned else None}
    if not pinned:
        facts["drive_on"] = None
    for load in trip.loads.select_related("handoff"):
        _set(load.handoff, facts, actor, now)
    Trip.objects.filter(pk=trip.pk).update(pinned=pinned)
    trip.pinned = pinned


@transaction.atomic
def pin_move(*, handoff: Handoff, day: date | None, actor: Actor, now: datetime) -> None:
    """Drive the move on ``day`` and on no other; None leaves it to the planner."""
    _set(handoff, {"drive_on": day, "drive_with": None}, actor, now)


def _set(handoff: Handoff, facts: dict[str, Any], actor: Actor, now: datetime) -> None:
    change_row(
        refit=handoff.refit, row=handoff, facts=facts, actor=actor, now=now,
        verb="set the day of", replan=False,
    )  # fmt: skip


@transaction.atomic
def apply_shifts(*, refit: Refit, actor: Actor, now: datetime) -> list[str]:
    """Write the shifts that the trips use into the plan: each package starts not before then.

    One entry in the journal each, so that each can be taken back there. The codes of the packages;
    those that have got a booking or have begun meanwhile are left alone.
    """
    driving = driving_of(refit)
    written = []
    for shift in map(Shift.of_json, driving.saved.get("shifts", [])):
        package = WorkPackage.objects.filter(refit=refit, pk=shift.package, started_at=None).first()
        if package is None or Booking.objects.filter(package=package).exists():
            continue
        booking = {
            "kind": BookingKind.NOT_BEFORE, "at": shift.at, "agreed_with": "",
            "note": "moved inside its float, so that drives are shared",
        }  # fmt: skip
        change_row(
            refit=refit, row=package, facts={"booking": booking}, actor=actor, now=now,
            note="moved inside its float, so that drives are shared",
        )  # fmt: skip
        written.append(package.code)
    driving.saved["shifts"] = []
    driving.save(update_fields=["saved"])
    return written


@transaction.atomic
def tick_checks(*, trip: Trip, checks: Sequence[str], actor: Actor, now: datetime) -> None:
    Trip.objects.filter(pk=trip.pk).update(checked=list(checks))
    record(
        refit=trip.refit, actor=actor, now=now, verb="looked over", subject=trip,
        before={"ticked": len(trip.checked)}, after={"ticked": len(checks)}, replan=False,
    )  # fmt: skip


def tick_stop(
    *,
    stop: TripStop,
    key: str,
    actor: Actor,
    now: datetime,
    not_loaded: Sequence[int] = (),
    note: str = "",
    pictures: Sequence[File[Any]] = (),
) -> list[str]:
    """The stop is done: what was to be unloaded is received, what was to be loaded is sent.

    The same ``key`` again changes nothing. ``not_loaded``: ids of handoffs that stayed behind; a
    piece that stayed behind is not received later either. The sentences are what could not be
    done, because the record says otherwise; the rest is done.
    """
    said: list[str] = []
    with transaction.atomic():
        trip = Trip.objects.select_for_update().select_related("refit").get(pk=stop.trip_id)
        if StopReport.objects.filter(key=key).exists():
            return said
        StopReport.objects.create(stop=stop, key=key, at=now)
        unload = [load.handoff for load in stop.unloaded.select_related("handoff__piece")]
        load = [load.handoff for load in stop.loaded.select_related("handoff__piece")]
        left_behind = set(not_loaded)
        for handoff in unload:
            if handoff.state == HandoffState.UNDER_WAY:
                said += _try(custody.receive, handoff, actor, now, note, pictures)
                pictures = ()
        for handoff in load:
            if handoff.pk in left_behind:
                said.append(f"{handoff.piece.name} stayed at {handoff.origin}.")
            elif handoff.state in (HandoffState.PLANNED, HandoffState.READY):
                said += _try(custody.send, handoff, actor, now, note, pictures)
                pictures = ()
        TripStop.objects.filter(pk=stop.pk).update(
            ticked_at=now, ticked_by=actor.name, note=note.strip()
        )
        open_stops = trip.stops.filter(ticked_at=None).exists()
        trip.state = TripState.UNDER_WAY if open_stops else TripState.DONE
        trip.save(update_fields=["state"])
        Load.objects.filter(trip=trip, handoff_id__in=left_behind).delete()
        if trip.state == TripState.DONE:  # what nobody took goes on another trip
            trip.loads.filter(handoff__state__in=NOT_YET_SENT).delete()
        record(
            refit=trip.refit, actor=actor, now=now, verb="ticked", subject=stop,
            after={"unloaded": len(unload), "loaded": len(load) - len(left_behind)},
            note=note.strip(), replan=False,
        )  # fmt: skip
    return said


@transaction.atomic
def leave_rest(*, trip: Trip, actor: Actor, now: datetime) -> int:
    """The day went wrong: only what is aboard is still delivered. How many moves are given back
    to the planner; stops at which nothing is left to do go."""
    trip = Trip.objects.select_for_update().select_related("refit").get(pk=trip.pk)
    given_back = trip.loads.filter(handoff__state__in=NOT_YET_SENT)
    number = given_back.count()
    given_back.delete()
    for stop in trip.stops.filter(ticked_at=None):
        if not stop.loaded.exists() and not stop.unloaded.exists():
            stop.delete()
    if not trip.stops.filter(ticked_at=None).exists():
        trip.state = TripState.DONE
        trip.save(update_fields=["state"])
    record(
        refit=trip.refit, actor=actor, now=now, verb="cut short", subject=trip,
        after={"moves given back": number}, replan=False,
    )  # fmt: skip
    return number


def _try(
    act: Any, handoff: Handoff, actor: Actor, now: datetime, note: str, pictures: Any
) -> list[str]:
    try:
        with transaction.atomic():
            act(handoff=handoff, actor=actor, now=now, condition=note, pictures=pictures)
    except IllegalMove as error:
        return [str(error)]
    return []
