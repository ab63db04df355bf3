"""Baselines and the delay ledger: how far the plan has drifted, and what moved the launch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.planning.baselines import (
    LONGEST_NAME,
    CannotKeep,
    choose_baseline,
    drift_since,
    keep_baseline,
    launch_drifts,
)
from refit.planning.baselines_earned import WEEK, Earned, earned_against
from refit.planning.ledger_reading import read_ledger
from refit.planning.models import Baseline
from refit.work.models import Refit

from .forms import PlainForm
from .pages import DeskRequest, actor_of, manager_page

A_PAGE = 60


class KeepForm(PlainForm):
    """The name under which the current plan is kept."""

    name = forms.CharField(
        max_length=LONGEST_NAME,
        label="Name",
        help_text="What it is good for: “As agreed with the owner”.",
    )
    note = forms.CharField(required=False, max_length=240, label="Note")
    choose = forms.BooleanField(required=False, initial=True, label="Compare with it from now on")


def _page(request: DeskRequest, refit: Refit, form: KeepForm) -> HttpResponse:
    rows = list(Baseline.objects.filter(refit=refit))
    plan = request.desk.plan
    shown = _shown(rows, request.GET.get("of", ""))
    context: dict[str, Any] = {
        "refit": refit,
        "form": form,
        "plan": plan,
        "shown": shown,
        "baselines": [(row, None) for row in rows],
    }
    if plan is not None:
        plan.refit = refit
        drifts = launch_drifts(rows, plan)
        context["baselines"] = [(row, drifts.get(row.pk)) for row in rows]
        if shown is not None:
            shown.refit = refit
            drift = drift_since(shown, plan)
            found = earned_against(drift.kept, request.desk.now)
            context |= {"drift": drift, "earned": None if found is None else _said(found)}
    return render(request, "desk/baselines.html", context)


@dataclass(frozen=True)
class EarnedWords:
    """`Earned` as the page says it."""

    planned: Decimal
    done: Decimal
    budget: Decimal
    index: str
    weeks: str
    reached_at: datetime
    ends_at: datetime | None
    planned_end: datetime
    without_money: int


def _said(earned: Earned) -> EarnedWords:
    def whole(amount: Fraction) -> Decimal:
        return Decimal(round(amount))

    behind = earned.schedule.variance
    weeks = f"{float(abs(behind)):.1f}"
    index = earned.value.schedule_index
    return EarnedWords(
        planned=whole(earned.value.planned),
        done=whole(earned.value.earned),
        budget=whole(earned.value.budget),
        index="" if index is None else f"{float(index):.2f}",
        weeks=(
            "as planned"
            if weeks == "0.0"
            else f"{weeks} weeks {'behind' if behind < 0 else 'ahead'}"
        ),
        reached_at=earned.reached_at,
        ends_at=earned.ends_at,
        planned_end=earned.begins + WEEK * float(earned.schedule.planned),
        without_money=earned.without_money,
    )


def _shown(rows: list[Baseline], asked: str) -> Baseline | None:
    """The one asked for, or the one chosen, or the newest."""
    for row in rows:
        if str(row.pk) == asked:
            return row
    return next((row for row in rows if row.is_chosen), rows[0] if rows else None)


@require_safe
@manager_page()
def baselines(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _page(request, refit, KeepForm())


@require_POST
@manager_page()
def baseline_keep(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Keep the current plan under a name."""
    form = KeepForm(request.POST)
    if form.is_valid():
        try:
            kept = keep_baseline(
                refit=refit,
                name=form.cleaned_data["name"],
                note=form.cleaned_data["note"],
                choose=form.cleaned_data["choose"],
                actor=actor_of(request),
                now=request.desk.now,
            )
        except CannotKeep as error:
            form.add_error(error.field, str(error))
        else:
            messages.success(request, f"The plan is kept as “{kept.name}”.")
            return redirect("desk:baselines", refit.slug)
    return _page(request, refit, form)


@require_POST
@manager_page()
def baseline_choose(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Compare with this baseline from now on."""
    row = get_object_or_404(Baseline, refit=refit, pk=pk)
    if not row.is_chosen:
        row.refit = refit
        choose_baseline(baseline=row, actor=actor_of(request), now=request.desk.now)
        messages.success(request, f"Compared with “{row.name}” from now on.")
    return redirect("desk:baselines", refit.slug)


@require_safe
@manager_page()
def ledger(request: DeskRequest, refit: Refit) -> HttpResponse:
    """What moved the launch since the first plan, or since a baseline (``?since=`` its id)."""
    rows = list(Baseline.objects.filter(refit=refit))
    asked = request.GET.get("since", "")
    since = next((row for row in rows if str(row.pk) == asked), None)
    found = read_ledger(refit, since=since)
    lines = found.lines[::-1] if found else []
    context = {
        "refit": refit,
        "baselines": rows,
        "since": since,
        "ledger": found,
        "entries": sum(line.times for line in lines),
        "page": Paginator(lines, A_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "desk/ledger.html", context)
