"""The list of packages: what is under way, what comes in which week, what is finished."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from refit.planning.models import PlannedPackage
from refit.work.models import Refit, WorkPackage
from refit.work.wording import say_day, say_list

from .pages import Desk, DeskRequest, manager_page
from .states import State, say_slip, state_of

STATES = (
    ("under way", "under way"),
    ("to come", "to come"),
    ("finished", "finished"),
    ("drives", "drives the launch"),
)


@dataclass(frozen=True)
class Row:
    package: WorkPackage
    planned: PlannedPackage | None
    state: State
    slip: str
    who: str


@dataclass
class Group:
    """One heading of the list with its rows; ``folded`` ones are closed until asked for."""

    title: str
    rows: list[Row]
    folded: bool = False


def say_who(package: WorkPackage) -> str:
    """Vendor, or the names of our people and how many more hands."""
    if package.vendor is not None:
        return package.vendor.name
    names = [person.name for person in package.people.all()]
    if package.helpers:
        more = "more hand" if names else "hand"
        names.append(f"{package.helpers} {more}{'s' if package.helpers > 1 else ''}")
    return say_list(names) or "our crew"


def planned_of(desk: Desk) -> dict[int, PlannedPackage]:
    """Dates of the plan shown, by package. One query."""
    if desk.plan is None:
        return {}
    rows = PlannedPackage.objects.filter(plan=desk.plan).select_related("package")
    return {row.package_id: row for row in rows}


@require_safe
@manager_page()
def packages(request: DeskRequest, refit: Refit) -> HttpResponse:
    places, vendors = list(refit.places.all()), list(refit.vendors.all())
    chosen = _chosen(request, {p.pk for p in places}, {v.pk for v in vendors})
    rows = _rows(request.desk, chosen)
    context = {
        "refit": refit,
        "groups": _groups(rows, request.desk),
        "count": len(rows),
        "is_filtered": any(chosen.values()),
        "chosen": chosen,
        "places": places,
        "vendors": vendors,
        "states": STATES,
    }
    return render(request, "desk/packages.html", context)


def _chosen(request: HttpRequest, places: set[int], vendors: set[int]) -> dict[str, Any]:
    """What the filter asks for; anything unknown is left out rather than refused."""

    def one_of(name: str, known: set[int]) -> int | None:
        text = request.GET.get(name, "")
        return int(text) if text.isdecimal() and int(text) in known else None

    who = request.GET.get("who", "")
    state = request.GET.get("state", "")
    return {
        "text": request.GET.get("text", "").strip()[:100],
        "who": "crew" if who == "crew" else one_of("who", vendors),
        "place": one_of("place", places),
        "state": state if state in dict(STATES) else "",
    }


def _rows(desk: Desk, chosen: dict[str, Any]) -> list[Row]:
    wanted = WorkPackage.objects.filter(refit=desk.refit)
    if text := chosen["text"]:
        wanted = wanted.filter(
            Q(code__icontains=text) | Q(title__icontains=text) | Q(scope__icontains=text)
        )
    if chosen["who"] == "crew":
        wanted = wanted.filter(vendor=None)
    elif chosen["who"]:
        wanted = wanted.filter(vendor=chosen["who"])
    if chosen["place"]:
        wanted = wanted.filter(place=chosen["place"])
    planned = planned_of(desk)
    rows = []
    for package in wanted.select_related("vendor", "place").prefetch_related("people"):
        dates = planned.get(package.pk)
        state = state_of(package, dates, desk.refit, desk.now)
        row = Row(package, dates, state, say_slip(dates), say_who(package))
        if chosen["state"] == "drives":
            if dates is None or not dates.drives:
                continue
        elif chosen["state"] and state.group != chosen["state"]:
            continue
        rows.append(row)
    rows.sort(key=lambda row: (row.planned is None, row.planned and row.planned.start))
    return rows


def _groups(rows: list[Row], desk: Desk) -> list[Group]:
    """Under way first, then week by week, then what has no date, then what is finished."""
    going = Group("Under way", [])
    undated = Group("Without a date", [])
    done = Group("Finished", [], folded=True)
    weeks: dict[date, Group] = {}
    this_monday = desk.today - timedelta(days=desk.today.weekday())
    for row in rows:
        if row.state.group == "finished":
            done.rows.append(row)
        elif row.state.group == "under way":
            going.rows.append(row)
        elif row.planned is None:
            undated.rows.append(row)
        else:
            day = desk.refit.local(row.planned.start).date()
            monday = day - timedelta(days=day.weekday())
            weeks.setdefault(monday, Group(_say_week(monday, this_monday, desk), [])).rows.append(
                row
            )
    done.rows.reverse()
    every = [going, *weeks.values(), undated, done]
    return [group for group in every if group.rows]


def _say_week(monday: date, this_monday: date, desk: Desk) -> str:
    if monday == this_monday:
        return "This week"
    if monday == this_monday + timedelta(days=7):
        return "Next week"
    return f"Week of {say_day(monday, desk.today)}"
