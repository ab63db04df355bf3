"""Acts on one package: add, edit, remove; what it waits for; its progress."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from refit.accounts.models import Role
from refit.quality.models import Finding, SurveyItem
from refit.work.models import Dependency, Refit, WorkPackage
from refit.work.services import (
    Refused,
    change_row,
    finish_package,
    remove_row,
    report_progress,
    start_package,
)

from .acts import edit_row, remove_and_go, settle_and_say
from .forms_packages import FinishForm, LinkForm, PackageForm, ProgressForm, RemainingForm
from .package import package_context, package_of, show_package
from .pages import DeskRequest, actor_of, manager_page


def _url(refit: Refit, package: WorkPackage) -> str:
    return reverse("desk:package", args=[refit.slug, package.pk])


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def package_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    """A new package; ``?finding=`` fills in what is known of a finding."""
    initial, finding = _from_finding(refit, request.GET.get("finding", ""))
    survey = _survey_item(refit, request.GET.get("survey", ""))
    if survey is not None:
        initial = _from_survey(survey)
    form = PackageForm(request.POST or None, refit=refit, initial=initial)
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/package_edit.html",
        context={"finding": finding},
        what=lambda: f"{form.instance} is added.",
        to=lambda: _joined(request, refit, survey, form.instance),
    )


def _survey_item(refit: Refit, pk: str) -> SurveyItem | None:
    return SurveyItem.objects.filter(refit=refit, pk=pk).first() if pk.isdecimal() else None


def _from_survey(item: SurveyItem) -> dict[str, Any]:
    initial: dict[str, Any] = {
        "code": item.code,
        "title": item.title,
        "scope": "\n".join(one for one in (item.condition, item.reading) if one),
        "budget": item.price,
        "zones": [item.zone_id] if item.zone_id else [],
    }
    if item.piece_id:
        initial[f"piece_{item.piece_id}"] = "needs"
    return initial


def _joined(
    request: DeskRequest, refit: Refit, item: SurveyItem | None, package: WorkPackage
) -> str:
    """The address of the package; the line of the survey it came of now names it."""
    if item is not None:
        change_row(
            refit=refit, row=item, facts={"package": package.pk, "proposal": "do"},
            actor=actor_of(request), now=request.desk.now,
        )  # fmt: skip
    return _url(refit, package)


def _from_finding(refit: Refit, pk: str) -> tuple[dict[str, Any], Finding | None]:
    finding = Finding.objects.filter(refit=refit, pk=pk).first() if pk.isdecimal() else None
    if finding is None:
        return {}, None
    initial: dict[str, Any] = {
        "code": finding.code,
        "title": f"Repair: {finding.title}"[:160],
        "scope": finding.description,
        "likely_minutes": finding.work_minutes,
        "budget": finding.price,
        "zones": [finding.zone_id] if finding.zone_id else [],
    }
    if finding.piece_id:
        initial[f"piece_{finding.piece_id}"] = "needs"
    if finding.found_in is not None:
        initial["place"] = finding.found_in.place_id
    return initial, finding


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def package_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    package = package_of(refit, pk)
    form = PackageForm(request.POST or None, refit=refit, instance=package)
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/package_edit.html",
        context={"package": package},
        what=lambda: "Saved.",
        to=lambda: _url(refit, package),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def package_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    package = package_of(refit, pk)
    return remove_and_go(
        request,
        refit,
        row=package,
        back=_url(refit, package),
        done=reverse("desk:packages", args=[refit.slug]),
    )


@require_POST
@manager_page()
def package_link(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Add what it waits for, in place: htmx gets the section back, others the page."""
    package = package_of(refit, pk)
    form = LinkForm(request.POST, refit=refit, after=package, auto_id="link_%s")
    if not form.save_facts(actor=actor_of(request), now=request.desk.now):
        if request.headers.get("HX-Request"):
            return render(
                request,
                "desk/_waits.html",
                package_context(request, refit, package) | {"link_form": form},
            )
        return show_package(request, refit, package, link_form=form)
    settle_and_say(request, refit, f"{package.code} waits for {form.instance.before}.")
    return _back(request, refit, package)


def _back(request: DeskRequest, refit: Refit, package: WorkPackage) -> HttpResponse:
    if request.headers.get("HX-Request"):
        return render(
            request,
            "desk/_waits.html",
            package_context(request, refit, package) | {"tell": True},
        )
    return redirect(_url(refit, package) + "#waits")


@require_POST
@manager_page()
def package_unlink(request: DeskRequest, refit: Refit, pk: int, link: int) -> HttpResponse:
    package = package_of(refit, pk)
    row = get_object_or_404(
        Dependency.objects.select_related("before", "after"), refit=refit, after=package, pk=link
    )
    remove_row(refit=refit, row=row, actor=actor_of(request), now=request.desk.now)
    settle_and_say(request, refit, f"{package.code} no longer waits for {row.before}.")
    return _back(request, refit, package)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def link_edit(request: DeskRequest, refit: Refit, pk: int, link: int) -> HttpResponse:
    package = package_of(refit, pk)
    row = get_object_or_404(Dependency, refit=refit, after=package, pk=link)
    return edit_row(
        request,
        refit,
        form=LinkForm(request.POST or None, refit=refit, instance=row),
        template="desk/link_edit.html",
        context={"package": package},
        what=lambda: "Saved.",
        to=lambda: _url(refit, package) + "#waits",
    )


# --- progress: managers and crew -----------------------------------------------------------------


def _progress(
    request: DeskRequest, refit: Refit, package: WorkPackage, act: Any, what: str, **form: Any
) -> HttpResponse:
    """Do it, or show the page with the form (its only key) that came back."""
    [(name, sent)] = form.items()
    if sent.is_valid():
        try:
            act(sent.cleaned_data)
        except Refused as refused:
            sent.add_error(None, str(refused))
        else:
            settle_and_say(request, refit, what)
            after = request.POST.get("next", "")
            to = reverse("desk:today", args=[refit.slug]) if after == "today" else None
            return redirect(to or _url(refit, package))
    if request.POST.get("next") == "today":
        for errors in sent.errors.values():
            for error in errors:
                messages.error(request, error)
    return show_package(request, refit, package, **{name: sent})


@require_POST
@manager_page(Role.CREW)
def package_start(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    package = package_of(refit, pk)

    def act(data: dict[str, Any]) -> None:
        start_package(package=package, at=data["at"], actor=actor_of(request), now=request.desk.now)

    form = ProgressForm(request.POST, auto_id="start_%s")
    return _progress(request, refit, package, act, f"{package} has started.", start_form=form)


@require_POST
@manager_page(Role.CREW)
def package_report(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    package = package_of(refit, pk)

    def act(data: dict[str, Any]) -> None:
        report_progress(
            package=package,
            remaining_minutes=data["remaining"],
            actor=actor_of(request),
            now=request.desk.now,
        )

    form = RemainingForm(request.POST, refit=refit, auto_id="left_%s")
    return _progress(request, refit, package, act, "Noted.", remaining_form=form)


@require_POST
@manager_page(Role.CREW)
def package_finish(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    package = package_of(refit, pk)

    def act(data: dict[str, Any]) -> None:
        finish_package(
            package=package,
            at=data["at"],
            started_at=data.get("started_at"),
            actor=actor_of(request),
            now=request.desk.now,
        )

    form = FinishForm(request.POST, package=package, auto_id="finish_%s")
    return _progress(request, refit, package, act, f"{package} is finished.", finish_form=form)
