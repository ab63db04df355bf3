"""Trips: what is driven when and with what aboard; the sheet that goes along; its ticks."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.contrib.staticfiles import finders
from django.db.models import Prefetch
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.accounts.models import Role
from refit.custody.models import Handoff
from refit.custody.pictures import NotAPicture
from refit.planning.services import settle
from refit.trips import services, towing
from refit.trips.float import Shift
from refit.trips.models import Load, Trip, TripState, TripStop
from refit.work import measures
from refit.work.hours import write_hours
from refit.work.models import Driving, Refit
from refit.work.wording import say_day, say_elapsed, say_list, say_money

from .acts import edit_row, settle_and_say
from .forms_trips import ChecksForm, DayForm, DrivingForm, TickForm
from .pages import DeskRequest, actor_of, manager_page
from .rigs import towing_of
from .trip_needs import gaps_of, papers_at, sizes_of


@dataclass(frozen=True)
class Saved:
    """One figure without sharing drives and with it, and what that saves."""

    label: str
    alone: str
    shared: str
    less: str


def say_saved(refit: Refit, saved: dict[str, Any]) -> list[Saved]:
    if not saved:
        return []
    road = measures.distance(refit.units)

    def kilometres(metres: int) -> str:
        return road.say(Decimal(round(metres / 1000)))

    rows: list[tuple[str, Any, Any, Any]] = [
        ("Trips", *saved["trips"], str),
        ("On the road", *saved["metres"], kilometres),
        ("Driver's time", *saved["minutes"], lambda minutes: f"{minutes / 60:.0f} h"),
        (
            "Money",
            Decimal(saved["money"][0]),
            Decimal(saved["money"][1]),
            lambda money: say_money(Decimal(round(money)), refit.currency),
        ),
    ]
    return [
        Saved(label, say(alone), say(shared), say(alone - shared))
        for label, alone, shared, say in rows
    ]


def trips_with_stops(refit: Refit) -> Any:
    loads = Load.objects.select_related("handoff__piece", "handoff__origin")
    stops = TripStop.objects.select_related("place__vendor").prefetch_related(
        Prefetch("loaded", loads),
        Prefetch("unloaded", Load.objects.select_related("handoff__piece", "handoff__destination")),
        "place__hours",
    )
    return (
        Trip.objects.filter(refit=refit).select_related("rig").prefetch_related(
            Prefetch("stops", stops)
        )
    )  # fmt: skip


@require_safe
@manager_page()
def trips(request: DeskRequest, refit: Refit) -> HttpResponse:
    driving = Driving.objects.filter(refit=refit).first()
    rows = list(trips_with_stops(refit).exclude(state=TripState.DONE))
    saved = driving.saved if driving is not None else {}
    left = Handoff.objects.filter(pk__in=[0, *saved.get("left", ())]).with_names()
    context = {
        "refit": refit,
        "driving": driving,
        "trips": rows,
        "pins": Handoff.objects.open()
        .with_names()
        .filter(refit=refit, drive_on__isnull=False, drive_with=None),
        "saved": say_saved(refit, saved),
        "proved": saved.get("proved", False),
        "left": list(left.open()),
        "shifts": [Shift.of_json(kept) for kept in saved.get("shifts", ())],
        "stale": driving is not None
        and driving.planned_at is not None
        and driving.planned_version < refit.version,
        "done": Trip.objects.filter(refit=refit, state=TripState.DONE).count(),
    }
    return render(request, "desk/trips.html", context)


@require_POST
@manager_page()
def trips_plan(request: DeskRequest, refit: Refit) -> HttpResponse:
    settle(refit=refit, now=request.desk.now)
    said = services.replan_trips(refit=refit, now=request.desk.now)
    if said:
        messages.warning(request, said)
    else:
        messages.success(request, "The trips are planned anew; those you keep stayed as they are.")
    return redirect("desk:trips", refit.slug)


@require_POST
@manager_page()
def trips_float(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Put the packages off that the trips make wait; the next plan then keeps to it."""
    codes = services.apply_shifts(refit=refit, actor=actor_of(request), now=request.desk.now)
    if codes:
        settle_and_say(
            request,
            refit,
            f"{say_list(codes)} now wait for their trips; the journal takes it back.",
        )
        services.replan_trips(refit=refit, now=request.desk.now)
    else:
        messages.info(request, "Nothing was left to put off.")
    return redirect("desk:trips", refit.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def trips_settings(request: DeskRequest, refit: Refit) -> HttpResponse:
    row = Driving.objects.filter(refit=refit).first() or Driving(refit=refit)
    return edit_row(
        request,
        refit,
        form=DrivingForm(request.POST or None, refit=refit, instance=row),
        template="desk/trips_settings.html",
        context={},
        what=lambda: "Saved. Plan the trips anew to use it.",
        to=lambda: reverse("desk:trips", args=[refit.slug]),
    )


@dataclass
class SheetStop:
    """A stop as the driver reads it."""

    stop: TripStop
    off: list[Load]
    on: list[Load]
    hours: str
    phone: str
    geo: str
    papers: list[str]
    form: TickForm | None = field(default=None)


def sheet_stops(
    refit: Refit, trip: Trip, today: date, *, bound: tuple[int, TickForm] | None = None
) -> list[SheetStop]:
    rows, sizes, bare = [], sizes_of(refit, trip), gaps_of(refit, trip, today)
    for stop in trip.stops.all():
        place = stop.place
        day = refit.local(stop.arrive_at).weekday()
        spans = [
            (f"{h.opens:%H:%M}", f"{h.closes:%H:%M}") for h in place.hours.all() if h.weekday == day
        ]
        on = list(stop.loaded.all())
        form = None
        if stop.ticked_at is None:
            form = bound[1] if bound and bound[0] == stop.pk else _tick_form(stop)
        rows.append(
            SheetStop(
                stop=stop,
                off=list(stop.unloaded.all()),
                on=on,
                hours=write_hours(spans) if spans else "",
                phone=place.phone or (place.vendor.phone if place.vendor else ""),
                papers=papers_at(stop, sizes, bare),
                geo=f"geo:{place.latitude},{place.longitude}" if place.latitude is not None else "",
                form=form,
            )
        )
    return rows


def _tick_form(stop: TripStop, *args: Any) -> TickForm:
    loads = [(load.handoff_id, load.handoff.piece.name) for load in stop.loaded.all()]
    return TickForm(
        *args, loads=loads, initial={"key": str(uuid.uuid4())}, auto_id=f"stop_{stop.pk}_%s"
    )


def trip_of(refit: Refit, pk: int) -> Trip:
    trip: Trip = get_object_or_404(trips_with_stops(refit), pk=pk)
    return trip


@require_safe
@manager_page()
def trip(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return _trip_page(request, refit, trip_of(refit, pk))


def _trip_page(
    request: DeskRequest, refit: Refit, row: Trip, bound: tuple[int, TickForm] | None = None
) -> HttpResponse:
    rig = row.rig
    context = {
        "refit": refit,
        "trip": row,
        "stops": sheet_stops(refit, row, request.desk.today, bound=bound),
        "road": measures.distance(refit.units).say(Decimal(round(row.metres / 1000))),
        "time": say_elapsed(row.minutes),
        "cost": say_money(Decimal(round(row.cost)), refit.currency),
        "checks": ChecksForm.of(row) if row.tows else None,
        "towing": towing_of(rig, refit) if rig is not None and row.tows else [],
        "recheck": towing.RECHECK,
        "defer": towing.DEFER,
    }
    return render(request, "desk/trip.html", context)


@require_POST
@manager_page()
def trip_pin(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Trip, refit=refit, pk=pk)
    pinned = request.POST.get("keep") == "yes"
    services.pin_trip(trip=row, pinned=pinned, actor=actor_of(request), now=request.desk.now)
    said = "stays as it is" if pinned else "may be planned anew"
    messages.success(request, f"The trip of {say_day(row.day, request.desk.today)} {said}.")
    return redirect("desk:trips", refit.slug)


@require_POST
@manager_page()
def trip_move_day(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Handoff.objects.open().with_names(), refit=refit, pk=pk)
    form = DayForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Give a day, like 2026-12-04.")
        return redirect("desk:trips", refit.slug)
    day = form.cleaned_data["day"]
    services.pin_move(handoff=row, day=day, actor=actor_of(request), now=request.desk.now)
    said = f"is driven on {say_day(day, request.desk.today)}" if day else "is driven on any day"
    said = services.replan_trips(refit=refit, now=request.desk.now) or f"{row.piece.name} {said}."
    messages.success(request, said)
    return redirect("desk:trips", refit.slug)


@require_POST
@manager_page(Role.CREW)
def trip_checks(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Trip, refit=refit, pk=pk)
    form = ChecksForm(request.POST)
    if form.is_valid():
        services.tick_checks(
            trip=row,
            checks=form.cleaned_data["checks"],
            actor=actor_of(request),
            now=request.desk.now,
        )
        messages.success(request, "The list is kept.")
    return redirect("desk:trip", refit.slug, pk)


@require_POST
@manager_page(Role.CREW)
def trip_tick(request: DeskRequest, refit: Refit, pk: int, stop: int) -> HttpResponse:
    """A stop is done. From a page without scripts, or from the phone's queue (wants JSON)."""
    row = trip_of(refit, pk)
    at = next((one for one in row.stops.all() if one.pk == stop), None)
    if at is None:
        raise Http404
    form = _tick_form(at, request.POST, request.FILES)
    quiet = request.headers.get("Accept") == "application/json"
    if not form.is_valid():
        if quiet:
            return JsonResponse({"errors": form.errors}, status=422)
        return _trip_page(request, refit, row, bound=(at.pk, form))
    picture = form.cleaned_data["picture"]
    try:
        said = services.tick_stop(
            stop=at,
            key=form.cleaned_data["key"],
            actor=actor_of(request),
            now=request.desk.now,
            not_loaded=form.cleaned_data.get("stayed", ()),
            note=form.said(request.desk.now, refit.zone),
            pictures=[picture] if picture else [],
        )
    except NotAPicture as error:
        form.add_error("picture", str(error))
        if quiet:
            return JsonResponse({"errors": form.errors}, status=422)
        return _trip_page(request, refit, row, bound=(at.pk, form))
    settle(refit=refit, now=request.desk.now)
    if quiet:
        return JsonResponse({"said": said})
    for line in said:
        messages.warning(request, line)
    messages.success(request, f"{at.place} is done.")
    return redirect("desk:trip", refit.slug, pk)


@require_POST
@manager_page(Role.CREW)
def trip_rest(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Trip, refit=refit, pk=pk)
    number = services.leave_rest(trip=row, actor=actor_of(request), now=request.desk.now)
    services.replan_trips(refit=refit, now=request.desk.now)
    what = "move is" if number == 1 else "moves are"
    messages.success(request, f"{number} {what} planned into other trips; deliver what is aboard.")
    return redirect("desk:trips", refit.slug)


@require_safe
@manager_page()
def trips_worker(request: DeskRequest, refit: Refit) -> HttpResponse:
    """The service worker, served below the trips so that it may answer for them and no more."""
    path = finders.find("js/trips-worker.js")
    assert isinstance(path, str)
    with open(path, encoding="utf-8") as script:
        return HttpResponse(script.read(), content_type="text/javascript")
