"""The page of one package: everything about it, and why it is on its day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from refit.custody.models import Handoff
from refit.planning.models import PlannedPackage
from refit.quality.models import Finding
from refit.work.models import Dependency, JournalEntry, LagIn, PieceUse, Refit, WorkPackage
from refit.work.services import can_undo
from refit.work.wording import say_elapsed, say_working_time

from .forms_packages import FinishForm, LinkForm, ProgressForm, RemainingForm
from .notes import notes_about
from .packages import planned_of, say_who
from .pages import DeskRequest, manager_page
from .states import say_progress, say_slip, state_of


@dataclass(frozen=True)
class Neighbour:
    """A package this one waits for, or that waits for it, with its dates and the condition."""

    link: Dependency
    package: WorkPackage
    planned: PlannedPackage | None
    lag: str


def chain_behind(row: PlannedPackage, planned: dict[int, PlannedPackage]) -> list[PlannedPackage]:
    """The packages behind its date, one behind the other, back to what nobody waits for."""
    by_code = {other.package.code: other for other in planned.values()}
    chain: list[PlannedPackage] = []
    step = by_code.get(row.behind)
    while step is not None and step not in chain and step.package.finished_at is None:
        chain.append(step)
        step = by_code.get(step.behind)
    return chain


def package_of(refit: Refit, pk: int) -> WorkPackage:
    """One package of the refit, or 404."""
    return get_object_or_404(
        WorkPackage.objects.select_related(
            "vendor", "place__vendor", "booking", "booking_request"
        ).prefetch_related("people", "zones"),
        refit=refit,
        pk=pk,
    )


def say_lag(link: Dependency, refit: Refit) -> str:
    """“at least 24 h later, at most 72 h”; empty without a lag."""

    def say(minutes: int) -> str:
        if link.lag_in == LagIn.WORKING:
            return f"{say_working_time(abs(minutes), refit.hours_a_day)} of working time"
        return say_elapsed(abs(minutes))

    said = []
    if link.min_lag_minutes > 0:
        said.append(f"at least {say(link.min_lag_minutes)} later")
    elif link.min_lag_minutes < 0:
        said.append(f"may overlap by {say(link.min_lag_minutes)}")
    if link.max_lag_minutes is not None:
        said.append(f"at most {say(link.max_lag_minutes)} later")
    return ", ".join(said)


def show_package(
    request: DeskRequest, refit: Refit, package: WorkPackage, **forms: Any
) -> HttpResponse:
    """Render the page, with forms that came back in place of fresh ones."""
    return render(request, "desk/package.html", package_context(request, refit, package) | forms)


def package_context(request: DeskRequest, refit: Refit, package: WorkPackage) -> dict[str, Any]:
    desk = request.desk
    planned = planned_of(desk)
    dates = planned.get(package.pk)
    links = Dependency.objects.filter(Q(before=package) | Q(after=package), refit=refit)
    near_links = list(links.select_related("before", "after"))

    def neighbours(rows: list[Dependency], side: str) -> list[Neighbour]:
        near = [
            Neighbour(
                link, getattr(link, side), planned.get(getattr(link, side).pk), say_lag(link, refit)
            )
            for link in rows
        ]
        return sorted(near, key=lambda n: (n.planned is None, n.planned and n.planned.start))

    last = JournalEntry.objects.filter(
        refit=refit, subject_kind="workpackage", subject_id=package.pk
    ).order_by("-at", "-id")[:6]
    entries = list(last)
    context: dict[str, Any] = {
        "refit": refit,
        "package": package,
        "planned": dates,
        "missed": notes_about(desk.plan, package.code),
        "booking": getattr(package, "booking", None),
        "booking_request": getattr(package, "booking_request", None),
        "state": state_of(package, dates, refit, desk.now),
        "slip": say_slip(dates),
        "chain": chain_behind(dates, planned) if dates is not None else [],
        "who": say_who(package),
        "zones": list(package.zones.all()),
        "uses": list(PieceUse.objects.filter(package=package).select_related("piece__place")),
        "waits_for": neighbours([x for x in near_links if x.after_id == package.pk], "before"),
        "unlocks": neighbours([x for x in near_links if x.before_id == package.pk], "after"),
        "handoffs": list(
            Handoff.objects.open().filter(for_package=package).with_names().order_by("depart_at")
        ),
        "findings": list(Finding.objects.filter(found_in=package)),
        "entries": entries,
        "undo": entries[0] if entries and can_undo(entries[0]) else None,
        "start_form": ProgressForm(auto_id="start_%s"),
        "finish_form": FinishForm(package=package, auto_id="finish_%s"),
        "remaining_form": RemainingForm(refit=refit, auto_id="left_%s"),
    }
    if desk.may_change:
        context["link_form"] = LinkForm(refit=refit, after=package, auto_id="link_%s")
    if package.is_started and not package.is_finished and dates is not None:
        context["days"] = say_progress(package, dates, refit.zone, desk.now)
    return context


@require_safe
@manager_page()
def package(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return show_package(request, refit, package_of(refit, pk))
