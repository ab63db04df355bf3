"""The trip sheet on paper."""

from __future__ import annotations

from decimal import Decimal

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from refit.paper.sheet import Sheet
from refit.trips import towing
from refit.trips.models import Load, Trip, TripStop
from refit.work import measures
from refit.work.models import Refit, Units
from refit.work.wording import say_count, say_day, say_elapsed, say_moment

from .pages import DeskRequest, manager_page
from .trips import sheet_stops, trip_of


def _said(load: Load) -> str:
    piece = load.handoff.piece
    parts = [f"{piece.name} ({piece.tag})", say_count(piece.parts, "part"), piece.travels_with]
    return ", ".join(part for part in parts if part)


def write_paper(request: DeskRequest, refit: Refit, trip: Trip) -> bytes:
    def clock(stop: TripStop) -> str:
        return f"{refit.local(stop.begin_at):%H:%M}–{refit.local(stop.leave_at):%H:%M}"

    now = request.desk.now
    sheet = Sheet(
        title=f"Trip of {say_day(trip.day, request.desk.today)}",
        boat=refit.boat.name,
        made=f"made {say_moment(now, refit.zone, request.desk.today)}",
        moment=now,
        size="Letter" if refit.units == Units.US else "A4",
    )
    road = measures.distance(refit.units).say(Decimal(round(trip.metres / 1000)))
    sheet.facts(
        [
            ("Rig", str(trip.rig or "")),
            ("Leave home", say_moment(trip.depart_at, refit.zone, request.desk.today)),
            ("Back home", say_moment(trip.back_at, refit.zone, request.desk.today)),
            ("The way", f"{road}, {say_elapsed(trip.minutes)}"),
        ]
    )
    if trip.tows:
        sheet.heading("Before driving")
        sheet.ticks(
            (line, str(number) in trip.checked) for number, line in enumerate(towing.BEFORE_DRIVING)
        )
        sheet.sentence(towing.RECHECK, quiet=True)
        sheet.caution(towing.DEFER)
    for row in sheet_stops(refit, trip, request.desk.today):
        stop = row.stop
        sheet.heading(f"{stop.number}. {stop.place}, {clock(stop)}")
        sheet.facts(
            [
                ("Address", stop.place.address),
                ("Telephone", row.phone),
                ("Ask for", stop.place.vendor.contact if stop.place.vendor else ""),
                ("Open", row.hours),
            ]
        )
        done = stop.ticked_at is not None
        sheet.ticks((f"Unload {_said(load)}", done) for load in row.off)
        sheet.ticks((f"Load {_said(load)}", done) for load in row.on)
        sheet.ticks((f"Papers: {line}", done) for line in row.papers)
        sheet.sentence(stop.note)
    sheet.signatures(["Driver"])
    return sheet.finish()


@require_safe
@manager_page()
def trip_paper(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    trip = trip_of(refit, pk)
    response = HttpResponse(write_paper(request, refit, trip), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="trip-{trip.day:%Y-%m-%d}.pdf"'
    return response
