"""Settings of the refit, the data of its boat, and the plan line that every page polls."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.work.models import Refit
from refit.work.services import close_refit, reopen_refit
from refit.work.wording import say_day

from .acts import settle_and_say
from .fields import day_field
from .forms import PlainForm
from .forms_places import BoatForm, RefitForm
from .pages import DeskRequest, actor_of, manager_page


class ClosingForm(PlainForm):
    closed_on = day_field(label="Closed on")

    def __init__(self, *args: Any, refit: Refit, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.refit, self.now = refit, now
        self.fields["closed_on"].initial = refit.today(now)

    def clean_closed_on(self) -> Any:
        day = self.cleaned_data["closed_on"]
        if day > self.refit.today(self.now):
            raise forms.ValidationError("That day is still to come. Close it when it is over.")
        if day < self.refit.start:
            raise forms.ValidationError(
                f"The refit began only on {say_day(self.refit.start)}. Give a day after that."
            )
        return day

    @property
    def moment(self) -> datetime:
        """The end of that day, or now if it is today."""
        after = self.cleaned_data["closed_on"] + timedelta(days=1)
        return min(datetime.combine(after, time(), self.refit.zone), self.now)


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
    return _settings_page(request, refit, about=about, boat=boat)


def _settings_page(request: DeskRequest, refit: Refit, **sent: Any) -> HttpResponse:
    """``sent``: forms that come back with what is wrong."""
    stored = Refit.objects.select_related("boat").get(pk=refit.pk)
    days = timedelta(days=stored.link_days)
    context = {
        "refit": stored,
        "form": sent.get("about") or RefitForm(refit=refit, instance=refit, prefix="refit"),
        "boat_form": sent.get("boat") or BoatForm(refit=refit, instance=refit.boat, prefix="boat"),
        "closing": sent.get("closing") or ClosingForm(refit=refit, now=request.desk.now),
        "links_end_at": stored.closed_at + days if stored.closed_at else None,
        "time_zones": sorted(available_timezones()),
    }
    return render(request, "desk/settings.html", context)


@require_POST
@manager_page()
def refit_close(request: DeskRequest, refit: Refit) -> HttpResponse:
    form = ClosingForm(request.POST, refit=refit, now=request.desk.now)
    if not form.is_valid():
        return _settings_page(request, refit, closing=form)
    now = request.desk.now
    if close_refit(refit=refit, at=form.moment, actor=actor_of(request), now=now):
        messages.success(request, "This refit is closed.")
    else:
        messages.warning(request, "It was closed already.")
    return redirect("desk:settings", refit.slug)


@require_POST
@manager_page()
def refit_reopen(request: DeskRequest, refit: Refit) -> HttpResponse:
    if reopen_refit(refit=refit, actor=actor_of(request), now=request.desk.now):
        settle_and_say(request, refit, "It is open again.")
    else:
        messages.warning(request, "It was open.")
    return redirect("desk:settings", refit.slug)


@require_safe
@manager_page()
def plan_line(request: DeskRequest, refit: Refit) -> HttpResponse:
    """The line that says which plan is shown; polled until the newer one is there."""
    shown = request.GET.get("shown", "")
    plan = request.desk.plan
    arrived = plan is not None and shown.isdecimal() and plan.pk != int(shown)
    return render(request, "desk/_plan_line.html", {"refit": refit, "arrived": arrived})
