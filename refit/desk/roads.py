"""Road times: what the planner takes the road between two places to be, and entering it better.

Listed are the pairs between which a piece has to move by the plan, the first to be driven first,
and what was entered for others. An entry holds both ways unless the way back has its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from refit.interchange.document import DistanceRow
from refit.planning.models import Plan, PlannedMove
from refit.planning.travel import Driving, Known, Roads, Way
from refit.work import measures
from refit.work.models import Distance, Place, Refit
from refit.work.wording import say_elapsed

from .acts import remove_and_go, settle_and_say
from .forms_roads import NewRoadForm, RoadForm
from .pages import DeskRequest, actor_of, manager_page


@dataclass(frozen=True)
class Pair:
    """A road with what is assumed of it. ``entered``: the row that says so, if there is one.

    ``one_way``: the way back has a row of its own. ``moves``, ``first``: moves of the plan that
    take this road, and when the first leaves.
    """

    origin: Place
    destination: Place
    entered: Distance | None
    way: Way
    said: str
    one_way: bool
    moves: int
    first: datetime | None
    form: RoadForm
    is_open: bool


@require_safe
@manager_page()
def roads(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _page(request, refit)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def road(request: DeskRequest, refit: Refit, origin: int, destination: int) -> HttpResponse:
    """One pair of the list, opened; POST enters what is known about it."""
    if origin == destination:
        raise Http404
    first, second = (get_object_or_404(refit.places, pk=pk) for pk in (origin, destination))
    row = Distance.objects.filter(refit=refit, origin=first, destination=second).first()
    form = _form(refit, row or Distance(refit=refit, origin=first, destination=second), request)
    return _enter(request, refit, form) or _page(request, refit, opened=form)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def road_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    form = NewRoadForm(request.POST or None, refit=refit, instance=Distance(refit=refit))
    return _enter(request, refit, form) or _page(request, refit, new=form)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def road_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(
        Distance.objects.select_related("origin", "destination"), refit=refit, pk=pk
    )
    done = reverse("desk:roads", args=[refit.slug])
    return remove_and_go(request, refit, row=row, back=done, done=done)


def _enter(request: DeskRequest, refit: Refit, form: RoadForm) -> HttpResponse | None:
    """Store the form, and go to the list; None if there is something to say about it first."""
    if request.method != "POST" or not form.save_facts(
        actor=actor_of(request), now=request.desk.now
    ):
        return None
    settle_and_say(request, refit, f"{form.instance} is saved.")
    return redirect("desk:roads", refit.slug)


def _form(refit: Refit, row: Distance, request: DeskRequest | None = None) -> RoadForm:
    return RoadForm(
        (request.POST or None) if request else None,
        refit=refit,
        instance=row,
        auto_id=f"id_{row.origin_id}_{row.destination_id}_%s",
    )


def _page(
    request: DeskRequest,
    refit: Refit,
    *,
    opened: RoadForm | None = None,
    new: NewRoadForm | None = None,
) -> HttpResponse:
    pairs = list(_pairs(refit, request.desk.plan, opened))
    context = {
        "refit": refit,
        "pairs": pairs,
        "guesses": sum(pair.way.guess for pair in pairs),
        "form": new or NewRoadForm(refit=refit, instance=Distance(refit=refit)),
    }
    return render(request, "desk/roads.html", context)


def _pairs(refit: Refit, plan: Plan | None, opened: RoadForm | None) -> Iterator[Pair]:
    places = {place.pk: place for place in Place.objects.filter(refit=refit)}
    rows = {
        (row.origin_id, row.destination_id): row for row in Distance.objects.filter(refit=refit)
    }
    known = roads_of(refit, places, rows.values())
    departs = _departures(plan)
    asked = None if opened is None else opened.instance
    asked_way = [] if asked is None else [(asked.origin_id, asked.destination_id)]
    done: set[frozenset[int]] = set()
    for there in [*departs, *asked_way, *rows]:
        if frozenset(there) in done:
            continue
        done.add(frozenset(there))
        both = (there, there[::-1])
        ways = [one for one in both if one in rows or one in asked_way] or [there]
        for one in ways:
            taken = both if len(ways) == 1 else (one,)
            times = [time for each in taken for time in departs.get(each, ())]
            origin, destination = places[one[0]], places[one[1]]
            row = rows.get(one)
            way = known.way(origin.name, destination.name)
            form = opened if one in asked_way else None
            blank = Distance(refit=refit, origin=origin, destination=destination)
            yield Pair(
                origin=origin,
                destination=destination,
                entered=row,
                way=way,
                said=say_way(way, known.driving, refit.units),
                one_way=len(ways) > 1,
                moves=len(times),
                first=min(times, default=None),
                form=form or _form(refit, row or blank),
                is_open=form is not None,
            )


def _departures(plan: Plan | None) -> dict[tuple[int, int], list[datetime]]:
    """When pieces leave, by the places they go between; the pair that is driven first is first."""
    found: dict[tuple[int, int], list[datetime]] = {}
    if plan is not None:
        moves = PlannedMove.objects.filter(plan=plan).order_by("depart", "id")
        for origin, destination, depart in moves.values_list("origin", "destination", "depart"):
            found.setdefault((origin, destination), []).append(depart)
    return found


def roads_of(refit: Refit, places: dict[int, Place], rows: Iterable[Distance]) -> Roads:
    """The roads as the planner will reckon them, without exporting the whole refit."""
    return Roads(
        Driving(float(refit.road_factor), refit.road_speed_kmh, refit.loading_minutes),
        {
            place.name: None
            if place.latitude is None or place.longitude is None
            else (float(place.latitude), float(place.longitude))
            for place in places.values()
        },
        [
            DistanceRow(
                origin=places[row.origin_id].name,
                destination=places[row.destination_id].name,
                kilometres=None if row.kilometres is None else str(row.kilometres),
                minutes=row.minutes,
            )
            for row in rows
        ],
    )


def say_way(way: Way, driving: Driving, units: str) -> str:
    """“55 min door to door: 35 min driving as entered and 20 min loading.”"""
    total = say_elapsed(way.minutes)
    loading = f"{say_elapsed(driving.loading)} loading"
    unit = measures.distance(units)
    places = 1 if way.known is Known.COORDINATES else 2
    road = "" if way.kilometres is None else unit.say(Decimal(f"{way.kilometres:.{places}f}"))
    match way.known:
        case Known.MINUTES:
            said = f"{say_elapsed(way.minutes - driving.loading)} driving, as entered"
            said += f" ({road})" if road else ""
        case Known.KILOMETRES:
            said = f"{road} of road, as entered, at {driving.kmh} km/h"
        case Known.COORDINATES:
            said = (
                f"{road} by the coordinates (straight line × {driving.factor:g}) at"
                f" {driving.kmh} km/h"
            )
        case Known.NOTHING:
            return f"{total} door to door, which is a guess: a place has no coordinates."
    return f"{total} door to door: {said}, and {loading}."
