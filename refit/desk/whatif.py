"""What if: trying changes, comparing the plans, then applying or discarding."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.planning.models import WhatIf
from refit.planning.remedies import NoRemedy, make_ready_again, missed_window, start_later
from refit.planning.whatif import (
    CannotApply,
    Outdated,
    apply_what_if,
    discard,
    is_current,
    sandbox_of,
    take_out,
    try_change,
    work_out,
)
from refit.work.models import Refit
from refit.work.wording import say_count

from .acts import settle_and_say
from .pages import DeskRequest, actor_of, manager_page
from .whatif_forms import FORMS, ChangeForm, Rows


def _page(
    request: DeskRequest, refit: Refit, sandbox: WhatIf, failed: ChangeForm | None = None
) -> HttpResponse:
    rows = failed.rows if failed is not None else Rows.of(refit)
    is_new = False
    if sandbox.changes and not is_current(sandbox, request.desk.now):
        was = sandbox.outcome_version if sandbox.outcome is not None else None
        done = work_out(sandbox, actor=actor_of(request), now=request.desk.now)
        is_new = done and was not in (None, refit.version)
    outcome: dict[str, Any] = sandbox.outcome or {}
    problems = outcome.get("problems", {})
    ids = {row.code: row.pk for row in rows.packages.values()}
    context = {
        "refit": refit,
        "changes": [(change, problems.get(change["id"])) for change in sandbox.changes],
        "outcome": outcome if is_current(sandbox, request.desk.now) else None,
        "is_new": is_new,
        "version": sandbox.outcome_version,
        "moved": [(row, ids.get(row["code"])) for row in outcome.get("moved", [])],
        "may_apply": bool(
            outcome and not problems and (outcome["trouble_before"] or not outcome["trouble"])
        ),
        "forms": [
            failed if failed is not None and failed.kind == kind else form(rows=rows)
            for kind, form in FORMS.items()
        ],
    }
    return render(request, "desk/whatif.html", context)


@require_safe
@manager_page(only=True)
def whatif(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _page(request, refit, sandbox_of(refit, request.user))


@require_POST
@manager_page(only=True)
def whatif_try(request: DeskRequest, refit: Refit, kind: str) -> HttpResponse:
    """Add one change to the sandbox."""
    if kind not in FORMS:
        raise Http404
    sandbox = sandbox_of(refit, request.user)
    form = FORMS[kind](request.POST, rows=Rows.of(refit))
    if form.is_valid():
        try:
            try_change(sandbox, form.change())
        except CannotApply as full:
            form.add_error(None, str(full))
        else:
            return redirect("desk:whatif", refit.slug)
    return _page(request, refit, sandbox, form)


@require_POST
@manager_page(only=True)
def whatif_mend(request: DeskRequest, refit: Refit, remedy: str) -> HttpResponse:
    """Try a remedy for a longest wait that is not kept; the next page compares and applies it."""
    if remedy not in ("later", "between"):
        raise Http404
    before, after = request.POST.get("before", ""), request.POST.get("after", "")
    try:
        window = missed_window(refit, before, after)
        if remedy == "later":
            change = start_later(refit, window, request.desk.now)
        else:
            change = make_ready_again(refit, window)
        try_change(sandbox_of(refit, request.user), change)
    except (NoRemedy, CannotApply) as reason:
        messages.warning(request, str(reason))
    return redirect("desk:whatif", refit.slug)


@require_POST
@manager_page(only=True)
def whatif_take_out(request: DeskRequest, refit: Refit) -> HttpResponse:
    sandbox = sandbox_of(refit, request.user)
    if sandbox.pk is not None:
        take_out(sandbox, request.POST.get("change", ""))
    return redirect("desk:whatif", refit.slug)


@require_POST
@manager_page(only=True)
def whatif_discard(request: DeskRequest, refit: Refit) -> HttpResponse:
    discard(sandbox_of(refit, request.user))
    messages.success(request, "Discarded. Nothing was changed.")
    return redirect("desk:whatif", refit.slug)


@require_POST
@manager_page(only=True)
def whatif_apply(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Make the changes for good; only what was compared, and seen, is applied."""
    sandbox = sandbox_of(refit, request.user)
    seen = request.POST.get("version", "")
    try:
        if sandbox.outcome is not None and seen != str(sandbox.outcome_version):
            raise Outdated
        number = apply_what_if(sandbox, actor=actor_of(request), now=request.desk.now)
    except Outdated:
        messages.warning(
            request,
            "The refit has changed since this was compared. Nothing is applied; the comparison"
            " below is a new one.",
        )
        return redirect("desk:whatif", refit.slug)
    except CannotApply as refused:
        messages.error(request, f"Nothing is applied. {refused}")
        return redirect("desk:whatif", refit.slug)
    settle_and_say(request, refit, f"{say_count(number, 'change')} applied.")
    return redirect("desk:today", refit.slug)
