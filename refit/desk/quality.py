"""Readings and their verdicts, the climate log, the punch list, the survey and the surfaces."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.models import Role
from refit.quality.dew_point import Go, judge_air
from refit.quality.judging import Verdict
from refit.quality.models import (
    ClimateEntry,
    Criterion,
    Inspection,
    PunchItem,
    PunchState,
    Reading,
    SurveyItem,
    VisualScale,
)
from refit.quality.services import inspect_criterion, reopen_failed, rework_package, verdict_of
from refit.work.models import Refit, Surface
from refit.work.quantities import Estimate, area_of_shape, of_boat
from refit.work.services import Refused, change_row, processes_of

from .acts import settle_and_say
from .amounts import amounts, amounts_form
from .forms_quality import ReworkForm
from .pages import DeskRequest, actor_of, manager_page
from .station_chart import Chart, draw


@dataclass(frozen=True)
class Judged:
    criterion: Criterion
    verdict: Verdict
    chart: Chart | None
    inspections: list[Inspection]
    form: ReworkForm | None

    @property
    def look(self) -> str:
        return {True: "ok", False: "late", None: "still"}[self.verdict.passed]

    @property
    def word(self) -> str:
        return {True: "passes", False: "fails", None: "not yet"}[self.verdict.passed]


def judged_rows(refit: Refit, refused: tuple[int, ReworkForm] | None = None) -> list[Judged]:
    """Every criterion with its verdict; three queries."""
    readings: dict[int | None, list[Reading]] = defaultdict(list)
    for reading in Reading.objects.filter(refit=refit):
        readings[reading.package_id].append(reading)
    looks: dict[int | None, list[Inspection]] = defaultdict(list)
    for one in Inspection.objects.filter(refit=refit).select_related("rework", "package"):
        looks[one.criterion_id].append(one)
    rows = []
    for criterion in Criterion.objects.filter(refit=refit).select_related("package", "scale"):
        verdict = verdict_of(criterion, readings[criterion.package_id])
        seen = looks[criterion.pk]
        form = None
        if seen and seen[0].outcome == "failed" and seen[0].rework_id is None:
            form = ReworkForm(refit=refit, auto_id=f"rework_{seen[0].pk}_%s")
            if refused and refused[0] == seen[0].pk:
                form = refused[1]
        chart = draw(verdict, criterion) if verdict.stations else None
        rows.append(Judged(criterion, verdict, chart, seen, form))
    order = {False: 0, None: 1, True: 2}
    return sorted(rows, key=lambda row: (order[row.verdict.passed], row.criterion.package.code))


def _show_readings(
    request: DeskRequest, refit: Refit, refused: tuple[int, ReworkForm] | None = None
) -> HttpResponse:
    context = {
        "refit": refit,
        "rows": judged_rows(refit, refused),
        "readings": list(
            Reading.objects.filter(refit=refit)
            .select_related("package", "piece")
            .order_by("-read_at", "station")[:60]
        ),
        "scales": list(VisualScale.objects.filter(refit=refit)),
        "free": list(
            Inspection.objects.filter(refit=refit, criterion=None).select_related("package")
        ),
    }
    return render(request, "desk/readings.html", context)


@require_safe
@manager_page()
def readings(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _show_readings(request, refit)


@require_POST
@manager_page()
def criterion_inspect(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Keep what the readings say now as an inspection."""
    rows = Criterion.objects.select_related("package__refit")
    criterion = get_object_or_404(rows, refit=refit, pk=pk)
    try:
        done = inspect_criterion(criterion=criterion, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, f"{criterion}: {refused}")
    else:
        say = messages.success if done.outcome == "passed" else messages.warning
        say(request, f"{criterion.package.code}: {done.sentence}")
    return redirect("desk:readings", refit.slug)


