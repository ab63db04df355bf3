"""Settings of the refit, the data of its boat, and the plan line that every page polls."""

from __future__ import annotations

from zoneinfo import available_timezones

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from refit.work.models import Refit

from .acts import settle_and_say
from .forms_places import BoatForm, RefitForm
from .pages import DeskRequest, actor_of, manager_page


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def settings(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Two forms on one page; the button pressed says which one is sent."""
    which = request.POST.get("which") if request.method == "POST" else None
    about = RefitForm(
        request.POST if which == "refit" else None, refit=refit, instance=refit, prefix="refit"
    )
    boat = BoatForm(
        request.POST if which == "boat" else None, refit=refit, instance=refit.boat, prefix="boat"
    )
    sent = {"refit": about, "boat": boat}.get(which or "")
    if sent is not None and sent.save_facts(actor=actor_of(request), now=request.desk.now):
        settle_and_say(request, Refit.objects.get(pk=refit.pk), "Saved.")
        return redirect("desk:settings", refit.slug)
    context = {
        "refit": Refit.objects.select_related("boat").get(pk=refit.pk),
        "form": about,
        "boat_form": boat,
        "time_zones": sorted(available_timezones()),
    }
    return render(request, "desk/settings.html", context)


@require_safe
@manager_page()
def plan_line(request: DeskRequest, refit: Refit) -> HttpResponse:
    """The line that says which plan is shown; polled until the newer one is there."""
    shown = request.GET.get("shown", "")
    plan = request.desk.plan
    arrived = plan is not None and shown.isdecimal() and plan.pk != int(shown)
    return render(request, "desk/_plan_line.html", {"refit": refit, "arrived": arrived})
