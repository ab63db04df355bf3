"""Places and vendors; our crew; the zones of the boat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Model
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from refit.work.hours import write_hours
from refit.work.models import CrewMember, OpeningHours, Place, Refit, Weekday, Zone

from .acts import edit_row, remove_and_go
from .forms import FactsForm
from .forms_places import CrewForm, PlaceForm, ZoneForm
from .pages import DeskRequest, manager_page


def say_hours(hours: list[OpeningHours]) -> str:
    """“Mon–Fri 08:00–17:00; Sat 09:00–12:00”: days with the same hours are said together."""
    by_day: dict[int, list[list[str]]] = {}
    for span in hours:
        by_day.setdefault(span.weekday, []).append([f"{span.opens:%H:%M}", f"{span.closes:%H:%M}"])
    runs: list[tuple[int, int, str]] = []
    for day in sorted(by_day):
        said = write_hours(by_day[day])
        if runs and runs[-1][1] == day - 1 and runs[-1][2] == said:
            runs[-1] = (runs[-1][0], day, said)
        else:
            runs.append((day, day, said))

    def name(day: int) -> str:
        return Weekday(day).label[:3]

    return "; ".join(
        f"{name(first)}{f'–{name(last)}' if last > first else ''} {said}"
        for first, last, said in runs
    )


@dataclass(frozen=True)
class PlaceRow:
    place: Place
    hours: str
    closures: list[Any]


@require_safe
@manager_page()
def places(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = [
        PlaceRow(
            place,
            say_hours(list(place.hours.all())),
            [shut for shut in place.closures.all() if shut.last_day >= request.desk.today],
        )
        for place in refit.places.select_related("vendor")
        .prefetch_related("hours", "closures")
        .annotate(piece_count=Count("pieces_here", distinct=True))
        .order_by("kind", "name")
    ]
    return render(request, "desk/places.html", {"refit": refit, "rows": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def place_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _edit(request, refit, PlaceForm, Place(refit=refit), "places", "place")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def place_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Place, refit=refit, pk=pk)
    return _edit(request, refit, PlaceForm, row, "places", "place")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def place_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return _remove(request, refit, get_object_or_404(Place, refit=refit, pk=pk), "places", "place")


# --- crew and zones ------------------------------------------------------------------------------


@require_safe
@manager_page()
def crew(request: DeskRequest, refit: Refit) -> HttpResponse:
    context = {
        "refit": refit,
        "crew": list(refit.crew.prefetch_related("absences")),
        "zones": list(refit.zones.annotate(package_count=Count("packages"))),
    }
    return render(request, "desk/crew.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def crew_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _edit(request, refit, CrewForm, CrewMember(refit=refit), "crew", "crew")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def crew_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(CrewMember, refit=refit, pk=pk)
    return _edit(request, refit, CrewForm, row, "crew", "crew")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def crew_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(CrewMember, refit=refit, pk=pk)
    return _remove(request, refit, row, "crew", "crew")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def zone_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _edit(request, refit, ZoneForm, Zone(refit=refit), "crew", "zone")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def zone_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Zone, refit=refit, pk=pk)
    return _edit(request, refit, ZoneForm, row, "crew", "zone")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def zone_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return _remove(request, refit, get_object_or_404(Zone, refit=refit, pk=pk), "crew", "zone")


def _edit(
    request: DeskRequest,
    refit: Refit,
    form_of: type[FactsForm],
    row: Model,
    pages: str,
    kind: str,
) -> HttpResponse:
    is_new = row.pk is None
    form = form_of(request.POST or None, refit=refit, instance=row)
    return edit_row(
        request,
        refit,
        form=form,
        template=f"desk/{kind}_edit.html",
        context={"row": None if is_new else row, "kind": kind},
        what=lambda: f"{form.instance} is {'added' if is_new else 'saved'}.",
        to=lambda: reverse(f"desk:{pages}", args=[refit.slug]),
    )


def _remove(request: DeskRequest, refit: Refit, row: Model, pages: str, kind: str) -> HttpResponse:
    return remove_and_go(
        request,
        refit,
        row=row,
        back=reverse(f"desk:{kind}-edit", args=[refit.slug, row.pk]),
        done=reverse(f"desk:{pages}", args=[refit.slug]),
    )