@require_POST
@manager_page()
def inspection_rework(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    rows = Inspection.objects.select_related("package__refit", "rework")
    inspection = get_object_or_404(rows, refit=refit, pk=pk)
    form = ReworkForm(request.POST, refit=refit, auto_id=f"rework_{pk}_%s")
    if not form.is_valid():
        return _show_readings(request, refit, (pk, form))
    reopens = request.POST.get("way") == "reopen"
    act = reopen_failed if reopens else rework_package
    try:
        made = act(
            inspection=inspection, minutes=form.cleaned_data["minutes"], actor=actor_of(request),
            now=request.desk.now,
        )  # fmt: skip
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("desk:readings", refit.slug)
    settle_and_say(request, refit, f"{made} is {'under way again' if reopens else 'added'}.")
    return redirect("desk:package", refit.slug, made.pk)


@dataclass(frozen=True)
class AirRow:
    entry: ClimateEntry
    go: Go
    of: str

    @property
    def look(self) -> str:
        return {True: "ok", False: "late", None: "still"}[self.go.go]

    @property
    def word(self) -> str:
        return {True: "go", False: "wait", None: "not known"}[self.go.go]


@require_safe
@manager_page()
def climate(request: DeskRequest, refit: Refit) -> HttpResponse:
    known = processes_of(refit)
    rows = []
    entries = ClimateEntry.objects.filter(refit=refit).select_related("place", "package")
    for entry in entries[:100]:
        package = entry.package
        process = known.get(package.process) if package else None
        step = process.step(package.step) if process and package else None
        if process and package and not package.step:
            # The whole process: its last step with limits is the one that has to look good.
            step = next((one for one in reversed(process.steps) if one.limits), None)
        limits = step.limits if step else ()
        go = judge_air(
            air=entry.air_c, humidity=entry.humidity, surface=entry.surface_c, limits=limits
        )
        rows.append(AirRow(entry, go, f"{process.name}, {step.title}" if process and step else ""))
    return render(request, "desk/climate.html", {"refit": refit, "rows": rows})


@require_safe
@manager_page()
def punch_list(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(
        PunchItem.objects.filter(refit=refit).select_related("package", "piece", "person", "vendor")
    )
    far = request.desk.today.replace(year=9999)
    rows.sort(key=lambda row: (row.state == PunchState.ACCEPTED, row.due or far, row.code))
    context = {
        "refit": refit,
        "open": [row for row in rows if row.state != PunchState.ACCEPTED],
        "accepted": [row for row in rows if row.state == PunchState.ACCEPTED],
        "cost": sum((row.cost or Decimal(0) for row in rows), Decimal(0)),
    }
    return render(request, "desk/punch_list.html", context)


@require_POST
@manager_page(Role.CREW)
def punch_done(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """The next state: open becomes done, done becomes accepted."""
    row = get_object_or_404(PunchItem, refit=refit, pk=pk)
    steps = {PunchState.OPEN: PunchState.DONE, PunchState.DONE: PunchState.ACCEPTED}
    state = steps.get(PunchState(row.state))
    if state is None:
        messages.warning(request, f"{row.code} is accepted already.")
    else:
        facts = {"state": state.value}
        if state == PunchState.DONE:
            facts["done_at"] = request.desk.now  # type: ignore[assignment]
        change_row(
            refit=refit, row=row, facts=facts, actor=actor_of(request), now=request.desk.now,
            verb=state.value,
        )  # fmt: skip
        messages.success(request, f"{row}: {state.label}.")
    return redirect("desk:punch-list", refit.slug)


@require_safe
@manager_page()
def survey(request: DeskRequest, refit: Refit) -> HttpResponse:
    systems: dict[str, list[SurveyItem]] = defaultdict(list)
    for row in SurveyItem.objects.filter(refit=refit).select_related("piece", "zone", "package"):
        systems[row.system].append(row)
    context = {
        "refit": refit,
        "systems": dict(sorted(systems.items())),
        "names": {key: one.name for key, one in processes_of(refit).items()},
    }
    return render(request, "desk/survey.html", context)


@dataclass(frozen=True)
class SurfaceRow:
    surface: Surface
    area: Decimal


@require_safe
@manager_page()
def surfaces(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Areas from the boat's dimensions and from the surfaces that were drawn."""
    boat = refit.boat
    rows = [
        SurfaceRow(one, area_of_shape(one.shape, one.first, one.second, one.third) * one.count)
        for one in Surface.objects.filter(refit=refit)
    ]
    estimates: list[Estimate] = of_boat(
        length=boat.length_m, waterline=boat.waterline_m, beam=boat.beam_m, draft=boat.draft_m,
        freeboard=boat.freeboard_m,
    )  # fmt: skip
    totals: dict[str, Decimal] = defaultdict(Decimal)
    for row in rows:
        totals[row.surface.process] += row.area
    form = amounts_form(request, refit, sum(totals.values(), Decimal(0)) or None)
    context = {
        "refit": refit,
        "form": form,
        "amounts": amounts(form, refit),
        "rows": rows,
        "estimates": estimates,
        "totals": sorted(totals.items()),
        "names": {key: one.name for key, one in processes_of(refit).items()},
    }
    return render(request, "desk/surfaces.html", context)
