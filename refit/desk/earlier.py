"""Looking for an earlier launch: asked for, watched, stopped; what it changed, before and after."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.planning.models import PlanSearch, SearchState
from refit.planning.searching import LIMITS, CannotSearch, ask_for_search, stop_search
from refit.work.models import Refit
from refit.work.wording import say_count, say_elapsed

from .pages import DeskRequest, actor_of, manager_page

SHOWN = 12
"""Packages that move which are listed at once; the others are folded away."""


class SearchForm(forms.Form):
    seconds = forms.TypedChoiceField(
        label="How long may it look?",
        coerce=int,
        choices=[
            (number, f"{number} s" if number < 60 else f"{number // 60} min") for number in LIMITS
        ],
        initial=LIMITS[0],
        widget=forms.RadioSelect,
    )


@dataclass(frozen=True)
class MovedPackage:
    """One package that starts at another time. ``pk`` is None once it is removed."""

    pk: int | None
    code: str
    title: str
    before: datetime
    after: datetime
    said: str
    later: bool


def say_shift(before: datetime, after: datetime, refit: Refit) -> str:
    """“2 days earlier”, “3 h later”, “the same”; days are local calendar days."""
    if before == after:
        return "the same"
    direction = "later" if after > before else "earlier"
    days = abs((refit.local(after).date() - refit.local(before).date()).days)
    if days:
        return f"{say_count(days, 'day')} {direction}"
    return f"{say_elapsed(int(abs((after - before).total_seconds())) // 60)} {direction}"


def _moved(search: PlanSearch, refit: Refit) -> list[MovedPackage]:
    ids = dict(refit.packages.values_list("code", "pk")) if search.moved else {}
    rows = []
    for row in search.moved:
        before = datetime.fromisoformat(row["before"])
        after = datetime.fromisoformat(row["after"])
        said, later = say_shift(before, after, refit), after > before
        rows.append(
            MovedPackage(
                ids.get(row["code"]), row["code"], row["title"], before, after, said, later
            )
        )
    return rows


def _page(request: DeskRequest, refit: Refit, form: SearchForm) -> HttpResponse:
    search = PlanSearch.objects.newest(refit)
    live = search is not None and search.is_live and search.lease_until >= request.desk.now
    context = {"refit": refit, "form": form, "search": search, "live": live}
    if search is not None:
        waited = (request.desk.now - search.asked_at).total_seconds()
        moved = _moved(search, refit)
        context |= {
            "broke_off": search.is_live and not live,
            "gain": say_shift(search.launch_before, search.launch_at, refit),
            "gained": search.launch_at < search.launch_before,
            "seconds": round(search.seconds),
            "slow_to_begin": search.state == SearchState.WAITING and waited > 10,
            "moved": moved[:SHOWN],
            "more": moved[SHOWN:],
            "current": request.desk.plan is not None
            and search.plan_after_id == request.desk.plan.pk,
        }
    return render(request, "desk/search.html", context)


@require_safe
@manager_page(only=True)
def search(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _page(request, refit, SearchForm())


@require_POST
@manager_page(only=True)
def search_begin(request: DeskRequest, refit: Refit) -> HttpResponse:
    form = SearchForm(request.POST)
    if not form.is_valid():
        return _page(request, refit, form)
    try:
        ask_for_search(
            refit=refit,
            seconds=form.cleaned_data["seconds"],
            actor=actor_of(request),
            now=request.desk.now,
        )
    except CannotSearch as refused:
        messages.error(request, str(refused))
    return redirect("desk:search", refit.slug)


@require_POST
@manager_page(only=True)
def search_stop(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Stop, and keep the best so far."""
    stop_search(refit=refit, now=request.desk.now)
    return redirect("desk:search", refit.slug)
