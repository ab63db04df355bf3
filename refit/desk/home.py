"""Where a signed-in user arrives: their refit, a choice of several, or a new one to make."""

from __future__ import annotations

from zoneinfo import available_timezones

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from refit.accounts.models import User
from refit.work.models import Refit

from .forms_places import NewRefitForm
from .start import start_refit


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    assert isinstance(request.user, User)
    refits = list(Refit.objects.visible_to(request.user).select_related("boat").order_by("start"))
    if not refits:
        return redirect("desk:new")
    if len(refits) == 1:
        return redirect("desk:today", refits[0].slug)
    return render(request, "desk/home.html", {"refits": refits})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def new(request: HttpRequest) -> HttpResponse:
    """A new refit; whoever makes it is its manager."""
    assert isinstance(request.user, User)
    form = NewRefitForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        refit = start_refit(
            user=request.user, now=timezone.now(), hours=form.hours_facts(), **form.basics()
        )
        return redirect("desk:today", refit.slug)
    context = {"form": form, "time_zones": sorted(available_timezones())}
    return render(request, "desk/new.html", context)
