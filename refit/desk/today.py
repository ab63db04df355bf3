"""The page a manager opens in the morning: launch, whom to call, what to load, what to decide."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.models import Role
from refit.custody.models import Handoff
from refit.planning.history import LaunchStep, moved_today
from refit.planning.models import Plan, PlannedPackage, PlanRisk
from refit.planning.risk_words import say_sure
from refit.quality.models import Decision, Finding, PunchItem
from refit.trips.models import Load, TripState
from refit.work.models import Dependency, JournalEntry, LagIn, Refit, Vendor, record
from refit.work.wording import say_count, say_day

from .course import draw_course
from .launch_band import draw_band
from .notes import notes_of
from .pages import Desk, DeskRequest, actor_of, manager_page
from .today_items import FROM_FINISH, gather, unfinished

CALLED = "called"


@dataclass(frozen=True)
class Launch:
    """The launch as the page says it."""

    day: date
    against_wanted: str
    look: str
    moved: str
    why_moved: str


def launch_of(desk: Desk, plan: Plan) -> Launch | None:
    """What the plan says about the launch; None if it has none. At most four queries."""
    if plan.launch_at is None:
        return None
    refit = desk.refit
    plan.refit = refit
    day = refit.local(plan.launch_at).date()
    against, look = "", "ok"
    if refit.wanted_launch is not None:
        days = (day - refit.wanted_launch).days
        wanted = say_day(refit.wanted_launch, desk.today)
        if days > 0:
            against, look = f"{say_count(days, 'day')} after {wanted}, the day wanted", "late"
        elif days:
            against = f"{say_count(-days, 'day')} before {wanted}, the day wanted"
        else:
            against = "on the day wanted"
    moved = moved_today(plan, now=desk.now)
    return Launch(day, against, look, *_say_moved(moved))


def _say_moved(step: LaunchStep | None) -> tuple[str, str]:
    if step is None:
        return "", ""
    if not step.days:
        return "As it was yesterday.", ""
    direction = "later" if step.days > 0 else "earlier"
    said = f"{say_count(abs(step.days), 'day')} {direction} than yesterday."
    return said, f"First change since then: {step.changed}." if step.changed else "Time has passed."


@require_safe
@manager_page()
def today(request: DeskRequest, refit: Refit) -> HttpResponse:
    desk = request.desk
    plan = desk.plan
    rows = _planned(plan) if plan is not None else []
    planned = unfinished(rows, desk.now)
    day = gather(
        refit=refit,
        now=desk.now,
        planned=planned,
        handoffs=list(Handoff.objects.open().filter(refit=refit).with_names()),
        findings=_open_findings(refit),
        windows=_open_windows(refit),
        notes=notes_of(plan),
        called=_called_today(desk),
        papers=list(refit.papers.select_related("vendor")),
    )
    by_code = {row.package.code: row for row in planned}
    chain = [by_code[code] for code in plan.driving if code in by_code] if plan else []
    context: dict[str, Any] = {
        "refit": refit,
        "punch": list(
            PunchItem.objects.filter(refit=refit)
            .due_by(desk.today)
            .select_related("vendor", "person")
        ),
        "plan": plan,
        "launch": launch_of(desk, plan) if plan is not None else None,
        "chain": chain,
        "day": day,
        "loads": list(
            Load.objects.filter(trip__refit=refit, trip__day=desk.today)
            .exclude(trip__state=TripState.DONE)
            .select_related("trip", "handoff__piece")
            .order_by("trip__depart_at", "pk")
        ),
    }
    if plan is not None:
        context |= _how_sure(desk, plan, rows)
    if plan is not None and plan.launch_at is not None and chain:
        context["course"] = draw_course(
            refit=refit, now=desk.now, launch_at=plan.launch_at, chain=chain
        )
    if not rows:
        context["steps"] = _first_steps(refit)
    return render(request, "desk/today.html", context)


def _how_sure(desk: Desk, plan: Plan, rows: list[PlannedPackage]) -> dict[str, Any]:
    """The launch as a range, once that has been worked out and until it is over. No query."""
    risk: PlanRisk | None = getattr(plan, "risk", None)  # read with the plan; not there: None
    if risk is None or plan.launch_at is None or plan.launch_at <= desk.now:
        return {}
    refit, today = desk.refit, desk.today
    named = {row.package.code: (row.package.title, row.work_finish) for row in rows}
    sure = say_sure(risk, refit=refit, today=today, named=named)
    planned = refit.local(plan.launch_at).date()
    band = draw_band(sure, planned=planned, wanted=refit.wanted_launch)
    return {"sure": sure, "band": band}


def _planned(plan: Plan) -> list[PlannedPackage]:
    return list(
        PlannedPackage.objects.filter(plan=plan)
        .select_related(
            "package__vendor", "package__place", "package__booking", "package__booking_request"
        )
        .prefetch_related("package__people", "package__place__hours")
    )


def _open_findings(refit: Refit) -> list[Finding]:
    return list(
        Finding.objects.filter(refit=refit)
        .filter(Q(decision=Decision.WAITING) | Q(decision=Decision.ASK_OWNER))
        .order_by("decide_by", "code")
    )


def _open_windows(refit: Refit) -> list[Dependency]:
    """Longest waits that are running: the first package is over, the next has not begun.

    Only those on the clock; one in working time would need the calendars of the plan.
    """
    counting = Q(relation__in=FROM_FINISH, before__finished_at__isnull=False) | Q(
        ~Q(relation__in=FROM_FINISH), before__started_at__isnull=False
    )
    return list(
        Dependency.objects.filter(counting, refit=refit, lag_in=LagIn.ELAPSED)
        .filter(max_lag_minutes__isnull=False, after__started_at=None)
        .select_related("before", "after")
    )


def _called_today(desk: Desk) -> set[int]:
    """Vendors rung up since midnight, by the journal."""
    midnight = datetime.combine(desk.today, time(), desk.refit.zone)
    entries = JournalEntry.objects.filter(
        refit=desk.refit, verb=CALLED, subject_kind="vendor", at__gte=midnight
    )
    return {pk for pk in entries.values_list("subject_id", flat=True) if pk is not None}


def _first_steps(refit: Refit) -> dict[str, bool]:
    """How far a new refit has come, for the three steps that an empty page teaches."""
    return {
        "places": refit.places.count() > 1 or refit.vendors.exists(),
        "packages": refit.packages.exists(),
        "waits": refit.dependencies.exists(),
    }


@require_POST
@manager_page(Role.CREW)
def called(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Note that a vendor was rung up: hidden until tomorrow, the plan is not touched."""
    pk = request.POST.get("vendor", "")
    vendor = get_object_or_404(Vendor, refit=refit, pk=pk if pk.isdecimal() else 0)
    if vendor.pk not in _called_today(request.desk):
        with transaction.atomic():
            record(
                refit=refit,
                actor=actor_of(request),
                now=request.desk.now,
                verb=CALLED,
                subject=vendor,
                note=request.POST.get("note", "").strip()[:1000],
                replan=False,
            )
    messages.success(request, f"Noted: {vendor.name} was called.")
    return redirect("desk:today", refit.slug)
