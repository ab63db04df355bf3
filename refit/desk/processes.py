"""The library of processes: read one, apply it to the refit, keep one of one's own."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from refit.quality.models import SurveyItem
from refit.quality.services import apply_acceptance
from refit.work.measures import Measure
from refit.work.models import OwnProcess, PlaceKind, Refit, WorkPackage, Zone
from refit.work.numbers import UnreadableNumber
from refit.work.processes import Caution, Process, Step, cautions_named, deferral
from refit.work.processes.library import remedy_after
from refit.work.processes.process import Missed
from refit.work.processes.rates import OwnRate, own_rate, share_of_whole
from refit.work.services import Refused, apply_process, change_row, processes_of
from refit.work.wording import say_count
from refit.work.worked import past_work

from .acts import edit_row, remove_and_go, settle_and_say
from .amounts import amounts, amounts_form
from .forms_processes import ApplyForm, ProcessForm, read_quantity, unit_of
from .pages import DeskRequest, actor_of, manager_page


@dataclass(frozen=True)
class StepRow:
    """A step with its working time for the quantity asked for, and what was learnt about it."""

    step: Step
    minutes: tuple[int, int, int]
    own: OwnRate | None
    own_minutes: tuple[int, int, int] | None
    cautions: list[Caution]
    remedy: tuple[Missed, Process] | None


def process_of(refit: Refit, key: str) -> Process:
    found = processes_of(refit).get(key)
    if found is None:
        raise Http404
    return found


def step_rows(request: DeskRequest, process: Process, quantity: Decimal | None) -> list[StepRow]:
    past = past_work(Refit.objects.visible_to(request.user))
    rows = []
    for step in process.steps:
        shared = share_of_whole(process, step, past.get((process.key, ""), []))
        done = past.get((process.key, step.key), []) + shared
        if process.quantity:
            # A rework says nothing of how long so much takes: it names no quantity.
            done = [one for one in done if one[1] is not None]
        own = own_rate(step, done)
        rows.append(
            StepRow(
                step=step,
                minutes=step.time.of(quantity),
                own=own,
                own_minutes=own.minutes(quantity) if own else None,
                cautions=cautions_named(step.cautions),
                remedy=remedy_after(process, step.key),
            )
        )
    return rows


@require_safe
@manager_page()
def processes(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(processes_of(refit).values())
    context = {
        "refit": refit,
        "own": [row for row in rows if row.is_own],
        "rows": [row for row in rows if not row.is_own],
    }
    return render(request, "desk/processes.html", context)


@require_safe
@manager_page()
def process(request: DeskRequest, refit: Refit, key: str) -> HttpResponse:
    """Read one; ``?quantity=`` says how much of it there is."""
    known = processes_of(refit)
    found = known.get(key)
    if found is None:
        raise Http404
    typed, problem = request.GET.get("quantity", "").strip(), ""
    quantity = found.quantity.typical if found.quantity else None
    if typed and found.quantity:
        try:
            quantity = read_quantity(typed, found, refit.units)
        except UnreadableNumber as error:
            problem = str(error)
    unit = unit_of(found, refit.units)
    context = {
        "refit": refit,
        "process": found,
        "rows": step_rows(request, found, quantity),
        "names": {one.key: one.name for one in known.values()},
        "titles": {step.key: step.title for one in known.values() for step in one.steps}
        | {step.key: step.title for step in found.steps},
        "quantity": (unit.show(quantity) if unit else f"{quantity:f}") if quantity else "",
        "typed": typed,
        "unit": unit.sign if unit else "",
        "problem": problem,
        "deferral": deferral(),
    }
    return render(request, "desk/process.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def process_apply(request: DeskRequest, refit: Refit, key: str) -> HttpResponse:
    found = process_of(refit, key)
    typical = found.quantity.typical if found.quantity else None
    unit = unit_of(found, refit.units)
    shown = (unit.show(typical) if unit else f"{typical:f}") if typical else ""
    form = ApplyForm(
        request.POST or None,
        refit=refit,
        process=found,
        initial={
            "steps": [step.key for step in found.steps],
            "quantity": request.GET.get("quantity") or _of_survey(request, refit, unit) or shown,
            "place": refit.places.filter(kind=PlaceKind.HOME).first(),
            "zones": zones_named(refit, found),
            "prefix_code": found.name[:2].upper(),
        },
    )
    if request.method == "POST" and form.is_valid():
        chosen = form.application()
        for row in step_rows(request, found, chosen.quantity):
            if row.own_minutes is not None:
                chosen.minutes[row.step.key] = row.own_minutes
        actor, now = actor_of(request), request.desk.now
        try:
            with transaction.atomic():
                applied = apply_process(refit=refit, chosen=chosen, actor=actor, now=now)
                apply_acceptance(process=found, packages=applied.packages)
        except Refused as refused:
            form.add_error(None, str(refused))
        except ValidationError as error:
            form.add_error(None, error.messages)
        else:
            _join_survey(request, refit, applied.packages[0])
            said = say_count(len(applied.packages), "package")
            links = say_count(len(applied.dependencies), "wait", "waits")
            settle_and_say(
                request, refit, f"{found.name}: {said} and {links} added. The journal can undo it."
            )
            return redirect(f"{reverse('desk:packages', args=[refit.slug])}")
    context = {"refit": refit, "process": found, "form": form} | _needs(request, form)
    return render(request, "desk/process_apply.html", context)


def _needs(request: DeskRequest, form: ApplyForm) -> dict[str, object]:
    """Hours of each step and, for areas, what they need, by the quantity in the form."""
    refit, found = form.refit, form.process
    typed = form["quantity"].value() if found.quantity else None
    try:
        quantity = read_quantity(str(typed), found, refit.units) if typed else None
    except UnreadableNumber:
        return {}
    if found.quantity and quantity is None:
        return {}
    said: dict[str, object] = {"rows": step_rows(request, found, quantity)}
    if found.quantity and found.quantity.unit == "m2":
        worked = amounts_form(request, refit, quantity)
        said |= {"amounts": amounts(worked, refit), "area": quantity}
    return said


def zones_named(refit: Refit, process: Process) -> list[Zone]:
    """The refit's zones that the steps name, however they are written."""
    named = {zone.casefold() for step in process.steps for zone in step.zones}
    return [zone for zone in refit.zones.all() if zone.name.casefold() in named]


