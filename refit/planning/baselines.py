"""Baselines: keeping the current plan under a name, and how far the plan has drifted since."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from refit.work.models import Actor, Refit, WorkPackage, record
from refit.work.wording import say_count

from .baselines_yardstick import Distance, Yardstick
from .ledger import A_WINDOW
from .models import Baseline, BaselinePackage, LedgerEntry, Plan, PlannedPackage

LONGEST_NAME = 80


class CannotKeep(Exception):
    """The plan cannot be kept; the message is a sentence. ``field``: where in a form it belongs."""

    def __init__(self, sentence: str, field: str | None = None) -> None:
        self.field = field
        super().__init__(sentence)


@transaction.atomic
def keep_baseline(
    *,
    refit: Refit,
    name: str,
    actor: Actor,
    now: datetime,
    note: str = "",
    choose: bool = True,
) -> Baseline:
    """Keep the current plan as ``name``, and compare with it from now on if ``choose``.

    The first baseline is chosen in any case. Raises CannotKeep without a plan, without a name, or
    with a name that is taken.
    """
    name = name.strip()
    plan = Plan.objects.current(refit)
    if plan is None:
        raise CannotKeep("There is no plan yet that could be kept.")
    if not name:
        raise CannotKeep("Give it a name, such as “As agreed with the owner”.", "name")
    if len(name) > LONGEST_NAME:
        raise CannotKeep(f"A name of more than {LONGEST_NAME} characters is too long.", "name")
    if Baseline.objects.filter(refit=refit, name__iexact=name).exists():
        raise CannotKeep(f"“{name}” is kept already. Choose another name.", "name")
    first = not Baseline.objects.filter(refit=refit).exists()
    last = LedgerEntry.objects.last_of(refit)
    baseline = Baseline.objects.create(
        refit=refit,
        name=name,
        note=note.strip()[:240],
        computed_at=plan.computed_at,
        kept_at=now,
        kept_by=actor.name,
        launch_at=plan.launch_at,
        ledger_window=0 if last is None else last.position // A_WINDOW,
    )
    BaselinePackage.objects.bulk_create(
        BaselinePackage(
            baseline=baseline,
            package=row.package,
            code=row.package.code,
            title=row.package.title,
            start=row.start,
            work_finish=row.work_finish,
            finish=row.finish,
            budget=row.package.budget,
            agreed_price=row.package.agreed_price,
        )
        for row in PlannedPackage.objects.filter(plan=plan).select_related("package")
    )
    _record(baseline, actor, now, "kept the plan as")
    if first or choose:
        choose_baseline(baseline=baseline)
    return baseline


@transaction.atomic
def choose_baseline(
    *, baseline: Baseline, actor: Actor | None = None, now: datetime | None = None
) -> None:
    """Compare with this one from now on. Written to the journal if ``actor`` is given."""
    Baseline.objects.filter(refit=baseline.refit, is_chosen=True).exclude(pk=baseline.pk).update(
        is_chosen=False
    )
    Baseline.objects.filter(pk=baseline.pk).update(is_chosen=True)
    baseline.is_chosen = True
    if actor is not None and now is not None:
        _record(baseline, actor, now, "chose for comparison")


def _record(baseline: Baseline, actor: Actor, now: datetime, verb: str) -> None:
    record(
        refit=baseline.refit, actor=actor, now=now, verb=verb, subject=baseline, replan=False
    )  # fmt: skip


@dataclass(frozen=True)
class PackageDrift:
    """One package as it was kept and as it is planned now; either may be missing."""

    code: str
    title: str
    package: WorkPackage | None
    kept: BaselinePackage | None
    planned: PlannedPackage | None
    start: Distance | None
    finish: Distance | None

    @property
    def is_over(self) -> bool:
        return self.package is not None and self.package.finished_at is not None


@dataclass(frozen=True)
class Drift:
    """The current plan against a baseline. ``moved``: what is in both and moved, furthest first;
    ``same``: how many did not move."""

    launch: Distance | None
    moved: list[PackageDrift]
    same: int
    added: list[PackageDrift]
    gone: list[PackageDrift]
    kept: list[PackageDrift] = field(default_factory=list)
    """All that is in the baseline, moved or not, gone or not."""
    place: str = ""
    """Whose working days are counted; empty: every day is one."""

    @property
    def days_said(self) -> str:
        """The drift of the launch in days of the calendar: “5 days on the calendar”."""
        days = 0 if self.launch is None else abs(self.launch.calendar_days)
        return f"{say_count(days, 'day')} on the calendar"


def launch_drifts(baselines: list[Baseline], plan: Plan) -> dict[int, Distance]:
    """How far the launch is from where each of them has it, by id. Three queries at most."""
    launches = {row.pk: row.launch_at for row in baselines if row.launch_at is not None}
    if plan.launch_at is None or not launches:
        return {}
    moments = [plan.launch_at, *launches.values()]
    yardstick = Yardstick(plan.refit, min(moments), max(moments))
    return {pk: yardstick.between(launch, plan.launch_at) for pk, launch in launches.items()}


def drift_since(baseline: Baseline, plan: Plan) -> Drift:
    """How far ``plan`` has drifted from ``baseline``. Five queries at any size."""
    kept = list(baseline.packages.select_related("package").order_by("start", "id"))
    planned = {
        row.package_id: row
        for row in PlannedPackage.objects.filter(plan=plan).select_related("package")
    }
    moments = [m for row in kept for m in (row.start, row.finish)]
    moments += [m for row in planned.values() for m in (row.start, row.finish)]
    moments += [m for m in (baseline.launch_at, plan.launch_at) if m is not None]
    if not moments:
        return Drift(None, [], 0, [], [])
    yardstick = Yardstick(baseline.refit, min(moments), max(moments))
    both, gone = [], []
    for row in kept:
        now = planned.pop(row.package_id, None) if row.package_id is not None else None
        if now is None:
            gone.append(PackageDrift(row.code, row.title, row.package, row, None, None, None))
        else:
            both.append(
                PackageDrift(
                    now.package.code, now.package.title, now.package, row, now,
                    yardstick.between(row.start, now.start),
                    yardstick.between(row.finish, now.finish),
                )
            )  # fmt: skip
    added = [
        PackageDrift(row.package.code, row.package.title, row.package, None, row, None, None)
        for row in planned.values()
    ]
    moved = [row for row in both if _moves(row)]
    moved.sort(key=lambda row: (-abs(row.finish.elapsed if row.finish else 0), row.code))
    launch = None
    if baseline.launch_at is not None and plan.launch_at is not None:
        launch = yardstick.between(baseline.launch_at, plan.launch_at)
    place = "" if yardstick.place is None else yardstick.place.name
    return Drift(launch, moved, len(both) - len(moved), added, gone, [*both, *gone], place)


def _moves(row: PackageDrift) -> bool:
    return bool((row.start and row.start.elapsed) or (row.finish and row.finish.elapsed))
