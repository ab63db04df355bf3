"""What every act of the desk does after it: plan anew, and say what it did to the launch."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import Model
from django.http import HttpResponse
from django.shortcuts import redirect, render

from refit.planning.models import Plan
from refit.planning.services import settle
from refit.work.models import Refit
from refit.work.services import Refused, remove_row
from refit.work.wording import say_count, say_day

from .forms import FactsForm
from .pages import DeskRequest, actor_of


def say_effect(before: Plan | None, after: Plan | None, refit: Refit) -> str:
    """What happened to the launch between two plans, as a sentence; empty if neither has one."""
    if after is None or after.launch_at is None:
        return ""
    now = refit.local(after.launch_at).date()
    if before is None or before.launch_at is None:
        return f"Launch is {say_day(now)}."
    was = refit.local(before.launch_at).date()
    days = (now - was).days
    if not days:
        return f"Launch stays {say_day(now)}."
    direction = "later" if days > 0 else "earlier"
    return (
        f"Launch moves from {say_day(was)} to {say_day(now)},"
        f" {say_count(abs(days), 'day')} {direction}."
    )


def settle_and_say(request: DeskRequest, refit: Refit, what: str) -> None:
    """Plan anew, within the request if that is quick, and leave a message with the effect."""
    before = request.desk.plan
    fresh = settle(refit=refit, now=request.desk.now)
    request.desk.forget_plan()
    trouble = request.desk.trouble
    if trouble is not None and not request.desk.is_fresh:
        messages.warning(request, f"{what} But no new plan can be made. {trouble.sentence}")
    elif not fresh:
        messages.success(request, f"{what} A new plan is being computed.")
    else:
        effect = say_effect(before, request.desk.plan, refit)
        messages.success(request, f"{what} {effect}".strip())


def edit_row(
    request: DeskRequest,
    refit: Refit,
    *,
    form: FactsForm,
    template: str,
    context: dict[str, Any],
    what: Callable[[], str],
    to: Callable[[], str],
) -> HttpResponse:
    """Show the form, or store it and go on. ``what`` and ``to`` are asked after storing."""
    if request.method == "POST" and form.save_facts(actor=actor_of(request), now=request.desk.now):
        settle_and_say(request, refit, what())
        return redirect(to())
    return render(request, template, {"refit": refit, "form": form} | context)


def remove_and_go(
    request: DeskRequest, refit: Refit, *, row: Model, back: str, done: str
) -> HttpResponse:
    """Ask before removing (GET), remove (POST). Refused: the reason, and back to the row."""
    if request.method != "POST":
        return render(request, "desk/remove.html", {"refit": refit, "row": row, "back": back})
    name = str(row)
    try:
        remove_row(refit=refit, row=row, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(back)
    settle_and_say(request, refit, f"{name} is removed.")
    return redirect(done)