def _of_survey(request: DeskRequest, refit: Refit, unit: Measure | None) -> str:
    pk = request.GET.get("survey", "")
    row = SurveyItem.objects.filter(refit=refit, pk=pk).first() if pk.isdecimal() else None
    if row is None or row.quantity is None:
        return ""
    return unit.show(row.quantity) if unit else f"{row.quantity.normalize():f}"


def _join_survey(request: DeskRequest, refit: Refit, package: WorkPackage) -> None:
    """``?survey=``: the line of the survey that the packages came of."""
    pk = request.GET.get("survey", "")
    row = SurveyItem.objects.filter(refit=refit, pk=pk).first() if pk.isdecimal() else None
    if row is not None:
        change_row(
            refit=refit, row=row, facts={"package": package.pk, "proposal": "do"},
            actor=actor_of(request), now=request.desk.now,
        )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def process_copy(request: DeskRequest, refit: Refit, key: str) -> HttpResponse:
    """A process of one's own, beginning as a copy."""
    found = process_of(refit, key)
    form = ProcessForm(request.POST or None, refit=refit, copy_of=found)
    return edit_row(
        request, refit, form=form, template="desk/process_edit.html", context={"process": found},
        what=lambda: f"{form.instance} is kept.",
        to=lambda: reverse("desk:process", args=[refit.slug, form.instance.key]),
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def process_edit(request: DeskRequest, refit: Refit, key: str) -> HttpResponse:
    row = get_object_or_404(OwnProcess, refit=refit, key=key)
    form = ProcessForm(request.POST or None, refit=refit, instance=row)
    return edit_row(
        request, refit, form=form, template="desk/process_edit.html",
        context={"process": row.read_as_own(), "is_edit": True},
        what=lambda: "Saved.",
        to=lambda: reverse("desk:process", args=[refit.slug, form.instance.key]),
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def process_remove(request: DeskRequest, refit: Refit, key: str) -> HttpResponse:
    row = get_object_or_404(OwnProcess, refit=refit, key=key)
    return remove_and_go(
        request, refit, row=row, back=reverse("desk:process", args=[refit.slug, key]),
        done=reverse("desk:processes", args=[refit.slug]),
    )  # fmt: skip
