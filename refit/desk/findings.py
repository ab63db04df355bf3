"""Findings: noted, decided, and made into a package."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.accounts.models import Role
from refit.quality.models import Decision, Finding
from refit.quality.services import AlreadyDecided, decide_finding
from refit.work.models import Refit

from .acts import edit_row
from .forms_pieces import DecisionForm, FindingForm
from .pages import DeskRequest, actor_of, manager_page


def finding_of(refit: Refit, pk: int) -> Finding:
    """One finding of the refit, or 404."""
    rows = Finding.objects.select_related("found_in", "piece", "zone")
    return get_object_or_404(rows, refit=refit, pk=pk)


@require_safe
@manager_page()
def findings(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(
        Finding.objects.filter(refit=refit)
        .select_related("found_in", "piece", "zone")
        .order_by("-found_at")
    )
    context = {
        "refit": refit,
        "waiting": [row for row in rows if row.is_open],
        "settled": [row for row in rows if not row.is_open],
    }
    return render(request, "desk/findings.html", context)


@require_safe
@manager_page()
def finding(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = finding_of(refit, pk)
    context = {"refit": refit, "finding": row, "form": DecisionForm()}
    return render(request, "desk/finding.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(Role.CREW, only=True)
def finding_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    initial = {"found_at": request.desk.now.replace(second=0, microsecond=0)}
    for name in ("found_in", "piece", "zone"):
        if request.GET.get(name, "").isdecimal():
            initial[name] = request.GET[name]  # type: ignore[assignment]
    form = FindingForm(request.POST or None, refit=refit, initial=initial)
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/finding_edit.html",
        context={},
        what=lambda: f"{form.instance} is noted.",
        to=lambda: reverse("desk:finding", args=[refit.slug, form.instance.pk]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def finding_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = finding_of(refit, pk)
    return edit_row(
        request,
        refit,
        form=FindingForm(request.POST or None, refit=refit, instance=row),
        template="desk/finding_edit.html",
        context={"finding": row},
        what=lambda: "Saved.",
        to=lambda: reverse("desk:finding", args=[refit.slug, pk]),
    )


@require_POST
@manager_page()
def finding_decide(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Decide; “fix now” leads to the form of the package, filled in with what is known."""
    row = finding_of(refit, pk)
    form = DecisionForm(request.POST)
    if not form.is_valid():
        context = {"refit": refit, "finding": row, "form": form}
        return render(request, "desk/finding.html", context)
    decision = Decision(form.cleaned_data["decision"])
    try:
        decide_finding(
            finding=row,
            decision=decision,
            note=form.cleaned_data["note"],
            actor=actor_of(request),
            now=request.desk.now,
        )
    except AlreadyDecided as error:
        messages.error(request, str(error))
        return redirect("desk:finding", refit.slug, pk)
    messages.success(request, f"{row.code}: {decision.label}.")
    if decision == Decision.FIX_NOW:
        add = reverse("desk:package-add", args=[refit.slug])
        return redirect(f"{add}?finding={row.pk}")
    return redirect("desk:finding", refit.slug, pk)
