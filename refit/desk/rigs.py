"""Rigs: what we drive with, what it may carry, and whether the boat may go behind it."""

from __future__ import annotations

from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from refit.trips import towing
from refit.work import measures
from refit.work.models import Refit, Rig

from .acts import edit_row, remove_and_go
from .forms_trips import RigForm
from .pages import DeskRequest, manager_page


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def towing_of(rig: Rig, refit: Refit) -> list[towing.Finding]:
    """The boat behind this rig, looked over."""
    boat = refit.boat
    country = towing.size_limit(rig.country)
    own_width, own_height = _number(rig.width_limit_m), _number(rig.height_limit_m)
    own = own_width is not None or own_height is not None
    limits = towing.TowLimits(
        tow_kg=_number(rig.tow_limit_kg),
        tongue_kg=_number(rig.tongue_limit_kg),
        tongue_low=float(rig.tongue_low),
        tongue_high=float(rig.tongue_high),
        width_m=own_width if country is None or own_width is not None else country.width_m,
        height_m=own_height if country is None or own_height is not None else country.height_m,
        size_source="your own limit" if own else country.source if country else "",
    )
    load = towing.Towed(
        boat_kg=_number(boat.weight_kg),
        trailer_kg=_number(boat.trailer_kg),
        tongue_kg=_number(boat.tongue_kg),
        length_m=_number(boat.length_m),
        width_m=_number(boat.beam_m),
        height_m=_number(boat.height_on_trailer_m),
        direct=rig.tie_downs_direct,
        over=rig.tie_downs_over,
        tie_limit_kg=_number(rig.tie_limit_kg) or 0,
        blocked_forward=rig.blocked_forward,
    )
    weight, length = measures.weight(refit.units), measures.length(refit.units)
    return towing.look_over(
        load,
        limits,
        weigh=lambda kg: f"{float(Decimal(kg) / weight.size):,.0f} {weight.sign}",
        measure=lambda m: f"{float(Decimal(m) / length.size):.2f} {length.sign}",
    )


@require_safe
@manager_page()
def rigs(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = [(rig, towing_of(rig, refit) if rig.tows_boat else []) for rig in refit.rigs.all()]
    context = {"refit": refit, "rigs": rows, "defer": towing.DEFER, "recheck": towing.RECHECK}
    return render(request, "desk/rigs.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def rig_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _edit(request, refit, None)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def rig_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return _edit(request, refit, get_object_or_404(Rig, refit=refit, pk=pk))


def _edit(request: DeskRequest, refit: Refit, row: Rig | None) -> HttpResponse:
    form = RigForm(request.POST or None, refit=refit, instance=row or Rig(refit=refit))
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/rig_edit.html",
        context={"row": row},
        what=lambda: f"{form.instance} is saved.",
        to=lambda: reverse("desk:rigs", args=[refit.slug]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def rig_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return remove_and_go(
        request,
        refit,
        row=get_object_or_404(Rig, refit=refit, pk=pk),
        back=reverse("desk:rig-edit", args=[refit.slug, pk]),
        done=reverse("desk:rigs", args=[refit.slug]),
    )
